"""Introductions and endings."""

from __future__ import annotations

import pytest

from companion.arrange.events import (
    ENDINGS,
    INTRODUCTIONS,
    ending,
    ending_length,
    excerpt,
    introduction,
    introduction_length,
)
from companion.chart.model import Event, Form
from companion.errors import UseError


@pytest.mark.parametrize("how", INTRODUCTIONS)
@pytest.mark.parametrize("bars", [2, 4, 8])
def test_an_introduction_ends_where_the_form_begins(minor_swing: Form, how: str, bars: int) -> None:
    event = Event("introduction", how=how, bars=bars)
    assert introduction_length(minor_swing, event) == 4 * bars
    for part in ("bass", "chords"):
        notes = introduction(minor_swing, event, part)
        assert notes
        assert -4 * bars <= notes[0].beat and notes[-1].beat < 0
    assert introduction(minor_swing, event, "melody") == ()


def test_the_bass_of_an_introduction_leads_to_the_first_chord(minor_swing: Form) -> None:
    last = introduction(minor_swing, Event("introduction", how="last", treatment="walking"), "bass")[-1]
    assert last.beat == -1
    assert (7 - last.midi) % 12 in (1, 2, 10, 11, 5), "a step from G, or its fifth"


def test_a_vamp_goes_round_in_the_key(minor_swing: Form) -> None:
    notes = introduction(minor_swing, Event("introduction", how="vamp", bars=4, treatment="in-two"), "bass")
    assert [n.midi % 12 for n in notes if n.beat % 2 == 0] == [7, 3, 9, 2] * 2


def test_a_pedal_is_the_dominant(minor_swing: Form) -> None:
    notes = introduction(minor_swing, Event("introduction", how="pedal"), "bass")
    assert {n.midi % 12 for n in notes} == {2}


@pytest.mark.parametrize("how", ENDINGS)
def test_an_ending_comes_to_rest_on_the_tonic_held(minor_swing: Form, how: str) -> None:
    event = Event("ending", how=how)
    bass = ending(minor_swing, event, "bass")
    assert all(n.beat >= minor_swing.length for n in bass)
    assert bass[-1].midi % 12 == 7 and bass[-1].length == 8
    assert bass[-1].beat + bass[-1].length == minor_swing.length + ending_length(minor_swing, event)
    assert ending(minor_swing, event, "chords")[-1].beat > bass[-1].beat


def test_a_tag_is_the_last_four_bars_twice_over_with_their_melody(minor_swing: Form) -> None:
    event = Event("ending", how="tag")
    melody = [n.pitch for n in minor_swing.melody if n.beat >= 112]
    assert [n.pitch for n in ending(minor_swing, event, "melody")] == melody * 2


def test_an_unknown_way_is_named_with_the_known_ones(minor_swing: Form) -> None:
    with pytest.raises(UseError, match="fireworks"):
        ending(minor_swing, Event("ending", how="fireworks"), "bass")


def test_an_excerpt_is_a_form_of_its_own(minor_swing: Form) -> None:
    part = excerpt(minor_swing, 3, 2)
    assert part.length == 8
    assert [c.chord.symbol for c in part.chords] == ["Am7b5", "D7alt", "Gm7"]
    assert part.chords[0].start == 0 and part.chords[-1].end == 8
