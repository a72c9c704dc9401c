"""The arrangement as it sounds."""

from __future__ import annotations

import pytest

from companion.arrange.plan import arrange
from companion.chart.model import Chart
from companion.engrave.recording import NOTE_OFF, NOTE_ON, orders


def test_beats_stand_at_the_tempo_and_quavers_swing(ferry: Chart) -> None:
    form = ferry.unfold()
    melody = arrange(form, "melody")
    struck = [order for order in orders(form, melody) if order.status == NOTE_ON]
    beat = 60 / ferry.tempo
    assert len(struck) == len(melody)
    # The pickup DF stands on the fourth beat of a bar: D on it, F late by the swing, then the first downbeat.
    assert struck[0].seconds == pytest.approx(3 * beat)
    assert 3.5 * beat < struck[1].seconds < 3.75 * beat
    assert struck[2].seconds == pytest.approx(4 * beat)


def test_every_note_ends(shipped: Chart) -> None:
    form = shipped.unfold()
    sounding: dict[tuple[str, int], int] = {}
    for order in orders(form, [note for part in ("melody", "chords", "bass") for note in arrange(form, part)]):
        key = order.part, order.data1
        sounding[key] = sounding.get(key, 0) + (1 if order.status == NOTE_ON else -1)
        assert order.status in (NOTE_ON, NOTE_OFF) and sounding[key] >= 0
    assert not any(sounding.values())
