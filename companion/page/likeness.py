"""Whether chords can be like the player's own, as a page offers it.

What was learnt is that of ``--like-you`` (:mod:`companion.practice.comping_learnt`).
"""

from __future__ import annotations

from typing import Any

from companion.page.takes import Nothing
from companion.practice.comping_learnt import is_wished, style_of_player
from companion.practice.comping_words import in_short, style_lines

UNLEARNT = "play the chords yourself in a few takes, and it learns how you choose them"


def likeness(asked: Nothing) -> dict[str, Any]:
    """What holds where nothing is said, and what is known of the player's chords, or why nothing is; ready for JSON."""
    style = style_of_player()
    known = in_short(style) if style.shapes or style.rhythms else ""
    why = "" if known else style_lines(style)[0] if style.takes else UNLEARNT
    return {"always": is_wished(None), "known": known, "why": why}
