"""The arrangement as it sounds."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace
from fractions import Fraction

import mido
import pytest

from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.chart.model import Chart, Event
from companion.chart.toml.read import parse_toml
from companion.engrave.programme import arrangement, slowing, sounding
from companion.engrave.recording import CONTROL, NOTE_OFF, NOTE_ON, midi_file, orders, sounded
from companion.music.pitch import Pitch
from companion.stage.order import OrderOfEvents
from companion.stage.ritardando import Ritardando
from companion.stage.settings import Settings
from tests.wrapping import lines

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


def test_every_note_ends(varied: Chart) -> None:
    form = varied.unfold()
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


# the whole of a small file

TUNE = """
format = 1
title = "Three Bars"
key = "G minor"
metre = "3/4"
tempo = 90
feel = "straight"
form = "A B"
[section.A]
bar_metres = { 2 = "2/4" }
chords = "| Gm | Cm |"
melody = "D2 | G6 | c4 |"
[section.B]
chords = "| Gm |"
"""
FILE = """
0 track_name name='Three Bars'
0 set_tempo tempo=666667
0 key_signature key='Gm'
0 time_signature numerator=3, denominator=4
2880 marker text='A'
5760 time_signature numerator=2, denominator=4
7680 time_signature numerator=3, denominator=4
7680 marker text='B'
7680 end_of_track'
0 track_name name='melody'
0 program_change channel=3 program=0
1920 note_on channel=3 note=62 velocity=74
2784 note_off channel=3 note=62 velocity=0
2880 note_on channel=3 note=67 velocity=74
5472 note_off channel=3 note=67 velocity=0
5760 note_on channel=3 note=72 velocity=74
7488 note_off channel=3 note=72 velocity=0
7488 end_of_track'
0 track_name name='chords'
0 program_change channel=2 program=0
7680 note_on channel=2 note=58 velocity=54
7680 note_on channel=2 note=62 velocity=54
8544 note_off channel=2 note=58 velocity=0
8544 note_off channel=2 note=62 velocity=0
8544 end_of_track'
0 track_name name='bass'
0 program_change channel=1 program=32
2880 control_change channel=1 control=64 value=127
2880 note_on channel=1 note=43 velocity=68
5472 note_off channel=1 note=43 velocity=0
5760 control_change channel=1 control=64 value=0
5760 control_change channel=1 control=64 value=127
5760 note_on channel=1 note=48 velocity=68
7488 note_off channel=1 note=48 velocity=0
7680 control_change channel=1 control=64 value=0
7680 end_of_track'
"""
"""Tick and message, 960 to a quarter, from the bar line before the pickup."""


def test_a_small_file_holds_this_and_no_more() -> None:
    """Standard MIDI Files 1.0: tempo in microseconds a quarter; MIDI 1.0: note-offs before note-ons, pedal up before it
    goes down; General MIDI level 1: programs counted from 0 in the file, 32 is the acoustic bass."""
    form = parse_toml(TUNE).unfold()
    notes = [Note(n.beat, n.length, n.pitch, "melody") for n in form.melody]
    notes += [Note(Fraction(b), Fraction(n), Pitch(step, 0, o), "bass", "left", pedal=True)
              for b, n, step, o in ((0, 3, "G", 2), (3, 2, "C", 3))]  # fmt: skip
    notes += [Note(Fraction(5), Fraction(1), pitch, "chords") for pitch in (Pitch("B", -1, 3), Pitch("D", 0, 4))]
    midi = mido.MidiFile(file=io.BytesIO(midi_file(form, notes, "Three Bars", plain=True)))
    found = []
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            text = re.sub(r",? time=\d+\)?$|, clocks.*", "", str(message)).removesuffix(")")
            found.append(f"{tick} {text.replace('MetaMessage(', '')}".replace("',", "").replace(" '", " "))
    assert found == lines(FILE)


def test_a_file_that_slows_down_adds_up_its_beats_at_their_tempi() -> None:
    """The pedal stands exactly at the notes: at 60 a second each, at three quarters of that 4/3 of one, and so on."""
    form = replace(parse_toml(TUNE).unfold(), tempo=60.0)
    notes = [Note(Fraction(beat), Fraction(1), Pitch("G", 0, 2), "bass", "left", pedal=True) for beat in range(6)]
    slows = Ritardando(2.0, 4.0, 0.5)
    (_, first), (_, second), (end, last) = slows.steps(1.0)
    assert (end, last) == (4.0, 0.5)
    down = [o.seconds for o in orders(form, notes, slows=slows) if o.status == CONTROL and o.data2 == 127]
    third, fourth = 2 + 1 / first, 2 + 1 / first + 1 / second
    assert down == pytest.approx([0, 1, 2, third, fourth, fourth + 2])
    plain = [o.seconds for o in orders(form, notes) if o.status == CONTROL and o.data2 == 127]
    assert plain == pytest.approx([0, 1, 2, 3, 4, 5])
    early = Note(Fraction(-1), Fraction(1), Pitch("G", 0, 2), "bass", "left", pedal=True)
    down = [o.seconds for o in orders(form, [early, *notes], slows=slows) if o.status == CONTROL and o.data2 == 127]
    assert down == pytest.approx([2, 3, 4, 5, 3 + third, 3 + fourth, 5 + fourth]), "after a bar with a pickup in it"
