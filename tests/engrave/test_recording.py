"""The arrangement as it sounds."""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace

import mido
import pytest

from companion.arrange.plan import arrange
from companion.chart.model import Chart, Event
from companion.engrave.programme import arrangement, slowing, sounding
from companion.engrave.recording import CONTROL, NOTE_OFF, NOTE_ON, midi_file, orders, sounded
from companion.stage.order import OrderOfEvents
from companion.stage.settings import Settings

HAND = 0.0151
"""Seconds that a good player's notes lie from their places at the most (common practice)."""


def test_beats_stand_at_the_tempo_and_quavers_swing(ferry: Chart) -> None:
    form = ferry.unfold()
    melody = arrange(form, "melody")
    struck = [order for order in orders(form, melody) if order.status == NOTE_ON]
    beat = 60 / ferry.tempo
    assert len(struck) == len(melody)
    # The pickup DF stands on the fourth beat of a bar: D on it, F late by the swing, then the first downbeat.
    assert struck[0].seconds == pytest.approx(3 * beat, abs=HAND)
    assert 3.5 * beat < struck[1].seconds < 3.75 * beat
    assert struck[2].seconds == pytest.approx(4 * beat, abs=HAND)


def test_every_note_ends(shipped: Chart) -> None:
    form = shipped.unfold()
    sounding: dict[tuple[str, int], int] = {}
    for order in orders(form, [note for part in ("melody", "chords", "bass") for note in arrange(form, part)]):
        if order.status == CONTROL:
            continue
        key = order.part, order.data1
        sounding[key] = sounding.get(key, 0) + (1 if order.status == NOTE_ON else -1)
        assert order.status in (NOTE_ON, NOTE_OFF) and sounding[key] >= 0
    assert not any(sounding.values())


def test_the_midi_file_reads_back_equal_in_bars_tempo_key_and_notes(ferry: Chart) -> None:
    form = ferry.unfold()
    notes = [note for part in ("melody", "chords", "bass") for note in arrange(form, part)]
    midi = mido.MidiFile(file=io.BytesIO(midi_file(form, notes, ferry.title)))
    first = {message.type: message for message in midi.tracks[0]}
    assert (first["set_tempo"].tempo, first["key_signature"].key) == (round(60e6 / 132), "Gm")
    assert (first["time_signature"].numerator, first["time_signature"].denominator) == (4, 4)
    assert [m.text for m in midi.tracks[0] if m.type == "marker"] == list(form_names(ferry))
    struck: Counter[tuple[str, int, int]] = Counter()
    for track in midi.tracks[1:]:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on":
                struck[track.name, tick, message.note] += 1
    assert struck == Counter(
        (m.part, round(m.beat * midi.ticks_per_beat), m.data1) for m in sounded(form, notes) if m.status == NOTE_ON
    )


def form_names(chart: Chart) -> list[str]:
    return [place.name for place in chart.unfold().sections]


def test_the_pedal_comes_up_before_it_goes_down_again(ferry: Chart) -> None:
    pedal = [order for order in orders(ferry.unfold(), arrange(ferry.unfold(), "bass")) if order.status == CONTROL]
    assert pedal
    assert [order.data2 for order in pedal] == [127, 0] * (len(pedal) // 2)


@pytest.mark.parametrize(("how", "bars"), [("tag", 2), ("ritardando", 4), ("held", 0)])
def test_a_file_slows_down_where_the_page_says_so_and_as_it_is_played_live(ferry: Chart, how: str, bars: int) -> None:
    """The tempo of the model, beat by beat; the sound file has the MIDI file's seconds."""
    chart = replace(ferry, events=(Event("head"), Event("ending", how=how)))
    form, notes = sounding(chart)
    slows = slowing(chart)
    page = arrangement(chart)
    said = [bar.number for bar in page.bars if bar.manner.startswith("rit.")]
    played = OrderOfEvents(chart.unfold(), Settings(order="chart"), chart).ritardando
    assert played is not None
    midi = mido.MidiFile(file=io.BytesIO(midi_file(form, notes, chart.title, slows=slows)))
    tick, tempi = 0, []
    for message in midi.tracks[0]:
        tick += message.time
        if message.type == "set_tempo":
            tempi.append((tick / midi.ticks_per_beat, 60e6 / message.tempo / ferry.tempo))
    if not bars:
        assert not said and slows is None and len(tempi) == 1
        return
    origin = 4  # the pickup's bar
    assert tempi[1][0] - origin == 4 * (said[0] - 1) == played.low, "from the bar that the page has it in"
    assert len(tempi) == 4 * bars + 2
    for beat, share in tempi[1:-1]:
        assert share == pytest.approx(played.tempo(beat - origin + 0.5), abs=1e-3)
    assert tempi[-1][1] == pytest.approx(played.to, abs=1e-3)
    seconds = [order.seconds for order in orders(form, notes, slows=slows)]
    assert max(seconds) == pytest.approx(midi.length, abs=0.01)
