"""NoteByNote note by note: the right note moves the companion on, whenever it comes, and nothing else does."""

from __future__ import annotations

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.stage.note_by_note import NoteByNote, onsets_of
from companion.stage.settings import Settings

SCALE = parse_toml("""
format = 1
title = "Up and Down"
key = "C major"
metre = "4/4"
tempo = 60
feel = "straight"
form = "A"

[section.A]
chords = "| Cmaj7 | Dm7 | G7 | Cmaj7 |"
melody = "| c2 d2 e2 f2 | g2 a2 b2 c'2 | b2 a2 g2 f2 | e2 d2 c4 |"
""").unfold()
C, D, E, F, G, A, B = 72, 74, 76, 77, 79, 81, 83
SETTINGS = Settings(time="patient", tempo=60, start=0.0)


@pytest.fixture
def waiting() -> NoteByNote:
    one = NoteByNote(SCALE, SETTINGS, onsets_of(SCALE, frozenset({"melody"}), 60))
    one.begin(0.0, 0.0)
    return one


def strike(waiting: NoteByNote, *keys: tuple[float, int]) -> float:
    """Strike keys at their moments; the beat that is waited for then."""
    for seconds, midi in keys:
        waiting.hear(seconds, midi)
    return waiting.awaited


def test_the_note_that_is_due_moves_it_on_whenever_it_comes(waiting: NoteByNote) -> None:
    assert strike(waiting, (0.0, C), (1.0, D), (9.0, E)) == 3.0
    assert waiting.due(3.0) == float("inf")
    assert waiting.due(2.0) == pytest.approx(9.0)


def test_beats_before_the_note_that_is_due_go_on_in_time(waiting: NoteByNote) -> None:
    strike(waiting, *((float(n), midi) for n, midi in enumerate([C, D, E, F, G, A, B, 84, B, A, G, F, E, D, C])))
    assert waiting.awaited == 16.0  # the last one is held for two beats
    assert waiting.due(15.0) == pytest.approx(15.0, abs=0.02)
    assert waiting.due(16.0) == float("inf")


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
    form = parse_toml("""
format = 1
title = "Twice"
key = "C major"
metre = "4/4"
tempo = 60
feel = "straight"
form = "A"

[section.A]
chords = "| Cmaj7 | Dm7 | Cmaj7 | Cmaj7 |"
melody = "| c2 d2 e2 f2 | g8 | c2 d2 e2 a2 | g8 |"
""").unfold()
    waiting = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    waiting.begin(0.0, 0.0)
    assert strike(waiting, (0.0, C), (1.0, D), (2.0, E), (3.4, A)) == 3.0


def test_the_tempo_is_what_the_right_notes_make_it_and_a_hesitation_changes_nothing(waiting: NoteByNote) -> None:
    strike(waiting, *((1.2 * n, midi) for n, midi in enumerate([C, D, E, F, G, A])))
    assert 60 * waiting.speed == pytest.approx(50, abs=2)
    strike(waiting, (12.0, B))
    assert 60 * waiting.speed == pytest.approx(50, abs=2)


def test_a_pickup_may_be_left_out() -> None:
    form = parse_toml("""
format = 1
title = "With a Pickup"
key = "C major"
metre = "4/4"
tempo = 60
feel = "straight"
form = "A"

[section.A]
chords = "| Cmaj7 | Dm7 |"
melody = "A2 B2 | c4 e4 | d8 |"
""").unfold()
    waiting = NoteByNote(form, SETTINGS, onsets_of(form, frozenset({"melody"}), 60))
    waiting.begin(0.0, 0.0)
    assert waiting.awaited == -2.0
    assert strike(waiting, (3.0, C)) == 2.0


def test_free_parts_have_no_row_of_notes() -> None:
    form: Form = SCALE
    assert onsets_of(form, frozenset({"chords", "bass"}), 60) == ()
