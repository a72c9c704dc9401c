"""The bars of a take stand one after the other, whatever way the player took through the chart."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.messages import Beat
from companion.transcribe.played_bars import PlayedBars, PlayedForm, played_bars


def beats_of(*bars: int, chorus: int = 1, tempo: float = 120.0, since: float = 1.0) -> list[Beat]:
    """Beats of whole bars in 4/4, by their numbers, in time."""
    places = [4.0 * (bar - 1) + beat for bar in bars for beat in range(4)]
    return [Beat(place, since + n * 60 / tempo, 0.9, chorus) for n, place in enumerate(places)]


def went(stand, beats: list[Beat]) -> PlayedBars:
    source = PlayedForm(stand.tune().unfold())
    found = played_bars(beats, lambda beat: source)
    assert found is not None
    return found


def test_bars_in_order_are_the_chart_itself(stand):
    found = went(stand, beats_of(*range(1, 17)))
    form = stand.tune().unfold()
    assert [bar.start for bar in found.bars] == list(form.bars)
    assert found.chords == [
        (span.start, span.chord)
        for k, span in enumerate(form.chords)
        if not k or form.chords[k - 1].chord != span.chord
    ]
    assert [heading.name for heading in found.headings] == ["A", "B"]


def test_bars_played_again_are_written_again_under_a_name_of_their_own(stand):
    found = went(stand, beats_of(1, 2, 3, 2, 3, 4))
    assert [float(bar.inside) for bar in found.bars] == [0, 4, 8, 4, 8, 12]
    assert [(float(h.beat), h.name) for h in found.headings] == [(0, "A"), (12, "A, bar 2")]
    assert found.beats.seconds(12) == 1.0 + 12 * 0.5, "the fourth bar that is written is the fourth that was played"


def test_going_back_within_a_bar_begins_it_anew_as_a_bar_of_its_own(stand):
    first, again = beats_of(1, 2)[:6], beats_of(2, since=5.0)
    found = went(stand, [*first, *again])
    assert [float(bar.inside) for bar in found.bars] == [0, 4, 4]
    assert found.beats.beat(5.0) == 8.0


def test_each_chorus_is_named(stand):
    found = went(stand, [*beats_of(*range(1, 17)), *beats_of(1, 2, chorus=2, since=40.0)])
    assert [h.name for h in found.headings] == ["A, chorus 1", "B, chorus 1", "A, chorus 2"]


def test_a_pause_makes_one_beat_long_and_leaves_the_bars_alone(stand):
    found = went(stand, [*beats_of(1), *beats_of(2, since=9.0)])
    assert found.beats.beat(9.0) == 4.0
    assert found.beats.beat(1.5) == 1.0


def test_bars_of_other_lengths_keep_them(stand):
    short = tuple(Fraction(place) for place in (0, 4, 6, 10))
    form = replace(stand.chart(("| Cmaj7 | Dm7 | G7 | Cmaj7 |", "")).unfold(), bars=short)
    source, lengths = PlayedForm(form), [Fraction(4), Fraction(2), Fraction(4), Fraction(6)]
    beats = [Beat(float(place), 1.0 + place / 2, 0.9) for place in range(16)]
    found = played_bars(beats, lambda beat: source)
    assert found is not None and [bar.length for bar in found.bars] == lengths


def test_one_beat_alone_tells_no_bars(stand):
    source = PlayedForm(stand.tune().unfold())
    assert played_bars([Beat(0.0, 1.0, 0.9)], lambda beat: source) is None


def test_beats_that_a_damaged_take_has_out_of_order_still_rise(stand):
    beats = beats_of(1, 2, 3)
    found = went(stand, [*beats, Beat(12.0, beats[0].seconds, 0.9), Beat(13.0, beats[3].seconds, 0.9)])
    assert [*found.beats.points] == sorted(set(found.beats.points))
    assert all(later[1] > one[1] for one, later in pairwise(found.beats.points))
    assert found.beats.tempo(12.0) > 0


@pytest.mark.parametrize(
    ("bars", "names"),
    [
        ((1, 2, 3, 2, 3, 2), ["0 A", "12 A, bar 2", "20 A, bar 2 (2)"]),
        ((1, 2, 1, 2), ["0 A", "8 A (2)"]),
        ((3, 4, 5), ["0 A, bar 3"]),  # begun in the middle
        ((8, 9, 10), ["0 A, bar 8", "4 B"]),
        ((2, 3, 11, 12), ["0 A, bar 2", "8 B, bar 11"]),
        ((15, 16, 1), ["0 B, bar 15", "8 A"]),
    ],
)
def test_where_the_player_goes_elsewhere_the_bar_has_a_name(stand, bars: tuple[int, ...], names: list[str]) -> None:
    assert [f"{heading.beat} {heading.name}" for heading in went(stand, beats_of(*bars)).headings] == names


def test_an_introduction_has_its_events_name_and_the_form_after_it_its_own(stand) -> None:
    intro = PlayedForm(stand.chart(("| Dm7 | G7 |", "")).unfold(), Fraction(-8), "Introduction")
    tune = PlayedForm(stand.tune().unfold())
    beats = [Beat(float(place), 1.0 + (place + 8) / 2, 0.9, 1) for place in range(-8, 8)]
    found = played_bars(beats, lambda beat: intro if beat.chart_beat < 0 else tune)
    assert found is not None
    assert [(heading.beat, heading.name) for heading in found.headings] == [(0, "Introduction"), (8, "A")]
    assert [(bar.start, bar.inside, bar.source.name) for bar in found.bars] == [
        (0, 0, "Introduction"), (4, 4, "Introduction"), (8, 0, ""), (12, 4, "")
    ]  # fmt: skip
    assert [(beat, chord.symbol) for beat, chord in found.chords] == [
        (0, "Dm7"),
        (4, "G7"),
        (8, "Cmaj7"),
        (12, "Em7"),
        (14, "A7"),
    ]


def test_the_next_chorus_goes_on_from_the_last_bar_and_a_leap_in_it_is_named(stand) -> None:
    beats = [*beats_of(15, 16), *beats_of(1, 5, chorus=2, since=5.0)]
    assert [f"{heading.beat} {heading.name}" for heading in went(stand, beats).headings] == [
        "0 B, bar 15", "8 A, chorus 2", "12 A, bar 5",
    ]  # fmt: skip
