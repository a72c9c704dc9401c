"""How a person's hand strikes a part.

Values: good players are 5 to 15 ms apart from their own beat, chords are spread a little, the top note is brought out,
accents fall on peaks and syncopations, and a note's length goes by what follows (common practice); that the top note is
first: Goebl, J. Acoust. Soc. Am. 110(1), 2001; that soloists lie behind the band on the beat and with it between the
beats: Friberg & Sundström, Music Perception 19(3), 2002 (both from memory).
"""

from __future__ import annotations

import statistics
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from companion.arrange.part import Note
from companion.arrange.touch.stroke import Stroke, strokes
from companion.chart.model import Form
from companion.messages import Part
from companion.music.pitch import Pitch
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
