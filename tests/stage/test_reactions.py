"""What the companion makes of how busy the player is, where they rest, what they sound, and how sure their place is.

What is expected of an accompanist here is common practice: leave room for a busy soloist, answer in the gaps, keep to
roots when lost, and give way to the player's chord. How that sounds is heard in ``behaviour/test_reacting.py``.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.events import chorus
from companion.arrange.part import Note
from companion.chart.model import Event
from companion.music.pitch import Pitch
from companion.stage.band import Cue
from companion.stage.order import OrderOfEvents
from companion.stage.reactions import ANSWER, Reactions
from companion.stage.settings import Settings

CHANGES = "| Cmaj7 | % | Fmaj7 | % | Dm7 | % | G7 | % |"


def ears_after(chart: Any, you: str, *keys: tuple[float, float, int]) -> Reactions:
    """After some keys went down: seconds, beat, MIDI number."""
    ears = Reactions(Settings(you=frozenset(you.split(","))), chorus(chart.unfold(), 1, Event("head")))
    for key in keys:
        ears.key_down(*key)
    return ears


def cue(beat: float, midi: int, part: str) -> Cue:
    names = ("C", "C", "D", "E", "E", "F", "F", "G", "A", "A", "B", "B")
    alters = (0, 1, 0, -1, 0, 0, 1, 0, -1, 0, -1, 0)
    pitch = Pitch(names[midi % 12], alters[midi % 12], midi // 12 - 1)
    note = Note(Fraction(beat).limit_denominator(24), Fraction(1), pitch, part)
    return Cue(beat, beat + 0.9, note)


def test_in_doubt_the_bass_keeps_to_roots_and_the_chords_rest_until_it_is_sure(stand: Any) -> None:
    ears = ears_after(stand.chart(stand.TEN), "melody")
    ears.believe(0.3)
    assert ears.judged(0.0, cue(4, 43, "bass"), 4.0, 2.0, ()).midi == 40  # type: ignore[union-attr]
    assert ears.judged(0.0, cue(5, 43, "bass"), 5.0, 2.0, ()) is None
    assert ears.judged(0.0, cue(5, 64, "chords"), 5.0, 2.0, ()) is None
    ears.believe(0.6)
    assert ears.judged(0.0, cue(5, 64, "chords"), 5.0, 2.0, ()) is None, "not yet"
    ears.believe(0.9)
    assert ears.judged(0.0, cue(5, 43, "bass"), 5.0, 2.0, ()).midi == 43  # type: ignore[union-attr]
    assert ears.judged(0.0, cue(5, 64, "chords"), 5.0, 2.0, ()).midi == 64  # type: ignore[union-attr]


def test_a_key_that_is_let_go_is_forgotten(stand: Any) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    ears.key_down(10.0, 0.2, 75)
    assert ears.yields(0.3, [("chords", 64)]) == [], "a passing note is no chord"
    assert ears.next_moment(10.0, 2.0) == pytest.approx(10.3)
    assert ears.yields(0.9, [("chords", 64)]) == [("chords", 64)]
    ears.key_up(75)
    assert ears.yields(0.9, [("chords", 64)]) == [] and ears.next_moment(10.0, 2.0) is None


# Numbers worked out, at 120 a minute: a beat is half a second


def struck_at(first: float, count: int) -> list[tuple[float, float, int]]:
    """Keys 0.15 seconds apart."""
    return [(first + 0.15 * n, 2 * (first + 0.15 * n), 100) for n in range(count)]


@pytest.mark.parametrize(
    ("you", "beat", "played", "busy"),
    [
        # A line of five onsets in four beats is leisure, one of 8.4 the busiest there is.
        ("solo", 20.0, 1, 0.0), ("solo", 20.0, 5, 0.0), ("solo", 20.0, 6, 1 / 3.4),
        ("solo", 20.0, 8, 3 / 3.4), ("solo", 20.0, 9, 1.0),
        # In the melody what is written is taken off: five notes from beat 16 to 20; two more are leisure, six busy.
        ("melody", 20.0, 7, 0.0), ("melody", 20.0, 8, 0.25), ("melody", 20.0, 11, 1.0), ("melody", 20.0, 12, 1.0),
        # A third of a beat ahead still belongs: the note on 21 does from 20.7 on, when that on 16 has gone.
        ("melody", 20.6, 7, 0.25), ("melody", 20.7, 7, 0.0),
        # Over the form's end: one note in its last bar from 29 on, and the first two of the top.
        ("melody", 33.0, 5, 0.25), ("melody", 1.0, 5, 0.25), ("melody", 65.0, 5, 0.25),
    ],
)  # fmt: skip
def test_how_busy_a_player_is(stand: Any, you: str, beat: float, played: int, busy: float) -> None:
    ears = ears_after(stand.chart(stand.TEN), you, *struck_at(beat / 2 - 1.9, played))
    assert ears.busy(beat / 2, beat, 2.0) == pytest.approx(busy)


def test_what_is_four_beats_old_no_longer_makes_busy_and_a_chord_counts_once(stand: Any) -> None:
    chart = stand.chart(stand.TEN)
    assert ears_after(chart, "solo", *struck_at(8.0, 7)).busy(10.0, 20.0, 2.0) == pytest.approx(1 / 3.4)
    assert ears_after(chart, "solo", *struck_at(8.01, 7)).busy(10.0, 20.0, 2.0) == pytest.approx(2 / 3.4)
    chords = [(at + later, 2 * at, midi) for at, _, _ in struck_at(8.2, 7) for later, midi in ((0, 60), (0.05, 64))]
    assert ears_after(chart, "solo", *chords).busy(10.0, 20.0, 2.0) == pytest.approx(2 / 3.4)
    apart = [(at + later, 2 * at, midi) for at, _, _ in struck_at(8.2, 4) for later, midi in ((0, 60), (0.07, 64))]
    assert ears_after(chart, "solo", *apart).busy(10.0, 20.0, 2.0) == pytest.approx(3 / 3.4)


def wanted(ears: Reactions, beat: float, degree: str) -> bool:
    chord = cue(beat, 64, "chords")
    return ears.judged(0.0, replace(chord, note=replace(chord.note, degree=degree)), beat, 2.0, ()) is not None


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        # Left out by chance at each half beat, less often the less busy: two thirds of the chords at the most.
        (1.0, "..xx.....xxx...x.xxx.."),
        (0.5, "..xx.xxx.xxxx.xxxxx"),
        (0.0, "xxxxxxxxxxxxxxxxxxxxxx"),
    ],
)
def test_which_chords_are_kept_beside_a_line_of_its_own(stand: Any, line: float, kept: str) -> None:
    """What it does today, kept: the lot is drawn by the place and the seed."""
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    ears.beside(line)
    assert "".join(".x"[wanted(ears, n / 2, "3")] for n in range(len(kept))) == kept


def test_without_a_line_of_its_own_and_behind_a_silent_player_no_chord_is_left_out(stand: Any) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    assert all(wanted(ears, n / 2, degree) for n in range(64) for degree in ("3", "9", "5"))


FIRST, COLOURS, FIFTHS = ["b3", "3", "4", "7", "b7", "bb7", "6", "1"], ["9", "b9", "#11", "13", ""], ["5", "b5", "#5"]


@pytest.mark.parametrize(
    ("line", "degrees"),
    [
        (0.0, [*FIRST, *COLOURS, *FIFTHS]), (0.25, [*FIRST, *COLOURS, *FIFTHS]),
        (0.26, [*FIRST, *COLOURS]), (0.74, [*FIRST, *COLOURS]), (0.75, FIRST), (1.0, FIRST),
    ],
)  # fmt: skip
def test_a_thinned_chord_keeps_third_and_seventh_first_and_loses_its_fifth_first(
    stand: Any, line: float, degrees: list[str]
) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    ears.beside(line)
    at = next(n / 2 for n in range(60) if wanted(ears, n / 2, "3"))
    assert [degree for degree in (*FIRST, *COLOURS, *FIFTHS) if wanted(ears, at, degree)] == degrees


@pytest.mark.parametrize(
    ("masses", "unsure"),
    [([0.5], False), ([0.49], True), ([0.49, 0.74], True), ([0.49, 0.75], False), ([0.49, 0.75, 0.5], False)],
)
def test_from_which_probability_of_the_place_it_holds_back(stand: Any, masses: list[float], unsure: bool) -> None:
    ears = ears_after(stand.tune(), "melody")
    for mass in masses:
        ears.believe(mass)
    assert ears.unsure == unsure


@pytest.mark.parametrize(
    ("beat", "midi", "root"),
    [
        (0, 43, 48), (0.09, 43, 48), (0.11, 43, None), (2, 43, None),  # C: of two as near, the one nearest to G
        (4, 43, 48), (3.89, 43, None), (3.91, 43, 48), (4.09, 43, 48), (4.11, 43, None),
        (8, 43, 41), (12, 50, 53), (24, 30, 31), (24, 55, 55), (24, 54, 55), (28, 50, None), (32, 43, 48),
    ],
)  # fmt: skip
def test_in_doubt_a_root_is_played_where_a_chord_or_a_bar_of_it_begins(
    stand: Any, beat: float, midi: int, root: int | None
) -> None:
    ears = ears_after(stand.chart((CHANGES.removesuffix("% |") + "N.C. |", "")), "melody")
    ears.believe(0.0)
    found = ears.judged(0.0, cue(beat, midi, "bass"), beat, 2.0, ())
    assert (found and found.midi) == root
    if found and root != midi:
        assert found.reason == "the root, until the place is sure again"


@pytest.mark.parametrize(
    ("you", "since", "answers"),
    [
        ("solo", 1.9, False),
        ("solo", 2.0, True),
        ("solo", 9.0, True),  # beats since the last note
        ("melody", 1.4, False),
        ("melody", 1.5, True),  # where another one was written meanwhile
    ],
)
def test_how_long_a_silence_is_answered(stand: Any, you: str, since: float, answers: bool) -> None:
    ears = ears_after(stand.chart(stand.TEN), you, (8.0, 16.0, 72))
    assert ears.may_answer(8.0 + since / 2, 16.0 + since, 2.0) == answers
    ears.believe(0.1)
    assert not ears.may_answer(8.0 + since / 2, 16.0 + since, 2.0)
    assert not ears_after(stand.chart(stand.TEN), you).may_answer(9.0, 18.0, 2.0), "nobody has played yet"


@pytest.mark.parametrize(
    ("last", "now", "answers"),
    [
        # Bar 3 has notes on 8, 9, 10 and 11.5, bar 4 on 12 and 14: what may be late or early doesn't count.
        (12.0, 13.9, False), (12.0, 14.3, False), (12.0, 14.4, True), (11.7, 13.3, False), (11.6, 13.3, True),
    ],
)  # fmt: skip
def test_a_rest_that_is_written_is_not_answered(stand: Any, last: float, now: float, answers: bool) -> None:
    ears = ears_after(stand.chart(stand.TEN), "melody", (last / 2, last, 72))
    assert ears.may_answer(now / 2, now, 2.0) == answers


@pytest.mark.parametrize(("beat", "answers"), [(17.4, False), (17.5, True)])
def test_an_answer_keeps_its_distance_from_the_last_chord(stand: Any, beat: float, answers: bool) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo", (1.0, 2.0, 72))
    assert wanted(ears, 16.0, "3")
    assert ears.may_answer(beat / 2, beat, 2.0) == answers


@pytest.mark.parametrize(
    ("beat", "begins", "length", "keys"),
    [
        # On the beat or the quaver after it by the lot of the place; for a beat and a half, or as long as the chord is.
        (0, 0.5, 1.5, [52, 55, 59, 62]), (2, 2.0, 1.5, [52, 55, 59, 62]), (7, 7.0, 1.0, [52, 55, 59, 62]),
        (8, 8.0, 1.5, [52, 55, 57, 60]), (32, 32.0, 1.5, [52, 55, 59, 62]),
    ],
)  # fmt: skip
def test_the_chord_that_answers(stand: Any, beat: float, begins: float, length: float, keys: list[int]) -> None:
    """What it does today, kept."""
    found = ears_after(stand.chart((CHANGES, "")), "solo").answers(1.0, float(beat), [], [])
    assert [(c.beat, c.end - c.beat, c.note.midi) for c in found] == [(begins, length, midi) for midi in keys]
    assert {(c.note.beat, c.note.length, c.note.weight, c.note.reason) for c in found} == {
        (begins % 32, length, 0.95, ANSWER)
    }


@pytest.mark.parametrize(("above", "answers"), [(64, True), (60, False)])
def test_an_answer_keeps_from_under_what_is_held_or_written(stand: Any, above: int, answers: bool) -> None:
    """Right under a C there is no room for the seventh of Cmaj7: a semitone (common practice)."""
    held = ears_after(stand.chart((CHANGES, "")), "solo", (0.0, 0.0, above)).answers(1.0, 2.0, [], [])
    tune = stand.chart((CHANGES, f"| z4 {'E' if above == 64 else 'C'}4 | z8 | z8 | z8 | z8 | z8 | z8 | z8 |"))
    written = ears_after(tune, "melody").answers(1.0, 2.0, [], [])
    assert bool(held) == bool(written) == answers
    assert not held or max(c.note.midi for c in (*held, *written)) < above


def test_there_is_no_answer_where_chords_come_anyway_or_none_is_written_or_the_next_begins(stand: Any) -> None:
    chart = stand.chart(("| Cmaj7 | N.C. | Dm7 | G7 |", ""))
    ears = ears_after(chart, "solo")
    assert ears.answers(1.0, 0.0, [], []) and ears.answers(1.0, 0.0, [cue(1, 64, "chords")], []) == []
    assert ears.answers(1.0, 5.0, [], []) == []
    quavers = [n / 2 for n in range(8) if not ears.answers(1.0, n / 2, [], [])]
    assert all(beat >= 3.5 for beat in quavers)


@pytest.mark.parametrize(
    ("beat", "begins", "length"),
    [
        # A chord that is written again in the next bar goes on: only the next one ends the answer.
        (0.0, 0.5, 1.5), (4.0, 4.0, 1.5), (7.0, 7.0, 1.5), (8.0, 8.0, 1.5), (15.0, 15.0, 1.0),
        # Places are told in triplets and semiquavers, 24 to a quarter.
        (1 + 5 / 24, Fraction(41, 24), 1.5), (2.04, Fraction(33, 13), Fraction(19, 13)),
    ],
)  # fmt: skip
def test_an_answer_ends_with_the_chord_and_not_with_the_bar(
    stand: Any, beat: float, begins: float | Fraction, length: float | Fraction
) -> None:
    ears = ears_after(stand.chart(("| C6 | F6 | F6 | G7 |", "")), "solo")
    found = ears.answers(1.0, beat, [], [])
    assert {(c.note.beat, c.note.length) for c in found} == {(begins, length)}
    # With the chord that is on: C6 has no F, and F6 no E and no B.
    avoided = {5} if beat < 4 else {4, 11} if beat < 12 else {0}
    assert not {c.note.midi % 12 for c in found} & avoided


@pytest.mark.parametrize(("beat", "answers"), [(7.5, True), (7.55, False), (7.9, False), (8.0, True)])
def test_an_answer_lasts_for_half_a_beat_at_least(stand: Any, beat: float, *, answers: bool) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    ears.likes = replace(ears.likes, answer=replace(ears.likes.answer, off_beat=0.0))
    assert bool(ears.answers(1.0, beat, [], [])) == answers


def test_an_answer_is_left_out_when_they_have_come_in_meanwhile(stand: Any) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo", (0.2, 0.4, 76))
    (first, *_) = ears.answers(1.0, 2.0, [], [])
    ears.beside(1.0)  # an answer is struck however busy its own line is
    assert ears.judged(1.1, first, 2.2, 2.0, ()) is not None
    ears.key_down(1.05, 2.1, 74)
    assert ears.judged(1.1, first, 2.2, 2.0, ()) is None


# What agrees with another chord


OTHER = [(1.0, 0.0, midi) for midi in (51, 55, 58)]
"""E flat, G and B flat over Cmaj7: a C minor seventh."""


@pytest.mark.parametrize(
    ("part", "beat", "given", "struck"),
    [
        # From D up: E goes to E flat and B to B flat; the ninth and the sixth go where they don't rub.
        ("chords", 0.0, [62, 64, 65, 67, 69, 71, 72], [63, 63, 65, 67, 70, 70, 72]),
        ("chords", 7.4, [62, 64, 65, 67, 69, 71, 72], [63, 63, 65, 67, 70, 70, 72]),
        ("chords", 7.5, [62, 64, 69, 71], [62, 64, 69, 71]),  # of the chord to come
        ("solo", 7.5, [62, 64, 65, 67, 69, 71, 72], [63, 63, 65, 67, 70, 70, 72]),
        ("chords", 8.0, [62, 64, 69, 71], [62, 64, 69, 71]),
        ("melody", 0.0, [62, 64, 69, 71], [62, 64, 69, 71]),
        ("bass", 0.0, [36, 38, 40, 43, 45, 47, 50], [36, 39, 39, 43, 46, 46, 51]),
        # On the last beat of a chord the bass leads: to F by a semitone, a tone or a fifth.
        ("bass", 7.0, [36, 38, 40, 43, 45, 47, 50], [36, 39, 39, 43, 43, 48, 51]),
        ("bass", 6.8, [45, 47], [46, 46]), ("bass", 6.885, [45, 47], [46, 46]), ("bass", 6.905, [45, 47], [43, 48]),
        ("bass", 8.0, [36, 38, 45, 47], [36, 38, 45, 47]),
    ],
)  # fmt: skip
def test_what_is_struck_against_another_chord(
    stand: Any, part: str, beat: float, given: list[int], struck: list[int]
) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "chords", *OTHER)
    found = [ears.judged(1.1, cue(beat, midi, part), beat, 2.0, ()) for midi in given]
    assert [note and note.midi for note in found] == struck
    reasons = {note.reason for note, midi in zip(found, given, strict=True) if note and note.midi != midi}
    assert reasons <= {"with the chord that the player means"}


def test_a_moved_note_is_left_out_where_it_sounds_already(stand: Any) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "chords", *OTHER)
    assert ears.judged(1.1, cue(0.0, 64, "chords"), 0.0, 2.0, (63,)) is None
    assert ears.judged(1.1, cue(0.0, 52, "chords"), 0.0, 2.0, ()) is None, "the player's own key"
    assert ears.judged(1.1, cue(0.0, 40, "bass"), 0.0, 2.0, (39,)) is not None


@pytest.mark.parametrize(
    ("you", "keys", "clashes"),
    [
        ("chords", [51, 58], True),
        ("chords", [51], False),  # of who comps two keys are a chord
        ("solo", [75, 82], False),
        ("solo", [75, 79, 82], True),  # of others three
        ("chords", [51, 63], False),  # one note, in two octaves
    ],
)
def test_how_many_keys_are_a_chord_at_once(stand: Any, you: str, keys: list[int], clashes: bool) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), you, *((1.0, 0.2, midi) for midi in keys))
    assert bool(ears.yields(0.3, [("chords", 64)])) == clashes


@pytest.mark.parametrize(("apart", "clashes"), [(0.059, True), (0.061, False)])
def test_within_which_time_keys_are_one_chord(stand: Any, apart: float, clashes: bool) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "chords", (1.0, 0.2, 51), (1.0 + apart, 0.2, 58))
    assert bool(ears.yields(0.3, [("chords", 64)])) == clashes
    just = ears_after(stand.chart((CHANGES, "")), "chords", (0.0, 0.2, 51), (0.06, 0.2, 58))
    assert just.yields(0.3, [("chords", 64)]), "60 ms are within it"


@pytest.mark.parametrize(
    ("you", "midi", "needs"),
    [("solo", 75, 0.6), ("bass", 75, 1.6), ("bass,melody", 51, 1.6), ("bass,melody", 63, 0.6), ("chords", 39, 0.6)],
)
def test_how_long_a_single_key_is_held_until_it_counts(stand: Any, you: str, midi: int, needs: float) -> None:
    ears = ears_after(stand.chart((CHANGES, "| c8 | c8 | c8 | c8 | c8 | c8 | c8 | c8 |")), you, (10.0, 0.2, midi))
    assert ears.next_moment(10.0, 2.0) == pytest.approx(10.0 + needs / 2)
    assert ears.next_moment(10.0 + needs / 2, 2.0) is None
    assert not ears.yields(0.2 + needs - 0.01, [("chords", 64)])
    assert ears.yields(0.2 + needs, [("chords", 64)]) == [("chords", 64)]


@pytest.mark.parametrize(("midi", "needs"), [(51, 1.6), (52, 0.6)])
def test_of_who_plays_bass_and_melody_the_left_hand_ends_below_e3(stand: Any, midi: int, needs: float) -> None:
    """MIDI 52 is E3 (common practice); below it a key may be a walking bass."""
    ears = ears_after(stand.chart((CHANGES, "| c8 | c8 | c8 | c8 | c8 | c8 | c8 | c8 |")), "bass,melody")
    ears.key_down(10.0, 0.2, midi)
    assert ears.next_moment(10.0, 2.0) == pytest.approx(10.0 + needs / 2)


@pytest.mark.parametrize(
    ("struck", "here", "there"),
    [(7.4, True, False), (7.44, True, False), (7.45, False, True), (7.9, False, True)],
)
def test_what_comes_just_before_a_chord_belongs_to_it(stand: Any, struck: float, here: bool, there: bool) -> None:
    """A flat and C: over Cmaj7 the one is strange, over Fmaj7 it is its minor third."""
    ears = ears_after(stand.chart((CHANGES, "")), "chords", (1.0, struck, 56), (1.0, struck, 60))
    assert bool(ears.yields(7.95, [("chords", 67)])) == here
    assert bool(ears.yields(8.05, [("chords", 69)])) == there


@pytest.mark.parametrize(("struck", "there"), [(7.5, True), (7.5 - 1e-6, False)])
def test_half_a_beat_before_a_chord_is_just_near_enough_where_half_a_beat_is_allowed(
    stand: Any, struck: float, *, there: bool
) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "chords")
    ears.likes = replace(ears.likes, agree=replace(ears.likes.agree, early=0.5))
    for midi in (56, 60):
        ears.key_down(1.0, struck, midi)
    assert bool(ears.yields(8.05, [("chords", 69)])) == there
    other = ears_after(stand.chart((CHANGES, "")), "chords", *OTHER)
    other.likes = replace(other.likes, agree=replace(other.likes.agree, early=0.5))
    struck_then = other.judged(1.1, cue(struck, 64, "chords"), struck, 2.0, ())
    assert struck_then and struck_then.midi == (64 if there else 63), "so does what the companion strikes"


@pytest.mark.parametrize(("beat", "clashes"), [(7.9, True), (8.1, False), (8.7, False), (8.75, True)])
def test_what_is_held_over_into_a_new_chord_counts_after_a_while(stand: Any, beat: float, clashes: bool) -> None:
    """E flat, struck over Cmaj7 and held: over Fmaj7 it rubs with the seventh, E."""
    ears = ears_after(stand.chart((CHANGES, "")), "solo", (1.0, 5.0, 75))
    assert bool(ears.yields(beat, [("chords", 64)])) == clashes


@pytest.mark.parametrize(("off", "written"), [(-0.61, False), (-0.59, True), (0.0, True), (0.59, True), (0.61, False)])
@pytest.mark.parametrize("place", [8.0, 0.0, 32.0])
def test_a_note_of_the_melody_is_no_other_chord_near_its_place(
    stand: Any, off: float, written: bool, place: float
) -> None:
    """A flat is written on 0 and on 8, a sixteenth long each: over Cmaj7 nothing else would explain it."""
    line = "| ^G/z/z z2 z4 | z8 | ^G/z/z z2 z4 | z8 | z8 | z8 | z8 | z8 |"
    chart = stand.chart(("| Cmaj7 | % | % | % | % | % | % | % |", line))
    at = place + (off if off <= 0 else 0.25 + off)  # it is written as long as it sounds
    ears = ears_after(chart, "melody", (10.0, at, 80))
    assert (ears.next_moment(10.0, 2.0) is None) == written


@pytest.mark.parametrize(("late", "written"), [(-0.59, True), (0.25, True), (0.7, True), (0.9, False)])
def test_the_last_note_of_the_form_may_be_played_as_late_as_any_over_the_top(
    stand: Any, late: float, *, written: bool
) -> None:
    """A flat is written on the last half beat, up to 32."""
    chart = stand.chart(("| Cmaj7 | % | % | % | % | % | % | % |", "| z8 | z8 | z8 | z8 | z8 | z8 | z8 | z4 z2 z ^G |"))
    for turn in (0.0, 32.0):
        ears = ears_after(chart, "melody", (10.0, turn + (31.75 + late), 80))
        assert (ears.next_moment(10.0, 2.0) is None) == written


@pytest.mark.parametrize(
    ("charted", "meant", "midi", "moved"),
    [
        # D flat seven, a semitone above: the root goes to its root, the others to the nearest note that agrees.
        ("C7", (49, 53, 56, 59), 36, 37), ("C7", (49, 53, 56, 59), 48, 49), ("C7", (49, 53, 56, 59), 43, 44),
        ("C7", (49, 53, 56, 59), 55, 44),  # the highest of the bass's own is a G
        # C minor seven: its third lies below the lowest string of a double bass, E1 (common practice).
        ("Cmaj7", (48, 51, 55, 58), 40, 39), ("Cmaj7", (48, 51, 55, 58), 28, 39),
    ],
)  # fmt: skip
def test_where_a_bass_note_goes_that_clashes_with_what_is_meant(
    stand: Any, charted: str, meant: tuple[int, ...], midi: int, moved: int
) -> None:
    ears = ears_after(stand.chart((f"| {charted} | % | % | % |", "")), "chords", *((1.0, 0.0, key) for key in meant))
    assert ears.yields(0.5, [("bass", midi)]) and ears.moved(0.5, midi) == moved
    struck = ears.judged(1.1, cue(0.5, midi, "bass"), 0.5, 2.0, ())
    assert struck and struck.midi == moved


@pytest.mark.parametrize(
    ("meant", "struck"),
    [
        # From E1 to G3, on the beat before F: what clashes leads into F from a semitone, a tone or a fifth away.
        ((51, 55, 58), "39 29 30 31 32 31 34 36 36 37 39 39 39 41 42 43 44 43 46 48 48 49 51 51 51 53 54 55"),
        ((49, 53, 56, 59), "39 29 39 39 32 39 39 35 39 37 39 39 39 41 39 39 44 39 39 47 51 49 51 51 51 53 51 51"),
        ((45, 49, 52), "28 30 30 31 32 33 31 35 40 37 40 40 40 42 42 43 44 45 43 47 52 49 52 52 52 54 54 55"),
        ((56, 60, 63), "28 29 30 30 32 30 34 35 36 37 39 39 40 41 42 42 44 42 46 47 48 49 51 51 52 53 54 54"),
    ],
)  # fmt: skip
def test_how_the_bass_leads_out_of_another_chord(stand: Any, meant: tuple[int, ...], struck: str) -> None:
    """What it does today, kept: over C minor seven, D flat seven, A and A flat over Cmaj7."""
    ears = ears_after(stand.chart((CHANGES, "")), "chords", *((1.0, 0.0, key) for key in meant))
    found = [ears.judged(1.1, cue(7.0, midi, "bass"), 7.0, 2.0, ()) for midi in range(28, 56)]
    assert " ".join(str(note.midi) for note in found if note) == struck


def test_over_a_chord_of_one_beat_the_bass_gives_way_and_does_not_lead(stand: Any) -> None:
    """F minor seven over Fmaj7, on the second beat of a bar of four chords: to the nearest note that agrees."""
    chart = stand.chart(("| Cmaj7 Fmaj7 Dm7 G7 | Cmaj7 | % | % |", ""))
    ears = ears_after(chart, "chords", *((1.0, 1.0, midi) for midi in (56, 60, 63)))
    found = [ears.judged(1.1, cue(1.0, midi, "bass"), 1.0, 2.0, ()) for midi in (36, 40, 43, 45, 52, 55)]
    assert [note and note.midi for note in found] == [36, 39, 44, 44, 51, 44]


@pytest.mark.parametrize(("apart", "beat"), [(0.0, 0.1), (0.1, 0.7)])
@pytest.mark.parametrize(("keys", "root"), [((48, 52, 55, 57), 48), ((45, 48, 52, 55), 45), ((57, 60, 64, 67), 45)])
def test_the_lowest_note_says_which_of_two_chords_of_the_same_notes_is_meant(
    stand: Any, apart: float, beat: float, keys: tuple[int, ...], root: int
) -> None:
    """C, E, G and A are C6 over a C, Am7 over an A (common practice); struck together, or held one after the other."""
    chart = stand.chart(("| Bmaj7 | % | % | % |", ""))
    ears = ears_after(chart, "solo", *((1.0 + n * apart, 0.0, key) for n, key in enumerate(reversed(keys))))
    assert ears.yields(beat, [("bass", 47)]) and ears.moved(beat, 47) == root


@pytest.mark.parametrize(
    ("beat", "root"),
    [(6.0, 45), (6.09, 45), (6.11, None), (6.5, None), (5.85, None), (5.95, None), (22.0, 47)],
)
def test_in_doubt_a_chord_in_mid_bar_has_its_root_too(stand: Any, beat: float, root: int | None) -> None:
    ears = ears_after(stand.chart(stand.TEN), "melody")
    ears.believe(0.0)
    found = ears.judged(0.0, cue(beat, 43, "bass"), beat, 2.0, ())
    assert (found and found.midi) == root


def test_in_an_ending_the_roots_are_those_of_its_own_bars(stand: Any) -> None:
    """A tag of eight bars and the last chord, from beat 64 on."""
    chart = replace(stand.tune(), events=(Event("head"), Event("ending", how="tag")))
    told = Settings(order="chart", start=0.0)
    ending = OrderOfEvents(chart.unfold(), told, chart).plan[-1]
    ears = Reactions(told, ending)
    ears.believe(0.0)
    found = [ears.judged(0.0, cue(64.0 + float(bar), 43, "bass"), 64.0, 2.0, ()) for bar in ending.form.bars]
    roots = [ending.form.chord_at(bar).chord.bass_name for bar in ending.form.bars]
    assert ending.start == 64 and len(roots) == 9 and len({root.pc for root in roots if root}) > 2
    assert [note and note.midi % 12 for note in found] == [root and root.pc for root in roots]


def test_who_wants_a_single_note_of_a_chord_gets_its_third_or_fourth(stand: Any) -> None:
    ears = ears_after(stand.chart((CHANGES, "")), "solo")
    ears.likes = replace(ears.likes, busy=replace(ears.likes.busy, voices=(4, 1)))
    ears.beside(1.0)
    at = next(n / 2 for n in range(60) if wanted(ears, n / 2, "3"))
    assert [degree for degree in (*FIRST, *COLOURS, *FIFTHS) if wanted(ears, at, degree)] == ["b3", "3", "4"]


@pytest.mark.parametrize("chord", [8.0, 16.0, 24.0, 32.0, 64.0])
@pytest.mark.parametrize("late", [-1e-10, 0.0, 1e-10])
def test_what_is_held_over_into_the_first_chord_of_a_chorus_counts_no_sooner_than_into_another(
    stand: Any, chord: float, late: float
) -> None:
    """For three quarters of a beat it may be a suspension; what is struck with the chord is left as it is."""
    chart = stand.chart((CHANGES, ""))
    for key in (73, 75, 78, 80):
        ears = ears_after(chart, "solo", (1.0, chord - 2, key))
        for midi in range(60, 72):
            found = ears.judged(1.1, cue(chord + late, midi, "chords"), chord - 0.01, 2.0, ())
            assert found is not None and found.midi == midi
    ears = ears_after(chart, "solo", (1.0, 30.0, 75))
    assert ears.yields(32.7, [("chords", 64)]) == [] and ears.yields(32.8, [("chords", 64)]) == [("chords", 64)]
