"""The plan: which treatment rules where, and arranging as the other rooms ask for it."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import USUAL, Request
from companion.chart.model import Form
from companion.errors import ConfigError, UseError
from companion.music.pitch import Pitch

Composer = Callable[..., Form]
MELODY_ALONE = Request(player=frozenset({"melody"}))
"""The melody in a hand of its own."""


def test_each_section_has_its_own_treatment(compose: Composer) -> None:
    form = compose(" | ".join(["Gm7"] * 8), sections=[("A", 4, "walking"), ("B", 4, "sparse")])
    assert [(int(a), int(b), t.name) for a, b, t in plan(form)] == [(0, 16, "walking"), (16, 32, "sparse")]
    bass = arrange(form, "bass")
    assert sum(n.weight >= 0.6 and n.beat < 16 and n.beat.denominator == 1 for n in bass) == 16
    assert sum(n.beat >= 16 for n in bass) == 4


def test_one_treatment_may_rule_the_whole_form(compose: Composer) -> None:
    form = compose(" | ".join(["Gm7"] * 8), sections=[("A", 4, "walking"), ("B", 4, "sparse")])
    assert [t.name for _, _, t in plan(form, "in-two")] == ["in-two"]
    downbeats = [n for n in arrange(form, "bass", Request(treatment="in-two")) if n.beat % 4 in (0, 2)]
    assert len(downbeats) == 16


@pytest.mark.parametrize(
    ("how", "name"),
    [
        ({"tempo": 160.0}, "walking"),
        ({"tempo": 56.0}, "ballad"),
        ({"tempo": 56.0, "metre": "3/4"}, "ballad"),
        ({"tempo": 56.0, "feel": "straight"}, "ballad"),
        ({"metre": "3/4"}, "waltz"),
        ({"metre": "6/8", "feel": "straight"}, "waltz"),
        ({"metre": "2/4"}, "in-two"),
        ({"metre": "5/4"}, "walking"),
        ({"feel": "straight"}, "bossa"),
        ({"feel": "bossa"}, "bossa"),
        ({"feel": "latin"}, "tumbao"),
        ({"feel": "shuffle"}, "walking"),
    ],
)
def test_a_section_without_a_treatment_gets_what_suits_it(compose: Composer, how: dict[str, object], name: str) -> None:
    assert plan(compose("Gm7 | C7", **how))[0][2].name == name


@pytest.mark.parametrize(
    ("form", "treatments"),
    [
        ("A A B A", ["walking", "walking", "sparse", "walking"]),
        ("A1 A2 B A3", ["walking", "walking", "sparse", "walking"]),
        ("A B A C", ["walking"] * 4),
        ("A A B", ["walking"] * 3),
        ("A A B B", ["walking"] * 4),
    ],
)
def test_a_bridge_is_proposed_to_be_sparse(compose: Composer, form: str, treatments: list[str]) -> None:
    sections = [(name, 2, None) for name in form.split()]
    made = compose(" | ".join(["Gm7"] * 2 * len(sections)), sections=sections)
    assert [t.name for _, _, t in plan(made)] == treatments


def test_an_unknown_treatment_or_part_is_named_with_what_there_is(compose: Composer) -> None:
    with pytest.raises(ConfigError, match="strolling") as error:
        arrange(compose("C"), "bass", Request(treatment="strolling"))
    assert "walking" in str(error.value)
    with pytest.raises(UseError, match="drums"):
        arrange(compose("C"), "drums")


def test_chords_look_at_the_melody_unless_a_soloist_stands_in_its_place(compose: Composer) -> None:
    form = compose("Cmaj7 | F7 | Cmaj7 | G7", melody=[(k / 2, 0.5, 60 + k % 5) for k in range(32)])
    assert len(arrange(form, "chords", Request(treatment="walking"))) < 10
    behind = arrange(form, "chords", Request(treatment="walking", player=frozenset({"solo"})))
    assert len({n.beat for n in behind}) >= 4


def test_the_melody_is_played_as_written(minor_swing: Form) -> None:
    notes = arrange(minor_swing, "melody", MELODY_ALONE)
    assert [(n.beat, n.length, n.pitch) for n in notes] == [(m.beat, m.length, m.pitch) for m in minor_swing.melody]


def test_a_melody_note_is_let_go_only_where_its_hand_can_t_reach_the_chord(minor_swing: Form) -> None:
    """A ninth is what a hand holds (common practice)."""
    chords = arrange(minor_swing, "chords")
    for note, whole in zip(arrange(minor_swing, "melody"), minor_swing.melody, strict=True):
        end = note.beat + note.length
        if note.length < whole.length:
            assert "let go for the chord" in note.reason
            assert note.midi - min(n.midi for n in chords if n.beat == end) > 14
        held = [n.midi for n in chords if note.beat < n.beat < end]
        assert all(note.midi - midi <= 14 for midi in held)


def test_a_melody_is_turned_when_its_section_comes_again(compose: Composer) -> None:
    phrase = [(0, 1, 67), (1, 1, 69), (2, 1, 71), (3, 1, 72), (4, 2, 74), (6, 2, 67)]
    melody = [(8 * k + b, n, p) for k in range(2) for b, n, p in phrase]
    form = compose("C | G7 | C | G7", melody=melody, sections=[("A", 2, "turned"), ("A", 2, "turned")])
    notes = arrange(form, "melody", MELODY_ALONE)
    first, again = notes[:6], notes[6:]
    assert [n.midi for n in first] == [p for _, _, p in phrase]
    assert [n.length for n in again] == [n.length for n in first]
    assert [n.midi for n in again] != [n.midi for n in first]
    assert again[0].midi == first[0].midi and again[-1].midi == first[-1].midi
    assert all(n.degree in ("1", "3", "5", "b7") for n in again if n.beat % 1 == 0)


def test_a_melody_may_be_dropped_for_its_last_bars(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7", "G7"] * 8), melody=[(4 * k, 2, 74) for k in range(16)])
    assert max(n.beat for n in arrange(form, "melody", Request(treatment="sliding"))) < 32


def test_notes_come_in_order_of_beat(minor_swing: Form) -> None:
    for part in ("bass", "chords", "melody"):
        found = [n.beat for n in arrange(minor_swing, part)]
        assert found == sorted(found)


def test_unless_asked_otherwise_it_is_the_first_chorus_and_a_note_is_the_right_hands_first_voice() -> None:
    assert (USUAL.treatment, USUAL.chorus, USUAL.seed, USUAL.player, USUAL.free, USUAL.first, USUAL.style) == (
        None, 1, 0, frozenset(), False, None, None
    )  # fmt: skip
    note = Note(Fraction(0), Fraction(1), Pitch("C", 0, 4), "chords")
    assert (note.hand, note.voice, note.weight, note.pedal, note.midi) == ("right", 1, 1.0, False, 60)
