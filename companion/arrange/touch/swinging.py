"""How much each part swings: a hand that plays lines is flatter than one that comps, and a ballad nearer to even.

Conventions: tempo in quarters a minute; a ratio is the length of the long quaver over that of the short one, 1 when
they are even. What each part takes over of the feel's swing is in ``configs/touch.toml``, with its sources.
"""

from __future__ import annotations

from companion.chart.model import Form
from companion.messages import Part
from companion.music.swing import between, feel
from companion.preferences import preferences
from companion.preferences.touch import TouchPreferences


def part_ratio(form: Form, part: Part, tempo: float | None = None) -> float:
    """Long quaver to short one as a part plays them.

    Parameters
    ----------
    form : Form
        Its feel, and its own tempo: below it the tune is being practised, which keeps the swing modest and makes no
        ballad of it.
    part : str
    tempo : float, optional
        The form's own unless given.
    """
    if form.metre.compound:
        return 1.0
    tempo = form.tempo if tempo is None else tempo
    swings = feel(form.feel)
    practised = tempo < swings.practice_below * form.tempo
    share = between(preferences(TouchPreferences).parts[part].swing, form.tempo if practised else tempo)
    ratio = 1.0 + (swings.ratio(tempo) - 1.0) * share
    if share > 1.0 and ratio > 1.0 and swings.shortest > 0:
        ratio = max(1.0, min(ratio, 60.0 / tempo / swings.shortest - 1.0))
    return min(ratio, swings.practice_ratio) if practised else ratio


def end_ratio(form: Form, part: Part, tempo: float | None = None) -> float:
    """The ratio by which a part's notes end: chords are let go as the melody moves on, if that is earlier."""
    own = part_ratio(form, part, tempo)
    return min(own, part_ratio(form, "melody", tempo)) if part == "chords" else own
