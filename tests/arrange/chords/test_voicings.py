"""Voicings over a whole form: the hand, the register, the melody above and the bass below."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from companion.arrange.audit.chords import chords_of, intended_chord
from companion.arrange.chords import part as chords
from companion.arrange.melody.part import index_melody
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.treatments import names
from companion.chart.model import Form
from companion.music.pitch import Pitch

Composer = Callable[..., Form]
QUALITIES = ["", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "7alt", "7sus4", "9", "13", "7b9", "maj7#11", "+"]
ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
symbols = st.builds(lambda r, q: r + q, st.sampled_from(ROOTS), st.sampled_from(QUALITIES))
changes = st.lists(st.lists(symbols, min_size=1, max_size=2).map(" ".join), min_size=1, max_size=8).map(" | ".join)
melodies = st.lists(
    st.tuples(st.integers(0, 63).map(lambda n: n / 2), st.sampled_from([0.5, 1.0, 2.0, 4.0]), st.integers(58, 86)),
    max_size=24,
    unique_by=lambda note: note[0],
).map(lambda notes: _one_at_a_time(sorted(notes)))


def _one_at_a_time(notes: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    ends = [*(after[0] for after in notes[1:]), 1e9][: len(notes)]
    return [(b, min(n, end - b), p) for (b, n, p), end in zip(notes, ends, strict=True)]


def _struck(notes: tuple[Note, ...]) -> list[list[Note]]:
    return [chord for _, chord in chords_of(notes)]


@given(changes, melodies, st.integers(1, 4))
def test_chords_stay_below_the_melody_and_never_clash_with_it(
    compose: Composer, changes: str, melody: list[tuple[float, float, int]], chorus: int
) -> None:
    form = compose(changes + " | C" * 4, melody=melody)
    for note in arrange(form, "chords", Request(treatment="walking", chorus=chorus)):
        for above in form.melody:
            if above.beat < note.beat + note.length and note.beat < above.beat + above.length:
                assert note.midi < above.pitch.midi
                assert above.pitch.midi - note.midi not in (1, 13)


@pytest.mark.parametrize("treatment", names())
def test_a_hand_reaches_a_ninth_and_five_notes(compose: Composer, minor_swing: Form, treatment: str) -> None:
    for chord in _struck(arrange(minor_swing, "chords", Request(treatment=treatment))):
        for hand in ("left", "right"):
            midi = [n.midi for n in chord if n.hand == hand]
            assert len(midi) <= 5
            assert not midi or max(midi) - min(midi) <= 14


@given(changes, st.integers(1, 4))
@example("C | Cm Db+ | C | Cdim7 | Db+ Dbm | C", 1)  # a triad's sixth, in whose place a late voice would come
def test_rootless_voicings_hold_third_and_seventh_and_leave_the_root_out(
    compose: Composer, changes: str, chorus: int
) -> None:
    form = compose(changes)
    for beat, chord in chords_of(arrange(form, "chords", Request(treatment="solos", chorus=chorus))):
        harmony = intended_chord(form, beat, chord)
        above = {(n.midi - harmony.root) % 12 for n in chord}
        assert above & {9, 10, 11}
        assert above & ({2, 5} if harmony.chord.quality in ("7sus", "sus") else {3, 4})
        if harmony.chord.quality not in ("m7b5", "dim7"):
            assert 0 not in above


@given(changes, st.integers(1, 4))
def test_nothing_lies_in_the_mud_nor_below_the_bass(compose: Composer, changes: str, chorus: int) -> None:
    form = compose(changes)
    bass = arrange(form, "bass", Request(treatment="walking", chorus=chorus))
    limits = {1: 52, 2: 51, 3: 48, 4: 46, 5: 46, 6: 46, 7: 34, 8: 43, 9: 41, 10: 41, 11: 41, 13: 40, 14: 39}
    for chord in _struck(arrange(form, "chords", Request(treatment="walking", chorus=chorus))):
        midi = [n.midi for n in chord]
        assert all(low >= limits.get(high - low, 0) for low, high in pairwise(midi))
        start, end = chord[0].beat, chord[0].beat + chord[0].length
        for low in (n.midi for n in bass if n.beat < end and n.beat + n.length > start):
            assert low < midi[0] and low >= limits.get(midi[0] - low, 0)


def test_the_hand_hardly_moves_from_chord_to_chord(minor_swing: Form) -> None:
    moves = []
    for (beat, a), (after, b) in pairwise(chords_of(arrange(minor_swing, "chords", Request(treatment="solos")))):
        if intended_chord(minor_swing, beat, a).label != intended_chord(minor_swing, after, b).label and len(a) == len(
            b
        ):
            moves += [abs(x.midi - y.midi) for x, y in zip(a, b, strict=True)]
    assert sum(moves) <= 1.8 * len(moves)


def test_each_note_is_spelled_as_its_degree_of_the_chord(compose: Composer) -> None:
    for note in arrange(compose("Ebm7 | Ab7 | Dbmaj7 | Gbmaj7", fifths=-5), "chords", Request(treatment="solos")):
        assert note.pitch.midi == note.midi
        assert note.degree and note.reason
        assert note.pitch.alter in (-1, 0), "five flats: no sharps"


def test_four_notes_may_come_late_one_by_one(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7", "G7", "Cmaj7", "Am7"] * 4), tempo=60.0)
    chords = _struck(arrange(form, "chords", Request(treatment="ballad")))
    late = [n for chord in chords for n in chord if n.beat > min(x.beat for x in chord)]
    assert late
    assert all(n.reason.startswith("late") for n in late)


@pytest.mark.parametrize(
    ("symbol", "melody", "wanted", "unwanted"),
    [
        ("Cmaj7", 84, "6", "7"),
        ("Cm(maj7)", 84, "6", "7"),
        ("Cm6", 82, "b7", "6"),
        ("C7", 77, "4", "3"),
        ("C7", 85, "b9", "9"),
        ("C7", 80, "b13", "13"),
    ],
)
def test_what_would_rub_against_the_melody_gives_way(
    compose: Composer, symbol: str, melody: int, wanted: str, unwanted: str
) -> None:
    """6 for 7 under the root, the third away under the fourth, a dominant coloured as its melody: common practice."""
    form = compose(" | ".join([symbol] * 4), melody=[(0, 16, melody)])
    degrees = [
        n.degree for chorus in range(1, 4) for n in arrange(form, "chords", Request(treatment="walking", chorus=chorus))
    ]
    assert wanted in degrees
    assert unwanted not in degrees


def test_a_chord_over_a_tenth_in_the_bass_is_thinned_rather_than_left_out(compose: Composer) -> None:
    form = compose("Eb13 | Eb13 | Eb13 | Eb13", fifths=-5, tempo=60.0, melody=[(0, 16, 72)])
    for seed in range(6):
        bars = {int(n.beat // 4) for n in arrange(form, "chords", Request(treatment="ballad", seed=seed))}
        assert bars == {0, 1, 2, 3}


def test_what_comes_late_is_neither_third_nor_seventh_nor_the_lowest(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7", "G7", "Cmaj7", "Am7", "Dbm6", "F7sus4"] * 4), tempo=60.0)
    for chorus in range(1, 4):
        chords = _struck(arrange(form, "chords", Request(treatment="ballad", chorus=chorus)))
        waited = [any(n.reason.startswith("late") for n in chord) for chord in chords]
        assert not any(a and b for a, b in pairwise(waited)), "never in two chords running"
        for n in (n for chord in chords for n in chord if n.reason.startswith("late")):
            assert n.degree in ("5", "9", "13", "1", "11", "b9", "#9", "b13"), n.degree
            assert n.voice > 1


def test_open_voicings_are_shared_between_both_hands_after_their_root(compose: Composer) -> None:
    form = compose("Cm7 | Fm7 | Cm7 | Gm7", fifths=-3, minor=True)
    bass = arrange(form, "bass", Request(treatment="open"))
    chords = _struck(arrange(form, "chords", Request(treatment="open")))
    assert any({n.hand for n in chord} == {"left", "right"} for chord in chords)
    assert all(n.pedal for n in bass)
    assert not {n.beat for n in bass} & {chord[0].beat for chord in chords}


def test_a_chord_is_rather_short_than_thin_where_the_bass_leaves_it_no_room(compose: Composer) -> None:
    """Over a middle C in the bass only three notes on E would fit; the full form stands on C (common practice)."""
    form = compose("Am6 | Am6 | Am6 | Am6", minor=True)
    pitches = [Pitch("A", 0, 2), Pitch("C", 0, 4)]
    below = [Note(Fraction(k), Fraction(1), pitches[k % 2], "bass", "left") for k in range(16)]
    for chorus in range(2, 8):
        found = chords.chord_notes(form, plan(form, "walking"), index_melody(form), below, chorus=chorus)
        over_a = [chord for beat, chord in chords_of(found) if beat % 2 < 1]
        assert over_a
        assert all(chord[0].beat % 2 + chord[0].length <= 1 for chord in over_a)
        assert any(len(chord) == 4 for chord in over_a)
