"""The order of events: what is played when, what introductions and endings are made of, how one leads to the next."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.events import ENDINGS, INTRODUCTIONS, Stretch, ended, excerpt, order, stretch_notes
from companion.arrange.request import Request
from companion.chart.model import Chart, Event, Form
from companion.chart.toml.read import parse_toml
from companion.errors import UseError

TUNE = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "swing"
form = "A B"
order = [
  { play = "introduction", how = "vamp", bars = 4 },
  { play = "head" },
  { play = "solos", choruses = 2, treatment = "solos" },
  { play = "head" },
  { play = "ending", how = "tag" },
]
[section.A]
treatment = "walking"
chords = "| Gm6 | C7 | Am7b5 | D7alt | Gm7 | C7 | Am7b5 | D7 |"
melody = "DF | G6 z2 | c4 e4 | c4 A4 | ^F8 | G2 B2 d4 | e6 c2 | c4 _e4 | d6 z2 |"
[section.B]
treatment = "sparse"
chords = "| Cm7 | F7 | Bbmaj7 | Ebmaj7 | Am7b5 | D7 | Gm6 | D7 |"
melody = "| e4 c4 | A4 F4 | d8 | B4 G4 | c4 e4 | d4 ^F4 | G8- | G4 z4 |"
"""


@pytest.fixture(scope="module")
def chart() -> Chart:
    return parse_toml(TUNE)


def told(chart: Chart, *events: Event) -> tuple[Stretch, ...]:
    return order(replace(chart, events=events))


def test_the_tune_goes_introduction_head_solos_head_ending_without_a_gap(chart: Chart) -> None:
    stretches = order(chart)
    assert [s.kind for s in stretches] == ["introduction", "head", "solos", "solos", "head", "ending"]
    assert [s.chorus for s in stretches] == [1, 1, 2, 3, 4, 4]
    assert [(s.time, s.times) for s in stretches if s.kind == "solos"] == [(1, 2), (2, 2)]
    assert all(a.end == b.start for a, b in pairwise(stretches))
    assert [s.first for s in stretches] == [-16, 0, 0, 0, 0, 64], "chart beats, as contracts has them"
    assert stretches[-1].length == 2 * 16 + 8 and stretches[-1].hold == 4 * 64 + 32


def test_a_chart_without_an_order_is_played_once_and_comes_to_rest(chart: Chart) -> None:
    assert [s.kind for s in told(chart)] == ["head", "ending"]


@pytest.mark.parametrize(
    ("choruses", "kinds"),
    [(1, ["head"]), (2, ["head", "head"]), (3, ["head", "solos", "head"]), (5, ["head", *["solos"] * 3, "head"])],
)
def test_with_other_choruses_asked_for_the_solos_take_what_the_heads_leave(
    chart: Chart, choruses: int, kinds: list[str]
) -> None:
    assert [s.kind for s in order(chart, choruses)] == ["introduction", *kinds, "ending"]


def test_a_blues_head_played_twice_gives_way_before_the_first_and_the_last_head_do(chart: Chart) -> None:
    events = (Event("head", 2), Event("solos", 4), Event("head", 2))
    kinds = [[s.kind for s in order(replace(chart, events=events), n)] for n in (2, 4, 6)]
    assert kinds[0] == ["head"] * 2
    assert kinds[1] == ["head"] * 4
    assert kinds[2] == ["head", "head", "solos", "solos", "head", "head"]


@pytest.mark.parametrize("how", INTRODUCTIONS)
@pytest.mark.parametrize("bars", [2, 4, 8])
def test_an_introduction_ends_where_the_form_begins(chart: Chart, how: str, bars: int) -> None:
    opening = told(chart, Event("introduction", how=how, bars=bars), Event("head"))[0]
    assert opening.length == 4 * bars == -opening.start
    for part in ("bass", "chords"):
        found = stretch_notes(opening, part)
        assert found
        assert -4 * bars <= found[0].beat and found[-1].beat < 0
    sung = stretch_notes(opening, "melody")
    assert sung and -4 * bars <= sung[0].beat and max(n.beat + n.length for n in sung) <= -1, "room for the pickup DF"


def test_the_bass_of_an_introduction_leads_to_the_first_chord(chart: Chart) -> None:
    opening = told(chart, Event("introduction", how="last", treatment="walking"), Event("head"))[0]
    last = stretch_notes(opening, "bass")[-1]
    assert last.beat == -1
    assert (7 - last.midi) % 12 in (1, 2, 10, 11, 5), "a step from G, or its fifth"


def test_a_vamp_goes_round_in_the_key_from_its_first_degree_and_then_from_its_third(chart: Chart) -> None:
    """I-VI-II-V and III-VI-II-V in minor (common practice): Gm Em7b5 Am7b5 D7, Bb Eb Am7b5 D7."""
    opening = told(chart, Event("introduction", how="vamp", bars=4, treatment="in-two"), Event("head"))[0]
    roots = [n.midi % 12 for n in stretch_notes(opening, "bass") if n.beat % 2 == 0]
    assert roots == [7, 4, 9, 2, 10, 3, 9, 2]


@pytest.mark.parametrize("other", [None, "walking"])
def test_a_pedal_is_the_dominant_whatever_treatment_is_asked_for(chart: Chart, other: str | None) -> None:
    opening = told(chart, Event("introduction", how="pedal"), Event("head"))[0]
    assert {n.midi % 12 for n in stretch_notes(opening, "bass", Request(treatment=other))} == {2}


@pytest.mark.parametrize("how", ENDINGS)
@pytest.mark.parametrize("other", [None, "walking"])
def test_an_ending_comes_to_rest_on_the_tonic_held(chart: Chart, how: str, other: str | None) -> None:
    ending = told(chart, Event("head"), Event("ending", how=how))[-1]
    bass = stretch_notes(ending, "bass", Request(treatment=other))
    assert all(n.beat >= 64 for n in bass)
    assert bass[-1].midi % 12 == 7 and bass[-1].length == 8
    assert bass[-1].beat == ending.hold == ending.end - 8, "in the first chorus chart beats are the tune's own"
    assert stretch_notes(ending, "chords", Request(treatment=other))[-1].beat >= bass[-1].beat


def test_a_tag_is_the_last_four_bars_twice_over_with_their_melody(chart: Chart) -> None:
    ending = told(chart, Event("head"), Event("ending", how="tag"))[-1]
    melody = [n.pitch for n in chart.unfold().melody if n.beat >= 48]
    *tag, close = stretch_notes(ending, "melody")
    assert [n.pitch for n in tag] == melody * 2
    assert close.beat == ending.hold and close.length == 8, "the tune turns round at its end, and closes here"


@pytest.mark.parametrize("seed", range(5))
def test_the_last_chorus_walks_into_the_tag_and_not_back_to_the_top(chart: Chart, seed: int) -> None:
    """Common practice: the last note before a new chord is a semitone, a step or a fifth from its root."""
    events = (Event("head", treatment="walking"), Event("ending", how="tag", treatment="walking"))
    head, tag = told(chart, *events)
    last, first = stretch_notes(head, "bass", Request(seed=seed))[-1], stretch_notes(tag, "bass", Request(seed=seed))[0]
    assert last.beat >= 63 and first.beat == 64 and first.midi % 12 == 9, "the tag begins on A half-diminished"
    assert abs(first.midi - last.midi) in (1, 2, 5, 7)
    *_, into_the_end, end = stretch_notes(tag, "bass", Request(seed=seed))
    assert abs(end.midi - into_the_end.midi) in (1, 2, 5, 7)


def test_no_chord_is_struck_twice_where_one_stretch_leads_to_the_next(chart: Chart) -> None:
    for seed in range(8):
        for before, after in pairwise(order(chart)):
            joint = float(after.first)
            early = {
                n.beat + before.zero
                for n in stretch_notes(before, "chords", Request(seed=seed))
                if n.beat > before.first + 1
            }
            twice = early & {
                n.beat + after.zero for n in stretch_notes(after, "chords", Request(seed=seed)) if n.beat < joint
            }
            assert not twice


def test_solo_choruses_have_their_own_treatment_and_are_new_each_time(chart: Chart) -> None:
    one, other = (s for s in order(chart) if s.kind == "solos")
    player = frozenset({"solo"})
    assert stretch_notes(one, "bass", Request(player=player)) != stretch_notes(other, "bass", Request(player=player))
    assert one.treatment == "solos"
    assert stretch_notes(one, "chords", Request(player=player)) != stretch_notes(
        replace(one, treatment="sparse"), "chords", Request(player=player)
    )


def test_the_last_time_can_be_put_after_any_chorus(chart: Chart) -> None:
    first_two = order(chart)[:2]
    stretches = ended(first_two, Event("ending", how="vamp"))
    assert [s.kind for s in stretches] == ["introduction", "head", "ending"]
    assert stretches[-1].start == 64 and stretches[-1].first == 64


def test_an_unknown_way_is_named_with_the_known_ones(chart: Chart) -> None:
    with pytest.raises(UseError, match="fireworks"):
        told(chart, Event("head"), Event("ending", how="fireworks"))


def test_an_excerpt_is_a_form_of_its_own(minor_swing: Form) -> None:
    part = excerpt(minor_swing, 3, 2)
    assert part.length == 8
    assert [c.chord.symbol for c in part.chords] == ["Am7b5", "D7alt", "Gm7"]
    assert part.chords[0].start == Fraction(0) and part.chords[-1].end == 8
