"""The bars of a take stand one after the other, whatever way the player took through the chart."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

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
