"""The slots of a bass line: what is known of each place that is struck."""

from __future__ import annotations

import random
from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.bass.slots import Slot, slots
from companion.arrange.bass.strikes import BassStrike, bass_strikes, beat_of, on_thirds
from companion.chart.model import Form
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences

Composer = Callable[..., Form]
BASS = preferences(BassPreferences)


def struck(form: Form, *places: tuple[float, str] | tuple[float, str, str]) -> tuple[Slot, ...]:
    """Slots at some beats, each with its role and its pattern (a walk unless told)."""
    strikes = [BassStrike(Fraction(one[0]), one[1], one[2] if len(one) > 2 else "walking") for one in places]  # type: ignore[arg-type]
    return slots(BASS, form, strikes)


def walked(form: Form) -> tuple[Slot, ...]:
    return struck(form, *((beat, "walk") for beat in range(int(form.length))))


def test_a_chord_is_new_where_its_label_is_and_what_comes_before_leads(compose: Composer) -> None:
    found = walked(compose("C | C | F G | F"))
    assert [n for n, slot in enumerate(found) if slot.new] == [0, 8, 10, 12]
    assert [n for n, slot in enumerate(found) if slot.leads] == [7, 9, 11, 15]
    assert [slot.bar for slot in found] == [n // 4 + 1 for n in range(16)]
    assert [n for n, slot in enumerate(found) if slot.downbeat] == [0, 4, 8, 12]
    assert {slot.length for slot in found} == {1} and {slot.hold for slot in found} == {Fraction(9, 10)}


def test_how_long_a_chord_has_been_there_and_lasts(compose: Composer) -> None:
    found = walked(compose("C | C | C G | G | F F"))
    assert [(slot.since, slot.lasts) for slot in found[::2]] == [
        (0, 3), (0, 3), (1, 3), (1, 3), (2, 3), (0, 2), (1, 2), (1, 2), (0, 1), (0, 1),
    ]  # fmt: skip


def test_the_middle_of_a_bar_is_that_of_four_beats_and_one_chord(compose: Composer) -> None:
    assert [n for n, slot in enumerate(walked(compose("C | F G | C | C"))) if slot.middle] == [2, 10, 14]
    assert not any(slot.middle for slot in walked(compose("C | F", metre="3/4")))
    assert [n for n, slot in enumerate(walked(compose("C | F", metre="6/4"))) if slot.middle] == [3, 9]


def test_nothing_leads_into_silence_and_a_chord_after_it_is_new(compose: Composer) -> None:
    found = walked(compose("C | N.C. | F | C"))
    assert [n for n, slot in enumerate(found) if slot.new] == [0, 8, 12]
    assert [n for n, slot in enumerate(found) if slot.leads] == [7, 11, 15]


def test_a_note_ahead_of_the_bar_line_belongs_to_the_next_chord(compose: Composer) -> None:
    found = struck(compose("C | F"), (1.5, "fifth", "tumbao"), (3, "ahead", "tumbao"), (5.5, "fifth", "tumbao"),
                   (7, "ahead", "tumbao"))  # fmt: skip
    assert [slot.harmony.root for slot in found] == [0, 5, 5, 0]
    assert [slot.new for slot in found] == [False, True, False, True], "the first was said ahead"
    assert [slot.length for slot in found] == [Fraction(3, 2), Fraction(5, 2), Fraction(3, 2), 1]


def test_another_pattern_begins_anew(compose: Composer) -> None:
    found = struck(compose("C | C"), (0, "root", "in-two"), (2, "fifth", "in-two"), (4, "walk"), (5, "walk"))
    assert [slot.new for slot in found] == [True, False, True, False]
    assert [slot.pedal for slot in struck(compose("C | C"), (0, "root", "roots"), (4, "root"))] == [True, False]


@pytest.mark.parametrize(
    ("pattern", "before", "changes", "role"),
    [
        ("bossa", "fifth", "C | C", "root"),  # in a pattern that is kept, what leads nowhere is root or fifth
        ("bossa", "octave", "C | C", "fifth"),
        ("bossa", "fifth", "C | F", "lead"),
        ("in-two", "fifth", "C | C", "lead"),
    ],
)
def test_what_leads_to_no_other_chord_is_root_or_fifth_where_a_pattern_is_kept(
    compose: Composer, pattern: str, before: str, changes: str, role: str
) -> None:
    found = struck(compose(changes), (0, "root", pattern), (2, before, pattern), (3.5, "lead", pattern),
                   (4, "root", pattern), (6, "fifth", pattern))  # fmt: skip
    assert (found[2].role, found[1].role) == (role, before)


# where it is struck


@pytest.mark.parametrize(
    ("changes", "told", "thirds"),
    [
        ("F | C | Dm7 | G7", {}, (4,)),  # F, E, D
        ("Dm7 | C | F | G7", {}, (4,)),  # D, E, F
        ("F | Cm7 | Dm7 | G7", {}, (4,)),  # F, E flat, D
        ("Ab | Cm7 | Dm7 | G7", {}, ()),
        ("Gm7 | F7 | Bb6 | Bb6", {}, (4,)),  # G, A, B flat
        ("Eb | Bdim7 | Cm7 | C", {}, ()),  # under no fifth
        ("F | C/G | Dm7 | G7", {}, ()),
        ("G7 | C | Dm7 | G7", {}, ()),
        ("F | C Bb | Dm7 | G7", {}, ()),
        ("F C | Dm7 | G7", {}, (2,)),  # two beats are enough
        ("F C Dm7 G7 | C", {}, ()),  # one is not
        ("F | C | C | Dm7", {}, ()),  # nor may it last longer than a bar
        ("F | C | Dm7 | G7", {"sections": [("A", 1, None), ("B", 3, None)]}, ()),  # no section begins so
        ("F | C | Dm7", {"metre": "3/4"}, (3,)),
        ("C | Dm7 | F", {}, ()),  # neither the first nor the last of all
        ("F | N.C. | Dm7 | G7", {}, ()),
    ],
)
def test_a_chord_stands_on_its_third_by_step_between_its_neighbours(
    compose: Composer, changes: str, told: dict[str, object], thirds: tuple[int, ...]
) -> None:
    assert on_thirds(compose(changes, **told)) == thirds


@pytest.mark.parametrize(
    ("metre", "tempo", "length", "beat"),
    [
        ("4/4", 120, 4, 1),
        ("6/8", 120, 3, 1.5),
        ("7/8", 120, 3.5, 1),
        ("2/4", 120, 1.5, 0.5),  # a bar of three quavers
        ("2/4", 126, 1.5, 0.5),
        ("2/4", 127, 1.5, 1.5),  # too fast for quavers
        ("2/4", 120, 2, 1),
        ("2/4", 120, 2.5, 1),
    ],
)
def test_a_beat_of_a_bar(compose: Composer, metre: str, tempo: float, length: float, beat: float) -> None:
    assert BASS.quavers.fastest == 252
    form = compose("C | F", metre=metre, tempo=float(tempo))
    found = beat_of(BASS.quavers, form, Fraction(length))
    assert found == form.metre.pulse if metre == "7/8" else found == beat


@pytest.mark.parametrize(
    ("pattern", "metre", "changes", "beats"),
    [
        ("roots", "4/4", "C | F G | C", [0, 4, 6, 8]),
        ("roots", "3/4", "C | F G | C", [0, 3, 4.5, 6]),
        ("pedal", "4/4", "C F | G", [0, 4]),
        ("walking", "4/4", "C | F", [0, 1, 2, 3, 4, 5, 6, 7]),
        ("walking", "6/8", "C | F", [0, 1.5, 3, 4.5]),
        ("roots", "4/4", "C | C | C", [0, 4, 8]),
    ],
)
def test_a_pattern_strikes_the_bars_and_the_chords_that_begin_between(
    compose: Composer, pattern: str, metre: str, changes: str, beats: list[float]
) -> None:
    form = compose(changes, metre=metre, tempo=250.0)
    found = bass_strikes(BASS, form, ((Fraction(0), form.length, pattern),), random.Random(3))
    assert set(beats) <= {float(one.beat) for one in found}
    if pattern == "roots":
        assert [one.beat for one in found] == beats and {one.role for one in found} == {"root"}


def test_a_stretch_has_its_own_pattern_from_its_first_bar_to_before_the_next(compose: Composer) -> None:
    form = compose("C | F | G | C")
    stretches = ((Fraction(0), Fraction(8), "roots"), (Fraction(8), form.length, "walking"))
    found = bass_strikes(BASS, form, stretches, random.Random(3))
    assert [one.beat for one in found if one.pattern == "roots"] == [0, 4]
    assert {int(one.beat) for one in found if one.pattern == "walking"} == set(range(8, 16))
