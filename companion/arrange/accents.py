"""Where in the bar a part is firmer: what every player does with the metre, so that nobody has to write it down.

Conventions: a factor to the part's level, 1 = the level. The figures are in ``configs/accents.toml``.
"""

from __future__ import annotations

from fractions import Fraction

from companion.arrange.part import Note
from companion.arrange.tables import table
from companion.chart.model import Form


def accent(form: Form, note: Note) -> float:
    """How much firmer a note is struck for its place in the bar; what the note itself says is left out."""
    shares = table("accents").get(note.part)
    return float(shares.get(_place(form, note.beat), 1.0)) if shares else 1.0


def _place(form: Form, beat: Fraction) -> str:
    bar = form.bar_at(beat)
    start = form.bars[bar - 1]
    end = form.bars[bar] if bar < len(form.bars) else form.length
    at, pulse = beat % form.length - start, form.metre.pulse
    if at % pulse:
        return "off-beat"
    if not at:
        return "first"
    return "backbeat" if (end - start) % (2 * pulse) == 0 and at % (2 * pulse) else "beat"
