"""What a teacher would count in an arrangement: bass, chords, harmony, touch and solo, each figure with its target.

Use it so::

    for figure in audit(form, treatment="walking", seeds=10):
        print(figure.name, figure.value, "reached" if figure.reached else figure.places)

Conventions: beats in quarters from the first downbeat of the form; MIDI numbers; shares as fractions of 1. The figures
are worked out from the notes alone, not from how they were found.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from companion.arrange.audit import bass as audit_bass
from companion.arrange.audit import chords as audit_chords
from companion.arrange.audit import hands as audit_hands
from companion.arrange.audit import harmony as audit_harmony
from companion.arrange.audit import solo as audit_solo
from companion.arrange.audit import top_voice as audit_top_voice
from companion.arrange.audit import touch as audit_touch
from companion.arrange.audit import turns as audit_turns
from companion.arrange.audit import walk as audit_walk
from companion.arrange.audit.endings import ending_figures
from companion.arrange.audit.figures import AuditFigure, enough
from companion.arrange.audit.late import late_figures
from companion.arrange.audit.rhythm import rhythm_figures
from companion.arrange.audit.slides import slide_figures
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.solo.story import SoloChorus
from companion.arrange.touch.performed import Performed, performed
from companion.arrange.treatments import TreatmentPlan
from companion.arrange.written import is_whole
from companion.chart.model import Form

__all__ = ["AuditFigure", "audit", "figures"]

TOUCHED = ("bass", "chords", "melody", "solo")
PERFORMED = 3
"""Performances in which the touch is counted: it is the same hand for every seed."""


def audit(
    form: Form,
    *,
    treatment: str | None = None,
    seeds: int = 10,
    choruses: int = 3,
    watch: Callable[[float], None] = lambda done: None,
) -> list[AuditFigure]:
    """Arrange a form several times and count.

    Parameters
    ----------
    form : Form
    treatment : str, optional
        One for the whole form; otherwise each section's own.
    seeds, choruses : int
        So many seeds, and choruses for each. Of an arrangement that is written from end to end there is one.
    watch : callable, optional
        Called with the share that is done, from 0 to 1.
    """
    if treatment is not None:
        form = form.free
    if all(is_whole(form, form.written_part(part)) for part in ("bass", "chords")):
        seeds = choruses = 1
    rows: dict[str, list[Sequence[Note]]] = {"bass": [], "chords": [], "melody": []}
    for seed in range(seeds):
        for chorus in range(1, choruses + 1):
            watch((seed * choruses + chorus - 1) / (seeds * choruses))
            for part, found in rows.items():
                found.append(arrange(form, part, Request(treatment=treatment, chorus=chorus, seed=seed)))
    return [
        *figures(form, plan(form, treatment), rows["bass"], rows["chords"], choruses, rows["melody"]),
        *_about("touch", audit_touch.touch_figures(form, _performances(form, treatment, seeds))),
        *_about("solo", audit_solo.solo_figures(form, _solos(form, seeds, choruses))),
        *_about("introductions and endings", audit_turns.all_turn_figures(form)),
    ]


def _performances(form: Form, treatment: str | None, seeds: int) -> list[list[Performed]]:
    """The first few seeds once through, by hand, with a solo over the form as well."""
    return [
        performed(form, [n for part in TOUCHED for n in arrange(form, part, Request(treatment, seed=seed))], seed)
        for seed in range(min(seeds, PERFORMED))
    ]


def _solos(form: Form, seeds: int, choruses: int) -> list[list[tuple[Note, ...]]]:
    """A solo of so many choruses for each seed."""
    return [
        [
            arrange(form, "solo", Request(chorus=time, seed=seed, solo=SoloChorus(time, choruses)))
            for time in range(1, choruses + 1)
        ]
        for seed in range(seeds)
    ]


def figures(
    form: Form,
    plan: TreatmentPlan,
    basses: Sequence[Sequence[Note]],
    chords: Sequence[Sequence[Note]],
    running: int | None = None,
    melodies: Sequence[Sequence[Note]] = (),
) -> list[AuditFigure]:
    """Figures of choruses that are there already: bass lines and chords that sound together, chorus by chorus.

    Within one performance no chorus may repeat another.

    Parameters
    ----------
    form : Form
    plan : sequence of (start, end, Treatment)
        Which treatment rules from where to where, in quarters.
    basses, chords : sequence of sequence of Note
        One of each for each chorus.
    running : int, optional
        Choruses in one performance; all unless given.
    melodies : sequence of sequence of Note, optional
        The melody of each chorus, for what the hands hold.
    """
    endings = ending_figures(form, plan)
    walks = any(treatment.bass == "walking" for _, _, treatment in plan)
    return [
        *_about("walking bass", audit_bass.walking_figures(form, plan, basses, running) if walks else ()),
        *_about("walking bass", audit_walk.walk_figures(form, plan, basses) if walks else ()),
        *_about("bass", audit_walk.pattern_figures(form, plan, basses)),
        *_about("bass", audit_bass.membership_figures(form, plan, basses)),
        *_about("chords", audit_chords.voicing_figures(form, plan, chords, basses)),
        *_about("chords", audit_chords.placement_figures(form, plan, chords)),
        *_about("chords", audit_top_voice.top_voice_figures(form, plan, chords)),
        *_about("hands", audit_hands.hand_figures(form, basses, chords, melodies) if melodies else ()),
        *_about("harmony", audit_harmony.harmony_figures(form, plan, chords, basses)),
        *_about("rhythm of the chords", enough(rhythm_figures(form, plan, chords))),
        *_about("late voices", enough(late_figures(form, plan, chords))),
        *_about("sliding fourths", slide_figures(form, plan, chords)),
        *_about("endings", endings[:2]),
        *_about("endings", enough(endings[2:])),
    ]


def _about(part: str, found: Iterable[AuditFigure]) -> list[AuditFigure]:
    return [replace(figure, part=part) for figure in found]
