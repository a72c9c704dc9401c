"""Metric accents: by how much a note is firmer for its place in the bar.

Every player does so, so accents are not written in a chart; they are applied when a part is played.

Conventions: a factor to the part's level, 1 = the level. The figures are in ``configs/accents.toml``.
"""

from __future__ import annotations

from companion.arrange.part import Note
from companion.chart.model import Form
from companion.preferences.accents import AccentPreferences


def accent(accents: AccentPreferences, form: Form, note: Note) -> float:
    """How much firmer a note is struck for its place in the bar; what the note itself says is left out."""
    shares = accents.parts.get(note.part)
    if shares is None:
        return 1.0
    beat = note.beat
    bar = form.bar_at(beat)
    start = form.bars[bar - 1]
    end = form.bars[bar] if bar < len(form.bars) else form.length
    at, pulse = beat % form.length - start, form.metre.pulse
    if at % pulse:
        return shares.off_beat
    if not at:
        return shares.first
    return shares.backbeat if (end - start) % (2 * pulse) == 0 and at % (2 * pulse) else shares.beat
