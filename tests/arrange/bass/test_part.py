"""The bass as a part: why each note is there, ghosted skips, and rests where no chord is written (common practice)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.bass.part import _Around, _may_skip, _reason, _silent, _skips, _until, _where, _with_skip, passes
from companion.arrange.bass.slots import Slot
from companion.arrange.harmony import harmonies
from companion.arrange.part import Note
from companion.chart.model import Form
from companion.music.pitch import pitch_in_key
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from tests.arrange.dice import Thrown

Composer = Callable[..., Form]
BASS = preferences(BassPreferences)
F = Fraction


@pytest.fixture(scope="module")
def slot(compose: Composer) -> Callable[..., Slot]:
    """A slot of a walk within a chord, unless told otherwise."""

    def make(symbol: str = "C7", **told: Any) -> Slot:
        harmony = harmonies(compose(f"{symbol} | F7"))[0]
        plain = Slot(F(1), F(1), harmony, "walk", False, False, 1, False, "walking", F(9, 10))
        return replace(plain, **told)

    return make


@pytest.mark.parametrize(
    ("symbol", "told", "notes", "degree", "reason"),
    [  # the note before, the note, the note after
        ("C7", {"role": "pedal"}, (36, 43, 43), "5", "the pedal note, under every chord"),
        ("C7", {"role": "ahead"}, (36, 36, 41), "1", "the root of C7, ahead of the bar line"),
        ("C7", {"new": True}, (41, 36, 40), "1", "the root says C7"),
        ("C7/E", {"new": True}, (41, 40, 43), "3", "the slash bass of C7/E"),
        ("C7", {"leads": True}, (43, 40, 41), "3", "leads to F: a semitone below"),
        ("C7", {"leads": True}, (43, 42, 41), "x", "leads to F: a semitone above"),
        ("C7", {"leads": True}, (40, 39, 41), "x", "leads to F: a step below"),
        ("C7", {"leads": True}, (45, 43, 41), "5", "leads to F: a step above"),
        ("C7", {"leads": True}, (45, 48, 41), "1", "leads to F: its fifth, above"),
        ("C7", {"leads": True}, (40, 36, 41), "1", "leads to F: its fifth, below"),
        (
            "C7",
            {"leads": True, "quick": True, "beat": F(3, 2)},
            (43, 40, 41),
            "3",
            "leads to F: a semitone below, on the quaver",
        ),
        ("C7", {"leads": True}, (43, 46, 41), "b7", "the seventh of C7"),  # a fourth away leads nowhere
        (
            "C7",
            {"role": "third", "new": True},
            (41, 40, 43),
            "3",
            "the third of C7 in the bass, by step between its neighbours",
        ),
        ("C7", {}, (36, 37, 38), "x", "passes from the note before to the next"),
        ("C7", {}, (36, 38, 40), "2", "passes from the note before to the next"),
        ("C7", {}, (36, 38, 43), "2", "a scale note over C7 (2)"),
        ("C7", {}, (36, 48, 46), "1", "the root of C7 again, an octave up"),
        ("C7", {}, (48, 36, 38), "1", "the root of C7 again, an octave down"),
        ("C7", {}, (43, 36, 38), "1", "the root of C7"),
        ("C7", {"role": "tenth"}, (43, 52, 48), "3", "the third of C7, a tenth above the root"),
        ("C7", {}, (43, 52, 48), "3", "the third of C7"),
        ("C7", {}, (36, 43, 40), "5", "the fifth of C7"),
        ("Cmaj7", {}, (36, 47, 40), "7", "the major seventh of Cmaj7"),
        ("C6", {}, (36, 45, 40), "6", "the sixth of C6"),
        ("C9", {}, (43, 38, 43), "2", "the ninth of C9"),
    ],
)
def test_each_note_says_why_it_is_there(
    slot: Callable[..., Slot], symbol: str, told: dict[str, Any], notes: tuple[int, int, int], degree: str, reason: str
) -> None:
    here, following = slot(symbol, **told), slot("F7", new=True)
    before, midi, after = notes
    assert _reason(here, _Around(midi, before, after, 36), following, degree) == reason


def test_a_passing_note_lies_a_step_from_two_different_neighbours() -> None:
    assert passes(36, 38, 40) and passes(40, 39, 37) and passes(36, 37, 38)
    assert not passes(36, 38, 36) and not passes(36, 39, 40) and not passes(36, 38, 41) and not passes(None, 38, 40)


@pytest.mark.parametrize(
    ("beat", "quick", "words"),
    [(F(3, 2), False, ""), (F(3, 2), True, ", on the quaver"), (F(5, 3), True, ", in a triplet"),
     (F(7, 4), True, ", just before the beat")],
)  # fmt: skip
def test_a_quick_note_says_where_between_the_beats_it_lies(
    slot: Callable[..., Slot], beat: Fraction, quick: bool, words: str
) -> None:
    assert _where(slot(beat=beat, quick=quick)) == words


def test_a_bass_rests_where_no_chord_is_written_among_others(compose: Composer) -> None:
    assert _silent(compose("C7 | N.C. | F7 N.C.")) == [(4, 8), (10, 12)]
    assert _silent(compose("N.C. | N.C.")) == [] and _silent(compose("C7")) == []
    long = Note(F(2), F(4), pitch_in_key(36), "bass")
    assert [_until(long, silent).length for silent in ([], [(F(4), F(8))], [(F(2), F(4))], [(F(8), F(9))])] == [
        4,
        2,
        4,
        4,
    ]
    assert _until(long, [(F(5), F(6)), (F(3), F(4))]).length == 1, "at the first"


def test_a_ghosted_skip_echoes_the_note_or_says_the_next_ahead(slot: Callable[..., Slot]) -> None:
    note = Note(F(1), F(9, 10), pitch_in_key(40), "bass", degree="3", reason="the third of C7")
    held, echo = _with_skip(BASS.skips, note, slot("F7"), 41, False)
    assert (held.beat, held.length, held.midi) == (1, F(9, 20), 40)
    assert (echo.beat, echo.length, echo.midi, echo.weight) == (F(3, 2), F(33, 100).limit_denominator(24), 40, 0.4)
    assert (echo.degree, echo.reason) == ("3", "a ghosted skip into the next beat")
    _, ahead = _with_skip(BASS.skips, note, slot("F7"), 41, True)
    assert (ahead.midi, ahead.degree, str(ahead.pitch)) == (41, "1", "F2")
    assert ahead.reason == "a ghosted skip: the note to come, ahead of time"


def test_a_walk_may_skip_on_a_whole_beat_of_its_chord(slot: Callable[..., Slot]) -> None:
    assert _may_skip(slot(), 40) and not _may_skip(slot(), 42), "what passes isn't echoed"
    assert not _may_skip(slot(length=F(1, 2)), 40) and not _may_skip(slot(quick=True), 40)
    assert _may_skip(slot(beat=F(3)), 40) and not _may_skip(slot(beat=F(7, 2)), 40), "into another chord"
    assert _may_skip(slot("C7/F#"), 42), "the slash bass"


def skips(form: Form, fallen: float, midi: Sequence[int] = (36, 40, 43, 40)) -> dict[int, bool]:
    """Over C7 throughout; four notes a bar."""
    harmony, hold = replace(harmonies(form)[0], end=form.length), F(9, 10)
    places = [
        Slot(F(n), F(1), harmony, "walk", False, False, n // 4 + 1, n % 4 == 0, "walking", hold)
        for n in range(int(form.length))
    ]
    notes = [*list(midi) * len(form.bars), midi[0]]
    return _skips(BASS, form, places, notes, Thrown(fallen))


@pytest.mark.parametrize(
    ("told", "fallen", "found"),
    [
        ({}, 0.13, {0: True, 8: True, 16: True}),  # never in two bars running
        ({}, 0.14, {12: True}),  # the last bar of a section skips oftener
        ({}, 0.34, {12: True}),
        ({}, 0.36, {12: False}),  # rather an echo
        ({}, 0.4, {}),
        ({"tempo": 84.0}, 0.13, {0: True, 8: True, 16: True}),
        ({"tempo": 83.0}, 0.13, {}),
        ({"tempo": 260.0}, 0.13, {0: True, 8: True, 16: True}),
        ({"tempo": 261.0}, 0.13, {}),
        ({"feel": "shuffle"}, 0.13, {0: True, 8: True, 16: True}),
        ({"feel": "straight"}, 0.13, {}),
    ],
)
def test_a_walk_skips_now_and_then_where_it_swings(
    compose: Composer, told: dict[str, Any], fallen: float, found: dict[int, bool]
) -> None:
    form = compose(" | ".join(["C7"] * 6), sections=[("A", 4, None), ("B", 2, None)], **told)
    expected = {**found, 20: found[12]} if found.keys() == {12} else found
    assert skips(form, fallen) == expected


def test_no_note_from_outside_the_scale_is_said_ahead(compose: Composer) -> None:
    form = compose(" | ".join(["C7"] * 2))
    assert skips(form, 0.1, (40, 42, 43, 40)) == {0: False}
