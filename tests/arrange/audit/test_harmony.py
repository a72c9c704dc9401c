"""The harmony's figures find what is wrong, and nothing in what is right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.arrange.audit.figures import AuditFigure
from companion.arrange.audit.harmony import harmony_figures
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.arrange.scales import named_scales
from companion.chart.model import Form
from companion.messages import Part
from companion.music.pitch import pitch_in_key

Composer = Callable[..., Form]
ROOT = "chords over a slash bass without their root"
SILENT = "notes of bass and chords where no chord is written"
SCALE = "chords with a note outside the scale that is named"
EXACT = "sus2, power and added-note chords with what isn't theirs"


def notes(part: Part, *rows: tuple[float, Sequence[int]]) -> list[Note]:
    """Notes of two quarters at their beats."""
    return [
        Note(Fraction(beat), Fraction(2), pitch_in_key(midi, 0), part, degree="1")
        for beat, struck in rows
        for midi in struck
    ]


def found(form: Form, chords: list[Note], bass: list[Note]) -> dict[str, AuditFigure]:
    return {figure.name: figure for figure in harmony_figures(form, plan(form, "walking"), [chords], [bass])}


def test_a_rootless_chord_over_its_fifth_is_found_and_one_with_its_root_is_not(compose: Composer) -> None:
    form = compose("Ebmaj7/Bb | Ebmaj7/Bb")
    bass = notes("bass", (0, [46]), (4, [46]))
    heard = found(form, notes("chords", (0, [55, 58, 62, 65]), (4, [55, 58, 62, 63])), bass)[ROOT]
    assert (heard.value, heard.of) == (0.5, 2)
    assert heard.places == ("bar 1 beat 1: G3 Bb3 D4 F4",)


def test_notes_under_no_chord_are_found(compose: Composer) -> None:
    form = compose("C | N.C. | C | C")
    assert found(form, notes("chords", (0, [64, 67])), notes("bass", (0, [36]), (4, [36])))[SILENT].value == 0.25
    assert found(form, notes("chords", (0, [64, 67])), notes("bass", (0, [36]), (8, [36])))[SILENT].value == 0


def test_a_note_outside_every_scale_of_its_chord_is_found(compose: Composer) -> None:
    form = compose("Cmaj7 | Cmaj7")
    assert found(form, notes("chords", (0, [63, 67, 71])), [])[SCALE].value == 1, "E flat over Cmaj7"
    assert found(form, notes("chords", (0, [64, 66, 71])), [])[SCALE].value == 0, "F sharp is lydian"


@pytest.mark.parametrize(("symbol", "wrong", "right"), [("Csus2", 64, 62), ("C5", 62, 67), ("Cadd9", 69, 62)])
def test_what_was_not_written_is_found(compose: Composer, symbol: str, wrong: int, right: int) -> None:
    form = compose(f"{symbol} | {symbol}")
    assert found(form, notes("chords", (0, [55, wrong])), [])[EXACT].value == 1
    assert found(form, notes("chords", (0, [55, right])), [])[EXACT].value == 0


CHANGES = [
    ("Ebmaj7/Bb | Bb7/D | Ebmaj7/G | Abmaj7 Ab/Bb", {"fifths": -3}),
    ("Csus2 | N.C. | Cadd9 Cm(add9) | C5", {}),
    ("Dm7/C | G7/B | N.C. C/E | F/G", {}),
    ("Em7 | A7 | Dmaj7 | Abmaj7", {}),
    ("Cm6 | Fm7 | Dm7b5/Ab | G7 G7/F", {"fifths": -3, "minor": True}),
]


@pytest.mark.parametrize(("changes", "how"), CHANGES)
@pytest.mark.parametrize("treatment", ["walking", "in-two", "ballad", "sparse", "open", "shells", "block", "bossa"])
def test_what_is_arranged_says_the_chords_that_are_written(
    compose: Composer, changes: str, how: dict[str, object], treatment: str
) -> None:
    form = compose(changes, **how)
    rows = [
        [arrange(form, part, Request(treatment=treatment, seed=s)) for s in range(4)] for part in ("chords", "bass")
    ]
    missed = {f.name: f.places for f in harmony_figures(form, plan(form, treatment), *rows) if not f.reached}
    assert not missed


def test_of_two_scales_that_serve_the_one_is_named_that_has_what_is_played(compose: Composer) -> None:
    form = compose("G7 | Cm6", fifths=-3, minor=True)
    flat_nine, sharp_nine = [53, 56, 59, 63], [53, 58, 59, 63]
    assert str(named_scales(form, notes("chords", (0, flat_nine)))[Fraction(0)]) == "G phrygian dominant"
    assert str(named_scales(form, notes("chords", (0, sharp_nine)))[Fraction(0)]) == "G altered"
