"""What was played over a chart: which keys are the melody, at what tempo, and how a comped chord is written."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from companion.errors import ChartError
from companion.messages import Beat
from companion.music.played import KeyPress
from companion.transcribe.played_bars import PlayedBars, PlayedForm, played_bars
from companion.transcribe.played_tune import _moments, _tempo, played_tune


def through(stand: Any, beats: list[tuple[float, float]]) -> PlayedBars:
    """Chart beats and the seconds at which they fell."""
    source = PlayedForm(stand.tune().unfold())
    found = played_bars([Beat(beat, seconds, 0.9) for beat, seconds in beats], lambda beat: source)
    assert found is not None
    return found


STEADY = [(float(n), 1.0 + n / 2) for n in range(16)]


def test_the_melodys_moments_are_those_of_the_bars_that_were_played(stand: Any) -> None:
    went = through(stand, [*STEADY[:4], *((float(n + 8), 3.0 + n / 2) for n in range(4))])
    assert _moments(went) == [0.0, 1.0, 2.0, 3.5, 4.0, 5.0, 6.0, 7.5], "the first bar, and the third after it"


def test_a_break_does_not_count_in_the_tempo(stand: Any) -> None:
    assert _tempo(through(stand, STEADY)) == 120
    late = [(beat, seconds + 9.0 * (beat >= 8)) for beat, seconds in STEADY]
    assert _tempo(through(stand, late)) == 120
    assert _tempo(through(stand, [(beat, 1.0 + beat * 60 / 133.4) for beat, _ in STEADY])) == 133


@pytest.mark.parametrize(("beside", "line"), [(0.0, [76]), (0.34, [76]), (0.36, [])])
def test_over_a_chord_a_key_near_a_note_of_the_melody_is_taken_for_it(
    stand: Any, beside: float, line: list[int]
) -> None:
    """E over three notes on the third beat, on which the tune has G; by as much as a third of a beat beside it."""
    on = 1.0 + (2.0 + beside) / 2
    keys = [KeyPress(on, on + 0.4, midi) for midi in (55, 59, 64, 76)]
    chart = stand.tune()
    found = played_tune(chart, "Mine", keys, ("melody", "chords"), through(stand, STEADY), alone=False).chart
    assert [note.pitch.midi for note in found.unfold().melody] == line
    [part] = found.written
    assert [note.pitch.midi for note in part.notes] == [55, 59, 64, *([] if line else [76])]


def test_a_comped_chord_lasts_as_its_longest_key_and_is_spelled_by_its_symbol(stand: Any) -> None:
    """Over A7, in the second bar's second half: the third is C sharp."""
    on = 1.0 + 6.0 / 2
    keys = [KeyPress(on, on + 0.2, 55), KeyPress(on + 0.01, on + 0.95, 61), KeyPress(on, on + 0.3, 64)]
    chart = stand.tune()
    found = played_tune(chart, "Mine", keys, ("chords",), through(stand, STEADY), alone=True).chart
    chords = next(part for part in found.written if part.part == "chords")
    assert [(note.beat, str(note.pitch)) for note in chords.notes] == [(6, "G3"), (6, "C#4"), (6, "E4")]
    assert {note.length for note in chords.notes} == {Fraction(2)}
    assert {part.part: len(part.notes) for part in found.written} == {"chords": 3, "bass": 0}, "alone: no bass"
    free = played_tune(chart, "Mine", keys, ("chords",), through(stand, STEADY), alone=False).chart
    assert [part.part for part in free.written] == ["chords"]


def test_a_bass_is_written_for_the_left_hand_and_nothing_played_is_said(stand: Any) -> None:
    keys = [KeyPress(1.0 + n / 2, 1.45 + n / 2, midi) for n, midi in enumerate((36, 43, 40, 38))]
    chart = stand.tune()
    found = played_tune(chart, "Mine", keys, ("bass",), through(stand, STEADY), alone=False).chart
    [bass] = found.written
    assert [(note.beat, note.pitch.midi, note.hand) for note in bass.notes] == [
        (n, midi, "left") for n, midi in enumerate((36, 43, 40, 38))
    ]
    assert (found.title, found.tempo, found.metre, found.feel) == ("Mine", 120, chart.metre, chart.feel)
    with pytest.raises(ChartError, match="no note was played; take one in which you play"):
        played_tune(chart, "Mine", [], ("melody",), through(stand, STEADY), alone=False)


def test_what_is_not_played_again_after_a_correction_is_left_out(stand: Any) -> None:
    """A beat said again within a tenth of a second a beat is the companion's own correction: ten beats a second."""
    quick = through(stand, [(0.0, 1.0), (1.0, 1.5), (2.0, 1.59), (3.0, 2.5)])
    assert [beat for beat, _ in quick.beats.points] == [0.0, 2.0, 3.0]
    slow = through(stand, [(0.0, 1.0), (1.0, 1.5), (2.0, 1.61), (3.0, 2.5)])
    assert [beat for beat, _ in slow.beats.points] == [0.0, 1.0, 2.0, 3.0]
