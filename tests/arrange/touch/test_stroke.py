"""How a person's hand strikes a part.

Values: good players are 5 to 15 ms apart from their own beat, chords are spread a little, the top note is brought out,
accents fall on peaks and syncopations, and a note's length goes by what follows (common practice); that the top note is
first: Goebl, J. Acoust. Soc. Am. 110(1), 2001; that soloists lie behind the band on the beat and with it between the
beats: Friberg & Sundström, Music Perception 19(3), 2002 (both from memory).
"""

from __future__ import annotations

import statistics
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from companion.arrange.part import Note
from companion.arrange.touch.drift import drift
from companion.arrange.touch.phrases import StruckChord, swell
from companion.arrange.touch.stroke import Stroke, _finger, _firmness, _held, _lateness, _length, _voiced, strokes
from companion.chart.model import Form
from companion.messages import Part
from companion.music.pitch import Pitch
from companion.preferences import preferences
from companion.preferences.touch import PartTouch, TouchLengths, TouchLoudness, TouchPreferences, TouchTiming
from companion.resources import DATA_VARIABLE


@pytest.fixture
def form(stand: Any) -> Form:
    found: Form = stand.chart(("| C6 " * 32 + "|", "| c8 " * 32 + "|")).unfold()
    return found


def note(beat: float, length: float, letter: str, octave: int, part: Part) -> Note:
    return Note(Fraction(beat), Fraction(length), Pitch(letter, 0, octave), part)


def every_beat(part: Part, count: int = 128) -> list[Note]:
    return [note(n, 1, "CDEFGAB"[n % 7], 4, part) for n in range(count)]


def chords(count: int = 64) -> list[Note]:
    return [note(2 * n, 1, letter, 4, "chords") for n in range(count) for letter in "EGB"]


def late_ms(found: list[Stroke]) -> list[float]:
    return [1000 * stroke.late for stroke in found]


def test_the_bass_stays_within_five_milliseconds_of_its_beat_and_is_no_machine(form: Form) -> None:
    late = [ms for seed in range(20) for ms in late_ms(strokes(form, every_beat("bass"), str(seed)))]
    assert max(map(abs, late)) <= 5.0 and statistics.pstdev(late) > 1.0


@pytest.mark.parametrize("part", ["chords", "melody", "solo"])
def test_a_hand_spreads_by_five_to_fifteen_milliseconds_and_remembers(form: Form, part: Part) -> None:
    rows = [late_ms(strokes(form, every_beat(part), str(seed))) for seed in range(20)]
    every = [ms for row in rows for ms in row]
    assert 5.0 <= statistics.pstdev(every) <= 15.0
    mean = statistics.fmean(every)
    after = statistics.fmean((a - mean) * (b - mean) for row in rows for a, b in pairwise(row))
    assert 0.3 <= after / statistics.pvariance(every) <= 0.9


def test_the_same_seed_is_the_same_hand_and_another_is_another(form: Form) -> None:
    played = chords()
    assert strokes(form, played, "3") == strokes(form, played, "3") != strokes(form, played, "4")


def test_each_note_has_its_own_stroke_in_whatever_order_they_are_given(form: Form) -> None:
    played = chords()
    there, back = strokes(form, played, "1"), strokes(form, played[::-1], "1")
    assert there == back[::-1]


def test_a_chord_is_struck_from_the_top_within_a_few_milliseconds_and_its_top_note_is_firmer(form: Form) -> None:
    played = chords()
    found = strokes(form, played, "1")
    for low, middle, top in zip(found[::3], found[1::3], found[2::3], strict=True):
        assert top.late <= middle.late <= low.late <= top.late + 0.010
        assert top.firmness > 1.08 * middle.firmness and middle.firmness == low.firmness
        assert top.held == middle.held == low.held


def test_a_soloist_lies_behind_on_the_beat_and_with_the_band_between_the_beats(form: Form) -> None:
    line = [note(n / 2, 0.5, "CDEFGAB"[n % 7], 5, "solo") for n in range(256)]
    late = [ms for seed in range(20) for ms in zip(*[iter(late_ms(strokes(form, line, str(seed))))] * 2, strict=True)]
    on, between = statistics.fmean(a for a, _ in late), statistics.fmean(b for _, b in late)
    assert 4.0 < on - between < 30.0


def test_the_peak_of_a_phrase_is_firmer_than_its_ends(form: Form) -> None:
    """Without the hand's chance, by the mean of many."""
    line = [note(n, 1, letter, 4, "melody") for n, letter in enumerate("CEGBGEC")]
    means = [statistics.fmean(row) for row in zip(*firmness(form, line), strict=True)]
    assert max(means) == means[3] > 1.1 * max(means[0], means[-1])


def test_a_note_tied_over_the_beat_is_firmer_than_one_that_leads_to_it(form: Form) -> None:
    tied = [note(0.5, 1, "E", 4, "solo"), note(1.5, 0.5, "E", 4, "solo")]
    led = [note(0.5, 0.5, "E", 4, "solo"), note(1, 1, "E", 4, "solo")]
    assert firmness(form, tied)[0][0] > 1.04 * firmness(form, led)[0][0]


def test_a_part_swells_over_eight_bars(form: Form) -> None:
    line = every_beat("bass", 64)
    means = [statistics.fmean(row) for row in zip(*firmness(form, line), strict=True)]
    bars = [statistics.fmean(means[4 * n : 4 * n + 4]) for n in range(16)]
    assert bars.index(max(bars[:8])) in (4, 5, 6) and bars.index(max(bars[8:])) in (12, 13, 14)
    assert min(bars[8], bars[0]) < 0.96 * max(bars)


def firmness(form: Form, line: list[Note]) -> list[list[float]]:
    return [[stroke.firmness for stroke in strokes(form, line, str(seed))] for seed in range(60)]


def test_lengths_go_by_what_follows(form: Form) -> None:
    def held(*line: Note) -> float:
        return statistics.fmean(strokes(form, line, str(seed))[0].held for seed in range(20))

    step = held(note(0, 1, "C", 5, "solo"), note(1, 1, "D", 5, "solo"))
    leap = held(note(0, 1, "C", 5, "solo"), note(1, 1, "A", 5, "solo"))
    again = held(note(0, 1, "C", 5, "solo"), note(1, 1, "C", 5, "solo"))
    last = held(note(0, 1, "C", 5, "solo"), note(4, 1, "D", 5, "solo"))
    stopped = held(note(0.5, 0.5, "C", 5, "solo"), note(4, 1, "D", 5, "solo"))
    assert step > leap > again > stopped and step > last > stopped
    assert step <= 1.0


def test_a_player_can_have_the_hand_of_a_machine(form: Form, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "configs").mkdir()
    text = "[chords.timing]\nspread-ms = 0\nbehind-ms = 0\nfingers-ms = 0\n[chords.lengths]\nspread = 0\nagain = 1\n"
    (tmp_path / "configs" / "touch.toml").write_text(text, encoding="utf-8")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    assert {(stroke.late, stroke.held) for stroke in strokes(form, chords(), "1")} == {(0.0, 0.95)}


def test_nothing_is_struck_by_no_hand(form: Form) -> None:
    assert strokes(form, [], "1") == []


# By hand


def struck(beat: float, end: float, *midi: int) -> StruckChord:
    return StruckChord(beat, end, midi)


@pytest.mark.parametrize(
    ("chord", "after", "factor"),
    [
        (struck(0, 1, 60), struck(1, 2, 62), 1.1),  # a step
        (struck(0, 1, 60), struck(1, 2, 59), 1.1),
        (struck(0, 1, 60), struck(1, 2, 63), 1.0),
        (struck(0, 1, 60), struck(1, 2, 67), 1.0),  # a fifth
        (struck(0, 1, 60), struck(1, 2, 52), 0.8),  # more
        (struck(0, 1, 60), struck(1, 2, 60), 0.7),  # the same
        (struck(0, 1, 60, 55), struck(1, 2, 60, 56), 1.0),  # the same top over another chord
        (struck(0, 1, 60, 55), struck(1, 2, 60, 55), 0.7),
        (struck(0.5, 1, 60), struck(1.5, 2, 62), 0.6),  # off the beat, a rest after it
        (struck(0.5, 1.25, 60), struck(1.5, 2, 62), 1.0),  # longer than half a beat
        (struck(0, 0.5, 60), struck(1, 2, 62), 1.0),  # on the beat
        (struck(0, 0.5, 60), struck(1.25, 2, 62), 0.9),  # the last of a phrase
        (struck(0, 0.5, 60), struck(1.2, 2, 62), 1.0),
        (struck(0, 1, 60), None, 0.9),
        (struck(0.5, 1, 60), None, 0.6),
    ],
)
def test_a_note_is_held_by_what_follows(
    form: Form, chord: StruckChord, after: StruckChord | None, factor: float
) -> None:
    how = TouchLengths(step=1.1, leap=0.8, again=0.7, short=0.6, last=0.9)
    assert _length(form, how, chord, after, 0.75) == factor


@pytest.mark.parametrize(
    ("notes", "late", "seconds"),
    [
        ((64,), 4.0, [0.004]),
        ((64, 60), 0.0, [-0.003, 0.003]),
        ((67, 64, 60), 2.0, [-0.001, 0.002, 0.005]),
        ((67, 64, 60), 9.0, [0.006, 0.009, 0.010]),  # never later than ten ...
        ((67, 64, 60), -9.0, [-0.010, -0.009, -0.006]),  # ... nor earlier
    ],
)
def test_fingers_reach_a_chord_from_the_top_down_about_its_moment(
    notes: tuple[int, ...], late: float, seconds: list[float]
) -> None:
    touch = PartTouch(64, 0.5, 0.9, timing=TouchTiming(most_ms=10.0, fingers_ms=6.0))
    found = [_finger(touch, struck(0, 1, *notes), late, rank) for rank in range(len(notes))]
    assert found == pytest.approx(seconds)


def test_the_top_note_of_a_chord_is_firmer_and_the_others_softer() -> None:
    touch = PartTouch(64, 0.5, 0.9, loudness=TouchLoudness(top=0.1, inner=0.05))
    assert [_voiced(touch, struck(0, 1, 67, 64, 60), rank) for rank in range(3)] == [1.1, 0.95, 0.95]
    assert [_voiced(touch, struck(0, 1, 67, 64), rank) for rank in range(2)] == [1.1, 0.95]
    assert _voiced(touch, struck(0, 1, 67), 0) == 1.0


def test_nothing_is_held_over_what_follows_but_where_the_part_is_told_to(form: Form) -> None:
    line = [struck(0, 1, 60), struck(1, 2, 62), struck(2, 3, 62), struck(3, 4, 72)]
    how = TouchLengths(step=1.2, again=0.5, leap=0.8)
    assert _held(form, line, PartTouch(64, 0.5, 0.9, lengths=how), Random(1)) == pytest.approx([1.0, 0.45, 0.72, 0.9])
    assert _held(form, line, PartTouch(64, 0.5, 1.1, lengths=how), Random(1)) == pytest.approx([1.1, 0.55, 0.88, 1.1])
    spread = _held(form, line, PartTouch(64, 0.5, 0.5, lengths=TouchLengths(spread=0.1)), Random(1))
    dice = Random(1)
    assert spread == pytest.approx([0.5 * (1 + 0.1 * dice.uniform(-1, 1)) for _ in line])


def test_on_the_beat_a_hand_is_as_much_behind_as_its_part_is_told(form: Form) -> None:
    """What is on the beat and what is between differ by that, the chance apart that is the same for both."""
    touch = preferences(TouchPreferences).parts["chords"]
    row = [struck(beat, beat + 0.25, 60) for beat in (0, 0.5, 1, 1.25)]
    behind = replace(touch, timing=replace(touch.timing, behind_ms=5.0))
    ahead = replace(touch, timing=replace(touch.timing, behind_ms=0.0))
    late, even = (_lateness(form, row, one, Random(3)) for one in (behind, ahead))
    assert [a - b for a, b in zip(late, even, strict=True)] == pytest.approx([5.0, 0.0, 5.0, 0.0])
    wide = replace(touch, timing=replace(touch.timing, behind_ms=0.0, spread_ms=2 * touch.timing.spread_ms))
    assert _lateness(form, row, wide, Random(3)) == pytest.approx([2 * ms for ms in even])


def test_a_note_is_firmer_by_its_swell_its_height_in_the_phrase_and_its_syncopation(form: Form) -> None:
    """Each by itself, against a hand that knows none of them; an accent multiplies them all."""
    line = [note(0, 1, "C", 4, "melody"), note(1, 1, "G", 4, "melody"), note(2.5, 1.5, "D", 4, "melody")]
    row = [struck(float(n.beat), float(n.beat + n.length), n.midi) for n in line]

    def firm(**more: float) -> list[float]:
        touch = PartTouch(64, 0.5, 0.9, timing=TouchTiming(memory=(1.0,)), loudness=TouchLoudness(**more))
        return _firmness(form, line, row, touch, Random(5))

    accents = firm()
    assert [a / b for a, b in zip(firm(peak=0.2), accents, strict=True)] == pytest.approx([0.8, 1.2, 0.8])
    assert [a / b for a, b in zip(firm(syncopation=0.3), accents, strict=True)] == pytest.approx([1.0, 1.0, 1.3])
    phrasing = preferences(TouchPreferences).phrases
    heights = [swell(form, one.beat, phrasing) for one in row]
    assert [a / b for a, b in zip(firm(swell=0.1), accents, strict=True)] == pytest.approx(
        [1 + 0.1 * height for height in heights]
    )
    drifts = drift([one.beat for one in row], (1.0,), Random(5))
    assert [a / b for a, b in zip(firm(spread=0.1), accents, strict=True)] == pytest.approx(
        [1 + 0.1 * max(-2.0, min(2.0, one)) for one in drifts]
    )
    assert firm(peak=1.0)[0] == firm(peak=2.0)[2] == 0.0, "never less than nothing"
    wild = [1 + max(-2.0, min(2.0, one)) for one in drifts]
    assert [a / b for a, b in zip(firm(spread=1.0), accents, strict=True)] == pytest.approx([max(0, x) for x in wild])
