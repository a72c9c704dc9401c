"""What is asked of the arranger, beside the form and the part: what travels together from the commands to the notes."""

from __future__ import annotations

from dataclasses import dataclass

from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.solo.story import ALONE, SoloChorus


@dataclass(frozen=True)
class Request:
    """How a part is to be arranged; the same request of the same form gives the same notes.

    Attributes
    ----------
    treatment : str, optional
        One treatment for the whole form, played freely; otherwise each section's own, or what suits the form.
    chorus : int
        1 the first time through: every chorus is new.
    seed : int
        Another seed, other notes.
    player : frozenset of str
        Parts that the player plays: chords leave room for what sounds above and below them.
    free : bool
        Play freely even where the arrangement is written, as behind a soloist.
    first : int, optional
        The MIDI number to which the bass led before.
    solo : SoloChorus
        Which of how many choruses of a solo it is.
    style : CompingStyle, optional
        How the player comps, where free chords are to be like theirs.
    """

    treatment: str | None = None
    chorus: int = 1
    seed: int = 0
    player: frozenset[str] = frozenset()
    free: bool = False
    first: int | None = None
    solo: SoloChorus = ALONE
    style: CompingStyle | None = None


USUAL = Request()
"""What the chart says, the first time through."""
