"""NoteByNote note by note: the right note moves the companion on, whenever it comes, and nothing else does."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.stage.note_by_note import NoteByNote, onsets_of
from companion.stage.settings import Settings


def tune(chords: str, melody: str) -> Form:
    """A tune at 60 with straight quavers."""
    return parse_toml(f"""
format = 1
title = "A Row of Notes"
key = "C major"
metre = "4/4"
tempo = 60
feel = "straight"
form = "A"

[section.A]
chords = "{chords}"
melody = "{melody}"
""").unfold()


SCALE = tune("| Cmaj7 | Dm7 | G7 | Cmaj7 |", "| c2 d2 e2 f2 | g2 a2 b2 c'2 | b2 a2 g2 f2 | e2 d2 c4 |")
C, D, E, F, G, A, B = 72, 74, 76, 77, 79, 81, 83
SETTINGS = Settings(time="patient", tempo=60, start=0.0)


@pytest.fixture
def waiting() -> NoteByNote:
    one = NoteByNote(SCALE, SETTINGS, onsets_of(SCALE, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    return one


def waited_for(waiting: NoteByNote) -> float:
    """The beat at which time stands still."""
    return round(waiting.waits_at + 0.02, 6)


def strike(waiting: NoteByNote, *keys: tuple[float, int]) -> float:
    """Strike keys at their moments; the beat that is waited for then."""
    for seconds, midi in keys:
        waiting.hear(seconds, midi)
    return waited_for(waiting)


def test_the_note_that_is_due_moves_it_on_whenever_it_comes(waiting: NoteByNote) -> None:
    assert strike(waiting, (0.0, C), (1.0, D), (9.0, E)) == 3.0
    assert waiting.due(2.0) == pytest.approx(9.0)


def test_beats_before_the_note_that_is_due_go_on_in_time(waiting: NoteByNote) -> None:
    strike(waiting, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G, A, B, 84, B, A, G, F, E, D, C])))
    assert waited_for(waiting) == 16.0  # the last one is held for two beats
    assert waiting.due(15.0) == pytest.approx(15.0, abs=0.02)


@pytest.mark.parametrize("wrong", [C + 1, D + 1, E + 1, F + 1, G + 1, G, A + 1, B])
def test_a_wrong_key_never_moves_it_on(waiting: NoteByNote, wrong: int) -> None:
    strike(waiting, (0.0, C))
    assert strike(waiting, (1.2, wrong), (2.6, wrong), (4.3, wrong)) == 1.0
    assert strike(waiting, (5.0, D)) == 2.0


def test_a_note_left_out_moves_it_on_with_the_next_one_in_time(waiting: NoteByNote) -> None:
    assert strike(waiting, (0.0, C), (2.0, E)) == 3.0


def test_after_long_thought_two_right_ones_are_needed(waiting: NoteByNote) -> None:
    assert strike(waiting, (0.0, C), (4.6, E)) == 1.0
    assert strike(waiting, (5.6, F)) == 4.0


def test_any_octave_is_right(waiting: NoteByNote) -> None:
    assert strike(waiting, (0.0, C - 12), (1.0, D + 12)) == 2.0


def test_who_begins_a_bar_again_is_found_with_its_third_note(waiting: NoteByNote) -> None:
    strike(waiting, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G, A])))
    assert strike(waiting, (8.0, C), (9.0, D)) == 6.0
    assert strike(waiting, (10.0, E)) == 3.0


def test_who_goes_on_elsewhere_is_found_with_the_fourth_note(waiting: NoteByNote) -> None:
    strike(waiting, (0.0, C), (1.0, D))
    assert strike(waiting, (3.2, B), (4.2, 84), (5.2, B), (6.2, A)) == 10.0


def test_one_wrong_key_in_a_phrase_that_comes_twice_makes_no_other_place() -> None:
    form = tune("| Cmaj7 | Dm7 | Cmaj7 | Cmaj7 |", "| c2 d2 e2 f2 | g8 | c2 d2 e2 a2 | g8 |")
    waiting = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    waiting.begin(0.0, 0.0)
    assert strike(waiting, (0.0, C), (1.0, D), (2.0, E), (3.4, A)) == 3.0


def test_the_tempo_is_what_the_right_notes_make_it_and_a_hesitation_changes_nothing(waiting: NoteByNote) -> None:
    strike(waiting, *((1.2 * n, midi) for n, midi in enumerate([C, D, E, F, G, A])))
    assert 60 * waiting.speed == pytest.approx(50, abs=2)
    strike(waiting, (12.0, B))
    assert 60 * waiting.speed == pytest.approx(50, abs=2)


def test_a_pickup_may_be_left_out() -> None:
    form = tune("| Cmaj7 | Dm7 |", "A2 B2 | c4 e4 | d8 |")
    waiting = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    waiting.begin(0.0, 0.0)
    assert waited_for(waiting) == -2.0
    assert strike(waiting, (3.0, C)) == 2.0


def test_free_parts_have_no_row_of_notes() -> None:
    form: Form = SCALE
    assert onsets_of(form, frozenset({"chords", "bass"}), 60) == ()


# Moments and counts exactly on a limit


@pytest.mark.parametrize(("off", "believed"), [(-0.26, False), (-0.25, True), (0.0, True), (0.25, True), (0.26, False)])
def test_a_note_left_out_is_believed_a_quarter_of_a_beat_early_and_late(
    waiting: NoteByNote, off: float, believed: bool
) -> None:
    strike(waiting, (0.0, C))
    assert strike(waiting, (2.0 + off, E)) == (3.0 if believed else 1.0)


@pytest.mark.parametrize(("left_out", "awaited"), [(1, 3.0), (2, 4.0), (3, 5.0), (4, 1.0)])
def test_three_notes_may_be_left_out_at_a_time_and_four_may_not(
    waiting: NoteByNote, left_out: int, awaited: float
) -> None:
    strike(waiting, (0.0, C))
    assert strike(waiting, (1.0 + left_out, (D, E, F, G, A)[left_out])) == awaited


@pytest.mark.parametrize("key", [D, E])
def test_the_note_left_out_may_still_come_and_moves_nothing_for_good(waiting: NoteByNote, key: int) -> None:
    """Who strikes 4, then puts 2 or 3 in after all, and goes on."""
    strike(waiting, (0.0, C), (3.0, F), (3.3, key), (4.0, F))
    assert strike(waiting, (5.0, G)) == 5.0


@pytest.mark.parametrize("after", [0.0, 0.1, 0.15])
def test_the_same_key_again_at_once_says_nothing_new(waiting: NoteByNote, after: float) -> None:
    strike(waiting, (0.0, C), (1.25, D))
    speed = waiting.speed
    assert strike(waiting, (1.25 + after, D), (1.25 + after, D + 12)) == 2.0
    assert waiting.since == 1.25 and waiting.speed == speed


@pytest.mark.parametrize(
    ("took", "speed"),
    [
        (1 / 1.5, 1.5**0.35),  # as much faster as a player may become
        (1 / 1.51, 1.0),  # a slip
        (1 / 0.6, 0.6**0.35),
        (1 / 0.59, 1.0),  # a hesitation
        (1.0, 1.0),
    ],
)
def test_of_a_new_tempo_a_third_is_taken_over_unless_it_is_a_slip_or_a_hesitation(
    waiting: NoteByNote, took: float, speed: float
) -> None:
    strike(waiting, (0.0, C), (took * 0.9999 if took > 1 else took * 1.0001, D))
    assert waiting.speed == pytest.approx(speed, rel=1e-3)


@pytest.mark.parametrize(
    ("melody", "beats", "told_by"), [("| c4 d4 | z8 |", 2, 2), ("| c8 | d8 |", 4, 4), ("| c8- | c4 d4 |", 6, 4)]
)
def test_the_longer_a_note_the_more_it_tells_of_the_tempo_up_to_four_beats(
    melody: str, beats: int, told_by: int
) -> None:
    """Of the old tempo 0.65 is kept in each beat."""
    chart = tune("| Cmaj7 | % |", melody)
    one = NoteByNote(chart, SETTINGS, onsets_of(chart, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    strike(one, (0.0, C), (beats / 0.8, D))
    assert one.speed == pytest.approx(0.8 ** (1 - 0.65**told_by))


def test_the_place_goes_on_in_time_and_stands_still_just_before_what_is_awaited(waiting: NoteByNote) -> None:
    assert waiting.place(0.0) == waiting.place(9.0) == 0.0  # nothing was struck
    strike(waiting, (0.0, C))
    assert [waiting.place(seconds) for seconds in (0.0, 0.5, 0.98, 1.0, 50.0)] == pytest.approx(
        [0, 0.5, 0.98, 0.98, 0.98]
    )


@pytest.mark.parametrize(
    ("beat", "awaited"),
    [(-4.0, -4.0), (0.0, 0.0), (3.0, 3.0), (3.02, 3.0), (3.5, 4.0), (15.0, 16.0), (16.0, 16.0), (18.5, 19.0)],
)
def test_counted_in_anywhere_the_first_note_from_there_on_is_awaited(
    waiting: NoteByNote, beat: float, awaited: float
) -> None:
    waiting.begin(beat, 5.0)
    assert waited_for(waiting) == awaited and waiting.since == 5.0 and waiting.begun


def test_before_it_has_begun_keys_say_nothing() -> None:
    one = NoteByNote(SCALE, SETTINGS, onsets_of(SCALE, frozenset({"melody"}), 60))
    assert not one.begun and one.since == float("-inf")
    assert strike(one, (0.0, C), (1.0, D)) == 0.0 and not one.begun


def test_each_bar_opens_with_its_first_note_and_pitches_are_of_any_octave() -> None:
    onsets = onsets_of(SCALE, frozenset({"melody"}), 60)
    assert [onset.beat for onset in onsets] == [*map(float, range(15))]
    assert [onset.opens_bar for onset in onsets] == [n % 4 == 0 for n in range(15)]
    assert [set(onset.pitches) for onset in onsets[:8]] == [{0}, {2}, {4}, {5}, {7}, {9}, {11}, {0}]
    assert all(onset.sounds == onset.beat for onset in onsets)


def test_the_form_comes_round_again_a_form_later(waiting: NoteByNote) -> None:
    scale = [C, D, E, F, G, A, B, 84, B, A, G, F, E, D, C]
    strike(waiting, *((float(n), midi) for n, midi in enumerate(scale)))
    assert strike(waiting, *((16.0 + n, midi) for n, midi in enumerate(scale[:3]))) == 19.0
    assert waiting.place(18.5) == pytest.approx(18.5)


@pytest.mark.parametrize(
    ("played", "keys", "awaited"),
    [
        (6, [C, D, E], 3.0),  # from the head of a bar that is over: three
        (6, [C, D], 6.0),
        (6, [D, E, F], 6.0),  # from within it: four
        (6, [D, E, F, G], 5.0),
        (2, [B, A, G], 2.0),  # from the head of a bar to come: four
        (2, [B, A, G, F], 12.0),
        (5, [F, E, D, C], 16.0),  # to the last note of the form
    ],
)
def test_who_begins_elsewhere_is_found_with_the_third_note_of_a_bar_gone_by_and_the_fourth_of_any_place(
    waiting: NoteByNote, played: int, keys: list[int], awaited: float
) -> None:
    strike(waiting, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G, A][:played])))
    assert strike(waiting, *((40.3 + 1.7 * n, midi) for n, midi in enumerate(keys))) == awaited


SAME = "| c2 c2 c2 d2 | d2 c2 e2 f2 | g2 a2 b2 g2 | g8 |"
"""A bar that begins with one note three times over."""


@pytest.mark.parametrize(("after", "awaited"), [(0.1, 6.0), (0.15, 6.0), (0.16, 3.0), (0.3, 3.0)])
def test_a_key_struck_again_within_a_seventh_of_a_second_is_not_the_bar_begun_again(
    after: float, awaited: float
) -> None:
    form = tune("| Cmaj7 | Dm7 | G7 | Cmaj7 |", SAME)
    one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    for late in (0.0, 8.0) if after != 0.15 else (0.0,):
        one.begin(0.0, late - 5.0)
        strike(one, *((late + n - 5.0, midi) for n, midi in enumerate([C, C, C, D, D, C])))
        assert strike(one, (late + after, C), (late + after, C)) == awaited
        one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))


def test_two_onsets_struck_at_one_moment_say_nothing_of_the_tempo(waiting: NoteByNote, quick: NoteByNote) -> None:
    assert strike(waiting, (0.0, C), (0.0, D), (0.0, E)) == 3.0
    assert waiting.speed == 1.0 and waiting.since == 0.0
    assert strike(quick, (10.0, C), (10.0, D), (10.0, E)) == 3.0
    assert quick.speed == 2.0 and quick.since == 10.0


def test_counted_in_at_the_second_bar_the_first_note_of_the_form_is_a_wrong_key(waiting: NoteByNote) -> None:
    waiting.begin(4.0, 0.0)
    assert strike(waiting, (1.3, C)) == 4.0


def test_of_two_bars_alike_the_nearer_one_is_begun_again() -> None:
    form = tune("| Cmaj7 | Dm7 | Cmaj7 | G7 |", "| c2 d2 e2 f2 | g2 a2 g2 a2 | c2 d2 e2 f2 | g2 a2 b2 g2 |")
    one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    strike(one, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G, A, G, A, C, D, E, F])))
    assert strike(one, (20.3, C), (22.0, D), (23.7, E)) == 11.0


@pytest.fixture
def quick() -> NoteByNote:
    """At 120, of a tune at 60; begun at second 10."""
    one = NoteByNote(SCALE, Settings(time="patient", tempo=120), onsets_of(SCALE, frozenset({"melody"}), 120))
    one.begin(0.0, 10.0)
    return one


def test_twice_as_fast_and_later_the_place_goes_on_at_two_beats_a_second(quick: NoteByNote) -> None:
    strike(quick, (10.0, C))
    assert quick.speed == 2.0 and quick.since == 10.0
    assert [quick.place(at) for at in (10.0, 10.25, 10.4, 11.0)] == pytest.approx([0.0, 0.5, 0.8, 0.98])
    assert [quick.due(beat) for beat in (0.0, 1.0, 3.0)] == pytest.approx([10.0, 10.5, 11.5])
    own = NoteByNote(SCALE, Settings(time="patient"), onsets_of(SCALE, frozenset({"melody"}), 60))
    assert own.speed == 1.0, "by the tune's own tempo where none is wished"


@pytest.mark.parametrize(
    ("off", "believed"), [(-0.13, False), (-0.125, True), (0.0, True), (0.12, True), (0.13, False)]
)
def test_a_note_left_out_is_believed_by_beats_and_not_by_seconds(
    quick: NoteByNote, off: float, *, believed: bool
) -> None:
    strike(quick, (10.0, C), (10.5, D))
    assert strike(quick, (11.5 + off, F)) == (4.0 if believed else 2.0)


@pytest.mark.parametrize(
    ("took", "speed"), [(0.6, 2 * (0.5 / 0.6) ** 0.35), (0.4, 2 * 1.25**0.35), (0.9, 2.0), (0.3, 2.0), (0.5, 2.0)]
)
def test_a_new_tempo_is_measured_against_the_one_that_was(quick: NoteByNote, took: float, speed: float) -> None:
    strike(quick, (10.0, C), (10.0 + took, D))
    assert quick.speed == pytest.approx(speed)


@pytest.mark.parametrize(("took", "speed"), [(5.0, 0.6), (2.0, 1.5)])
def test_just_as_slow_and_as_fast_as_is_allowed_is_a_new_tempo(took: float, speed: float) -> None:
    """Three beats in five seconds, and in two."""
    form = tune("| Cmaj7 | Dm7 |", "| c6 d2 | e8 |")
    one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    strike(one, (0.0, C), (took, D))
    assert one.speed == pytest.approx(speed ** (1 - 0.65**3))


def row_of(melody: str) -> NoteByNote:
    """A tune that begins at second 0, a beat a second."""
    form = tune("| Cmaj7 | Dm7 | Cmaj7 | G7 |", melody)
    one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    return one


def test_with_one_wrong_key_no_bar_gone_by_is_begun_again() -> None:
    one = row_of("| c2 d2 a2 f2 | g2 a2 g2 a2 | c2 d2 e2 f2 | g8 |")
    strike(one, *((float(n), midi) for n, midi in enumerate([C, D, A, F, G, A, G, A, C, D])))
    assert strike(one, (10.3, A)) == 10.0


def test_what_was_found_elsewhere_counts_as_right_from_then_on() -> None:
    """The second bar is begun again; then a wrong key after two right ones is no beginning of the first."""
    one = row_of("| e2 f2 a2 b2 | c2 d2 e2 f2 | g2 b2 g2 b2 | g8 |")
    strike(one, *((float(n), midi) for n, midi in enumerate([E, F, A, B, C, D, E, F, G, B])))
    assert strike(one, (20.3, C), (22.0, D), (23.7, E)) == 7.0
    assert strike(one, (25.0, F), (26.3, A)) == 8.0


@pytest.mark.parametrize("keys", [[D, C, C, D], [E, D, C, C]])
def test_a_row_over_the_end_of_the_form_is_no_other_place(waiting: NoteByNote, keys: list[int]) -> None:
    strike(waiting, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G])))
    assert strike(waiting, *((40.3 + 1.7 * n, midi) for n, midi in enumerate(keys))) == 5.0


@pytest.mark.parametrize("pickup", ["B2", "A2 B2", "G2 A2 B2"])
def test_whoever_leaves_the_pickup_out_begins_with_the_form_and_no_wrong_key_does(pickup: str) -> None:
    form = tune("| Cmaj7 | Dm7 |", f"{pickup} | c4 e4 | d8 |")
    one = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    begins = waited_for(one)
    assert begins < 0 and strike(one, (1.0, F)) == begins
    assert strike(one, (3.0, C)) == 2.0


def test_a_written_bass_is_a_row_of_notes_for_who_plays_the_bass() -> None:
    form = parse_toml("""
format = 1
key = "C major"
metre = "4/4"
tempo = 60
feel = "straight"
[section.A]
chords = "| C6 |"
melody = "| c4 e4 |"
[[arrangement]]
section = "A"
bass = "| C,2 E,2 G,2 C2 |"
""").unfold()

    def row(*you: str) -> list[tuple[float, set[int]]]:
        return [(onset.beat, set(onset.pitches)) for onset in onsets_of(form, frozenset(you), 60)]

    assert row("bass") == [(0, {0}), (1, {4}), (2, {7}), (3, {0})]
    assert row("melody") == [(0, {0}), (2, {4})] and row("chords") == []
    assert row("melody", "bass") == [(0, {0}), (1, {4}), (2, {4, 7}), (3, {0})]


def test_in_the_second_chorus_a_bar_is_begun_again_there(waiting: NoteByNote) -> None:
    scale = [C, D, E, F, G, A, B, 84, B, A, G, F, E, D, C]
    strike(waiting, *((float(n), midi) for n, midi in enumerate(scale)))
    strike(waiting, *((16.0 + n, midi) for n, midi in enumerate(scale[:6])))
    assert strike(waiting, (40.3, C), (42.0, D), (43.7, E)) == 19.0
