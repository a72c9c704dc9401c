"""The made-up players who practise do what their kind says, and the truth about them is true."""

from __future__ import annotations

import statistics
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from beat_scores import TrueBeat
from followed_players import aside, made
from following import USUAL_SETS
from practising_players import KINDS, SET_ASIDE, Practised, perform

from companion.chart.model import Form
from companion.load import load
from companion.resources import chart_path

WITHIN = 0.11
"""Seconds: nearly four standard deviations of the least exact touch."""
DISPLACED = ("phrased", "back-phrased")
"""Kinds whose notes don't lie where they are written."""
every_kind = pytest.mark.parametrize("kind", [*KINDS, *SET_ASIDE])


@cache
def form(name: str = "ferry-without-lights") -> Form:
    return load(chart_path(name)).unfold()


@cache
def played(kind: str, seed: int = 1, name: str = "ferry-without-lights") -> Practised:
    return perform(form(name), kind, seed)


def goes_on(before: TrueBeat, after: TrueBeat, within: Form) -> bool:
    """Whether a beat is the one that the form has after another."""
    due = (before.chart_beat + float(within.metre.pulse)) % float(within.length)
    return abs(due - after.chart_beat) < 1e-6


def beside(player: Practised) -> list[float]:
    """How far each note that is written on a beat, and was struck right, lies beside the true one; seconds."""
    moments: dict[float, list[float]] = {}
    for beat in player.truth:
        moments.setdefault(beat.chart_beat, []).append(beat.seconds)
    struck = [(n.seconds, moments.get(n.chart_beat)) for n in player.notes if n.kind == "right"]
    return [min((s - t for t in near), key=abs) for s, near in struck if s is not None and near]


@every_kind
def test_the_same_seed_gives_the_same_performance_and_another_seed_another(kind: str) -> None:
    once, again, other = (perform(form(), kind, seed) for seed in (3, 3, 4))
    assert once == again and once.heard != other.heard


@every_kind
@pytest.mark.parametrize("name", ["ferry-without-lights", "snow-on-the-awning", "two-spoons-short"])
def test_beats_rise_and_what_breaks_their_order_is_marked(kind: str, name: str) -> None:
    player = played(kind, 1, name)
    usual = statistics.median(b.seconds - a.seconds for a, b in pairwise(player.truth))
    assert player.truth[-1].seconds < player.until
    for before, after in pairwise(player.truth):
        gap = after.seconds - before.seconds
        assert 0.4 * usual < gap
        if after.mark == "":
            assert goes_on(before, after, form(name))
        elif after.mark == "jump":
            assert not goes_on(before, after, form(name)) and gap < 2 * usual
        else:
            assert after.mark == "resume" and gap > usual + 0.35


@every_kind
def test_every_key_is_let_go_before_it_is_struck_again(kind: str) -> None:
    down: set[int] = set()
    player = played(kind)
    assert [h.seconds for h in player.heard] == sorted(h.seconds for h in player.heard)
    assert player.heard[0].seconds >= 0
    for event in player.heard:
        if event.is_note_on:
            assert event.data1 not in down or kind == "cat"  # who looks not where it treads
            down.add(event.data1)
        else:
            down.discard(event.data1)
    assert not down


@pytest.mark.parametrize("kind", [k for k in [*KINDS, *SET_ASIDE] if k not in DISPLACED])
def test_what_is_struck_on_a_beat_lies_beside_the_true_one(kind: str) -> None:
    off = [x for seed in range(3) for x in beside(played(kind, seed))]
    assert len(off) > 50 and min(off) > -WITHIN
    assert max(off) < WITHIN or kind == "fumbling"  # who repeats a note until it is right has it right late
    assert 0.012 < statistics.pstdev(x for x in off if abs(x) < WITHIN) < 0.035


def test_a_phrased_head_lies_a_quaver_or_a_crotchet_beside_its_beats_and_comes_back_to_them() -> None:
    shares, places = [], set()
    for seed in range(6):
        player = played("phrased", seed, "tide-at-the-tollgate")  # even quavers: a quaver is half a beat
        moments = {b.chart_beat: b.seconds for b in player.truth}
        off = []
        for note in player.notes:
            here, after = moments.get(note.chart_beat), moments.get(note.chart_beat + 1)
            if note.kind == "right" and note.seconds and here and after:
                off.append((note.seconds - here) / (after - here))
        near = [min((-1, -0.5, 0, 0.5, 1), key=lambda place: abs(x - place)) for x in off]
        assert statistics.fmean(abs(x - place) < 0.2 for x, place in zip(off, near, strict=True)) > 0.9
        shares.append(statistics.fmean(place != 0 for place in near))
        places.update(near)
    assert places == {-1, -0.5, 0, 0.5, 1}
    assert max(shares) - min(shares) > 0.15 and 0.2 < statistics.fmean(shares) < 0.7  # no two phrase alike


@pytest.mark.parametrize(
    ("kind", "beats"), [("half-late", 0.5), ("beat-late", 1), ("bar-late", 4), ("beat-early", -1), ("again", 0)]
)
def test_who_comes_in_beside_the_count_is_off_by_as_much_as_their_kind_says(kind: str, beats: float) -> None:
    player = played(kind)
    assert (player.truth[0].seconds - player.start) * player.tempo / 60 == pytest.approx(beats, abs=0.15)


@pytest.mark.parametrize(
    ("kind", "low", "high"), [("reading", 0.38, 0.68), ("slower", 0.5, 0.85), ("phrased", 0.93, 1.07)]
)
def test_the_tempo_played_is_the_share_of_the_one_told_that_its_kind_says(kind: str, low: float, high: float) -> None:
    for seed in range(4):
        player = played(kind, seed)
        beat = statistics.median(b.seconds - a.seconds for a, b in pairwise(player.truth[:24]))
        assert low < 60 / beat / player.tempo < high


def test_a_counted_in_player_off_the_tempo_is_told_a_tenth_to_three_tenths_off() -> None:
    for seed in range(6):
        player = played("tempo-off", seed)
        beat = statistics.median(b.seconds - a.seconds for a, b in pairwise(player.truth[:12]))
        assert 0.06 < abs(player.tempo * beat / 60 - 1) < 0.36


def test_a_loop_comes_round_at_least_three_times_and_then_goes_on_to_the_end() -> None:
    entered = set()
    for seed in range(12):
        player = played("loop", seed)
        rounds = [leg for leg in player.legs if leg.mark]
        assert len(rounds) >= 3 and len({(leg.start, leg.end) for leg in rounds}) == 1
        assert player.legs[-1].start == rounds[0].end and player.legs[-1].end == float(form().length)
        assert (rounds[0].end - rounds[0].start) % 4 == 0
        entered.add(rounds[0].start % 4)
    assert len(entered) > 1  # not only on bar lines


def test_who_begins_again_stands_at_the_top_after_each_stop() -> None:
    player = played("again", 2)
    resumed = [b for b in player.truth if b.mark == "resume"]
    assert len(resumed) >= 2 and {b.chart_beat for b in resumed} == {0.0}


def test_an_improviser_hardly_plays_the_head_and_half_a_head_is_half_of_it() -> None:
    melody = [(float(n.beat), n.pitch.midi % 12) for n in form().melody]

    def found(player: Practised, low: float, high: float) -> float:
        struck = [(n.chart_beat, n.pitch % 12) for n in player.notes if n.pitch is not None]
        here = [(beat, pc) for beat, pc in melody if low <= beat < high]
        return sum(any(pc == p and abs(b - beat) < 0.3 for b, p in struck) for beat, pc in here) / len(here)

    assert found(played("improvised"), 0, 128) < 0.4
    half = played("half-head", 1)
    assert found(half, 0, half.legs[0].end) > 0.9 and found(half, half.legs[1].start, 128) < 0.4


def test_a_cat_comes_only_when_the_player_has_stopped() -> None:
    player = played("cat")
    meant = {(round(n.seconds, 6), n.pitch) for n in player.notes if n.seconds is not None}
    paws = [h.seconds for h in player.heard if h.is_note_on and (round(h.seconds, 6), h.data1) not in meant]
    resumed = [n for n, b in enumerate(player.truth) if b.mark == "resume"]
    assert len(paws) > 10 and resumed
    for paw in paws:
        assert any(player.truth[n - 1].seconds < paw < player.truth[n].seconds for n in resumed)


def test_who_plays_in_another_key_strikes_the_melody_moved_by_one_interval() -> None:
    player = played("transposed")
    moved = {n.pitch - n.expected for n in player.notes if n.kind == "right" and n.pitch and n.expected}
    melody = {(float(n.beat), n.pitch.midi) for n in form().melody}
    written = [(n.chart_beat, n.expected) for n in player.notes if n.kind == "right" and n.expected]
    by = {midi - m for beat, midi in written for b, m in melody if b == beat}
    assert moved == {0} and len(by) == 1 and by != {0}


def test_kinds_set_aside_are_played_only_when_asked_for(tmp_path: Path) -> None:
    assert "aside" not in USUAL_SETS and "made" in USUAL_SETS
    rows = {entry.row for entry in made(tmp_path)}
    assert {f"made {kind}" for kind in KINDS} <= rows and not any(row.startswith("aside") for row in rows)
    assert {entry.row for entry in aside(tmp_path)} == {f"aside {kind}" for kind in SET_ASIDE}


def test_a_made_up_player_is_told_of_nothing_when_not_counted_in(tmp_path: Path) -> None:
    counted = next(entry for entry in made(tmp_path) if entry.row == "made phrased").player()
    free = next(entry for entry in made(tmp_path) if entry.row == "made phrased-free").player()
    assert counted.settings.tempo is not None and counted.settings.start is not None
    assert free.settings.tempo is None and free.settings.start is None and free.heard == counted.heard
