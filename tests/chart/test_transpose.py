"""Charts in other keys. What is said of spelling and of ranges: common practice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.write import write_toml
from companion.chart.transpose import signature, transposed
from companion.errors import UseError
from companion.load import load
from companion.resources import shipped_folder

CHARTS = sorted((shipped_folder() / "charts").glob("*.toml"))
SIGNATURES = st.integers(-7, 7)


def tune(chords: str, melody: str = "", key: str = "C") -> Chart:
    sung = f'\nmelody = "{melody}"' if melody else ""
    return parse_toml(f'format = 1\nkey = "{key}"\n[section.A]\nchords = "{chords}"{sung}')


def symbols(chart: Chart) -> list[str]:
    return [span.chord.symbol for span in chart.sections[0].chords]


def pitches(chart: Chart) -> list[str]:
    return [str(note.pitch) for note in chart.sections[0].melody]


def test_a_key_is_named_by_its_tonic_and_the_mode_is_kept() -> None:
    assert [signature(name, minor=False) for name in ("C", "Eb", "e♭", "F# major", "Gb")] == [0, -3, -3, 6, -6]
    assert [signature(name, minor=True) for name in ("A", "F minor", "f#m")] == [0, -4, 3]


def test_a_key_with_more_than_seven_signs_is_called_by_its_other_name() -> None:
    assert [signature(name, minor=False) for name in ("G#", "D#", "Fb")] == [-4, -3, 4]
    assert signature("Db", minor=True) == 4, "C sharp minor"


@pytest.mark.parametrize(
    ("key", "minor", "message"),
    [
        ("F minor", False, "the tune is in major, so it can't be in minor; say --key F"),
        ("bb major", True, "the tune is in minor, so it can't be in major; say --key Bb"),
        ("H", False, "'H' is not a key; name its tonic, as in --key Eb"),
        ("", False, "is not a key"),
    ],
)
def test_what_is_no_key_is_told_in_one_line(key: str, minor: bool, message: str) -> None:
    with pytest.raises(UseError) as caught:
        signature(key, minor)
    assert message in str(caught.value)


def test_chords_move_with_their_slash_basses_and_keep_their_kind() -> None:
    moved = transposed(tune("| Dm7 G13b9 | C6/9 C/E | F#m7b5 B7alt | N.C. |"), "Eb")
    assert symbols(moved) == ["Fm7", "Bb13b9", "Eb6/9", "Eb/G", "Am7b5", "D7alt", "N.C."]


def test_what_is_chromatic_stays_as_chromatic_as_it_was() -> None:
    moved = transposed(tune("| C | G7 |", "| C^CD_E ^FGB_B | G8 |"), "D")
    assert pitches(moved) == ["D4", "D#4", "E4", "F4", "G#4", "A4", "C#5", "C5", "A4"]


def test_players_read_no_double_flats_and_no_c_flat_sevenths() -> None:
    assert symbols(transposed(tune("| Db7 | Fm6 | Ab7 | Ebm7 |"), "Db")) == ["D7", "Gbm6", "A7", "Em7"]
    moved = transposed(tune("| Dm7 Db7 | Cmaj7 |", "| _d4 _e4 | _B8 |"), "Gb")
    assert symbols(moved) == ["Abm7", "G7", "Gbmaj7"]
    assert pitches(moved) == ["G4", "A4", "Fb4"]


def test_a_note_is_named_as_its_chord_is_unless_the_key_has_it() -> None:
    moved = transposed(tune("| Db7 | Cmaj7 |", "| _d2 f2 _a2 _c'2 | e8 |"), "Eb")
    assert symbols(moved) == ["E7", "Ebmaj7"]
    assert pitches(moved) == ["E5", "Ab5", "B5", "D6", "G5"]


def test_a_chord_that_gets_another_name_takes_its_slash_bass_along() -> None:
    assert symbols(transposed(tune("| Db7/F | C |"), "Eb")) == ["E7/G#", "Eb"]
    assert symbols(transposed(tune("| Db7/Cb | C |"), "Eb")) == ["E7/D", "Eb"]


def test_in_minor_a_seventh_with_a_double_flat_is_called_otherwise_and_in_major_what_the_key_has_stays() -> None:
    """Common practice: the sixth degree's dominant of E flat minor is read as B7."""
    assert symbols(transposed(tune("| F7 | Am |", key="A minor"), "Eb")) == ["B7", "Ebm"]
    assert symbols(transposed(tune("| Fmaj7 | Am |", key="A minor"), "Eb")) == ["Cbmaj7", "Ebm"]
    assert symbols(transposed(tune("| F7 | C |"), "Gb")) == ["Cb7", "Gb"]


def test_a_diminished_seventh_is_not_read_by_its_double_flat() -> None:
    assert symbols(transposed(tune("| Ebdim7 | C |"), "F")) == ["Abdim7", "F"]


def test_a_note_that_the_key_has_keeps_its_name_to_both_ends_of_the_key() -> None:
    """D flat major has seven names from G flat to C; over A7 for B double flat 7, C stays C."""
    assert pitches(transposed(tune("| Ab7 | C |", "| B8 | c8 |"), "Db")) == ["C5", "Db5"]
    assert pitches(transposed(tune("| Db7 | C |", "| _B4 F4 | c8 |"), "Eb")) == ["C#5", "Ab4", "Eb5"]


def test_the_leading_note_of_a_minor_key_may_have_a_double_sharp() -> None:
    moved = transposed(tune("| E7 | Am6 |", "| ^G8 | A8 |", "A minor"), "G#")
    assert symbols(moved) == ["D#7", "G#m6"]
    assert pitches(moved) == ["F##4", "G#4"]


def test_everything_moves_to_the_nearest_octave() -> None:
    low = [
        transposed(tune("| C |", "| c8 |"), key).sections[0].melody[0].pitch.midi - 72
        for key in ["D", "F", "G", "A", "B"]
    ]
    assert low == [2, 5, -5, -3, -1]
    assert [transposed(tune("| C |", "| c8 |"), key).sections[0].melody[0].pitch.midi - 72 for key in ("F#", "Gb")] == [
        6,
        -6,
    ]


def has_changed_names(chart: Chart, moved: Chart) -> bool:
    """Whether some name moved by another interval than the key."""
    by = moved.fifths - chart.fifths
    pairs = []
    for old, new in zip(chart.sections, moved.sections, strict=True):
        pairs += [(a.chord.root, b.chord.root) for a, b in zip(old.chords, new.chords, strict=True)]
        pairs += [(a.chord.bass, b.chord.bass) for a, b in zip(old.chords, new.chords, strict=True)]
        pairs += [(a.pitch.name, b.pitch.name) for a, b in zip(old.melody, new.melody, strict=True)]
    return any(a is not None and b is not None and b.fifth - a.fifth != by for a, b in pairs)


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(CHARTS), SIGNATURES)
def test_there_and_back_again_is_the_same(file: Path, fifths: int) -> None:
    chart = load(file)
    moved = transposed(chart, fifths)
    back = transposed(moved, chart.fifths)
    if not has_changed_names(chart, moved) and not has_changed_names(moved, back):
        assert back == chart
    for old, new in zip(chart.sections, back.sections, strict=True):
        assert [n.pitch.midi for n in old.melody] == [n.pitch.midi for n in new.melody]
        roots = [(s.chord.root.pc, s.chord.kind) for s in old.chords if s.chord.root]
        assert roots == [(s.chord.root.pc, s.chord.kind) for s in new.chords if s.chord.root]


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(CHARTS), SIGNATURES)
def test_all_intervals_stay_and_nothing_has_a_double_flat(file: Path, fifths: int) -> None:
    chart = load(file)
    moved = transposed(chart, fifths)
    by = {b.pitch.midi - a.pitch.midi for a, b in zip(chart.unfold().melody, moved.unfold().melody, strict=True)}
    assert len(by) == 1 and -6 <= by.pop() <= 6
    assert moved.fifths == fifths and moved.minor == chart.minor
    names = [note.pitch.alter for section in moved.sections for note in section.melody]
    names += [span.chord.root.alter for section in moved.sections for span in section.chords if span.chord.root]
    assert moved is chart or min(names) >= -1
    assert parse_toml(write_toml(moved)) == replace(moved, source=None)


def test_what_is_written_moves_with_its_tune_and_is_named_as_its_chords_are() -> None:
    text = (
        'format = 1\nkey = "C"\n[section.A]\nchords = "| Db7 | Cmaj7 |"\n[[arrangement]]\nsection = "A"\n'
        "chords = '| [F_Ac_e]7 [=EGBd]- | [EGBd]8 |'\nbass = '| _D,,4 _A,,4 | C,,8 |'\n"
    )
    chords, bass = transposed(parse_toml(text), "Eb").written
    assert [str(n.pitch) for n in chords.notes] == ["G#4", "B4", "D#5", "F#5", "G4", "Bb4", "D5", "F5"]
    assert [str(n.pitch) for n in bass.notes] == ["E2", "B2", "Eb2"]


def test_a_written_quaver_belongs_to_the_chord_that_it_is_struck_on_and_a_longer_note_to_the_one_that_comes() -> None:
    def moved(bar: str) -> list[str]:
        text = (
            'format = 1\nkey = "C"\n[section.A]\nchords = "| Db7 | Cmaj7 |"\n[[arrangement]]\nsection = "A"\n'
            f"chords = '| {bar} |'\n"
        )
        return [str(n.pitch) for n in transposed(parse_toml(text), "Eb").written[0].notes]

    assert moved("[_d]7 _d | c8") == ["E5", "E5", "Eb5"]
    assert moved("[_d]7 _d- | _d c6 z") == ["E5", "Fb5", "Eb5"]
