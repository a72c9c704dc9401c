"""What a hand holds at once, counted and kept within its reach: a ninth, or what the pedal holds (common practice)."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.hands import hand_figures
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.treatments import names
from companion.chart.model import Form
from companion.load import load
from companion.messages import Hand, Part
from companion.music.pitch import pitch_in_key
from companion.resources import chart_names, chart_path

Composer = Callable[..., Form]
NINTH, TENTH = "a hand holds more than a ninth", "a hand holds more than a tenth"


def note(beat: float, length: float, midi: int, part: Part, hand: Hand = "right", pedal: bool = False) -> Note:
    return Note(Fraction(beat), Fraction(length), pitch_in_key(midi), part, hand, pedal=pedal)


def counted(form: Form, bass: list[Note], chords: list[Note], melody: list[Note]) -> dict[str, AuditFigure]:
    return {figure.name: figure for figure in hand_figures(form, [bass], [chords], [melody])}


def test_a_chord_too_far_below_the_melody_note_that_its_hand_holds_is_found(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    chord = [note(2, 1, midi, "chords") for midi in (60, 65, 69)]
    found = counted(form, [], chord, [note(0, 4, 77, "melody")])
    assert found[NINTH].value == found[TENTH].value == 1
    assert found[TENTH].places == ("bar 1 beat 3: C4 F4 A4 F5",)
    assert counted(form, [], chord, [note(0, 4, 74, "melody")])[NINTH].value == 0
    tenth = counted(form, [], chord, [note(0, 4, 76, "melody")])
    assert (tenth[NINTH].value, tenth[TENTH].value) == (1, 0)


def test_a_melody_note_too_far_above_a_chord_that_is_still_held_is_found(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    chord = [note(1, 3, midi, "chords") for midi in (53, 60)]
    assert counted(form, [], chord, [note(2, 1, 77, "melody")])[TENTH].value == 1
    assert counted(form, [], chord, [note(4, 1, 77, "melody")])[TENTH].of == 0


def test_the_hand_may_leave_what_the_pedal_holds_but_not_where_it_is_changed(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    melody, chord = [note(0, 8, 77, "melody")], [note(2, 1, midi, "chords") for midi in (53, 60)]
    assert counted(form, [note(0, 4, 38, "bass", "left", True)], chord, melody)[TENTH].value == 0
    at_the_bar = [note(4, 1, midi, "chords") for midi in (53, 60)]
    bass = [note(0, 4, 38, "bass", "left", True), note(4, 4, 43, "bass", "left", True)]
    assert counted(form, bass, at_the_bar, melody)[TENTH].value == 1


def test_what_is_struck_together_is_reached_together_pedal_or_not(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    struck = [note(2, 1, midi, "chords") for midi in (53, 60)], [note(2, 2, 77, "melody")]
    assert counted(form, [note(0, 4, 38, "bass", "left", True)], *struck)[TENTH].value == 1


def test_the_left_hand_holds_its_bass_and_the_lower_notes_of_a_chord(compose: Composer) -> None:
    form = compose("Cm7 | F7")
    low = [note(1, 3, midi, "chords", "left") for midi in (55, 62)]
    assert counted(form, [note(0, 4, 36, "bass", "left")], low, [])[TENTH].value == 1
    assert counted(form, [note(0, 4, 36, "bass", "left", True)], low, [])[TENTH].value == 0


@pytest.mark.parametrize(("number", "name"), list(enumerate(chart_names())))
def test_every_tune_of_ours_is_within_two_hands_in_its_own_treatments_and_in_others(number: int, name: str) -> None:
    form = load(chart_path(name)).unfold()
    seed = len(name) % 2
    for treatment in (None, *names()[number % 3 :: 3]):  # each meets a third of the tunes
        asked = Request(treatment=treatment, seed=seed)
        bass, chords, melody = (list(arrange(form, part, asked)) for part in ("bass", "chords", "melody"))
        figures = counted(form, bass, chords, melody)
        assert all(figure.reached for figure in figures.values()), (treatment, seed, figures)


@pytest.mark.parametrize("span", [12, 14])
def test_a_hand_that_takes_an_octave_gets_chords_for_it(compose: Composer, span: int) -> None:
    from companion.arrange.holding import let_go_for_chords

    form = compose("Cmaj7 | F7", melody=[(0, 4, 76)])
    chord = [note(1, 1, midi, "chords") for midi in (64, 67, 71)]
    lower = [note(2, 1, midi, "chords") for midi in (62, 67, 71)]
    (held,) = let_go_for_chords(form, [note(0, 4, 76, "melody")], [*chord, *lower], [], span)
    assert held.length == (4 if span == 14 else 2)


@pytest.mark.parametrize(("melody", "ninth", "tenth"), [(74, 0, 0), (75, 1, 0), (76, 1, 0), (77, 1, 1)])
def test_a_ninth_is_fourteen_semitones_and_a_tenth_sixteen(
    compose: Composer, melody: int, ninth: int, tenth: int
) -> None:
    form = compose("Dm7 | G7")
    found = counted(form, [], [note(0, 1, 60, "chords")], [note(0, 1, melody, "melody")])
    assert (found[NINTH].value, found[TENTH].value) == (ninth, tenth)
    assert (found[NINTH].at_most, found[TENTH].at_most) == (0.05, 0.0)


@pytest.mark.parametrize(("many", "found"), [(4, 0), (5, 1)])
def test_a_hand_has_five_fingers(compose: Composer, many: int, found: int) -> None:
    chord = [note(0, 1, 60 + 2 * n, "chords") for n in range(many)]
    fingers = counted(compose("Dm7 | G7"), [], chord, [note(0, 1, 72, "melody")])["a hand holds more than five notes"]
    assert (fingers.value, fingers.of, fingers.at_most) == (found, 1, 0.0)


def test_a_chord_that_sounds_into_the_next_chorus_is_held_there(compose: Composer) -> None:
    form = compose("Dm7 | G7")
    chord, low = [note(7, 2, 53, "chords")], [note(7, 1, 53, "chords")]
    assert counted(form, [], chord, [note(0, 1, 77, "melody")])[TENTH].value == 1
    assert counted(form, [], low, [note(0, 1, 77, "melody")])[TENTH].of == 0
    assert counted(form, [], chord, [note(1, 1, 77, "melody")])[TENTH].of == 0
