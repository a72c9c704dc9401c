"""A chart from its file, by its suffix."""

# ruff: noqa: E501 (texts and faults stand whole in the tables)

from __future__ import annotations

import shutil
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import IO

import mido
import pytest

from companion.arrange import treatments
from companion.errors import ChartError
from companion.load import check_file, check_text, import_file, load
from companion.music.scales import scales_for
from companion.music.swing import feel_names

CHARTS = sorted((Path(__file__).parents[1] / "charts").glob("*.toml"))


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_every_tune_of_ours_is_sound(path: Path) -> None:
    assert check_file(path, treatments=treatments.names(), feels=feel_names()) == ()
    form = load(path).unfold()
    assert {bar % form.metre.bar for bar in form.bars} == {0}
    assert all(60 - 5 <= note.pitch.midi <= 84 for note in form.melody)  # a right hand around and above middle C


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_every_tune_of_ours_leaves_room_for_the_chords_to_answer(path: Path) -> None:
    form = load(path).unfold()
    ends = [(a.beat + a.length, b.beat) for a, b in zip(form.melody, form.melody[1:], strict=False)]
    rests = sum(start - end for end, start in ends)
    held = sum(n.length for n in form.melody if n.length >= 2)
    assert (rests + held) / form.length > 0.3


def test_no_two_tunes_of_ours_open_alike() -> None:
    openings = {}
    for path in CHARTS:
        notes = [note.pitch.midi for note in load(path).unfold().melody[:9]]
        openings[path.stem] = tuple(b - a for a, b in pairwise(notes))
    assert all(len(steps) == 8 for steps in openings.values())
    assert len(set(openings.values())) == len(CHARTS)


@pytest.mark.parametrize("path", CHARTS, ids=lambda path: path.stem)
def test_every_held_note_of_ours_belongs_to_its_chord(path: Path) -> None:
    """A note of two beats and more lies in the chord or in the scale that fits it best (common practice)."""
    form = load(path).unfold()
    for note in form.melody:
        chord = form.chord_at(note.beat).chord
        if note.length >= 2:
            fitting = {*chord.pitch_classes, *scales_for(chord)[0].pitch_classes}
            assert note.pitch.name.pc in fitting, f"bar {form.bar_at(note.beat)}: {note.pitch} on {chord.symbol}"


def test_the_study_passes_two_five_one_in_every_key() -> None:
    form = load(next(path for path in CHARTS if path.stem == "twelve-front-doors")).unfold()
    steps = [(span.chord.root.pc, span.chord.quality) for span in form.chords if span.chord.root is not None]
    steps = [step for before, step in pairwise([None, *steps]) if step != before]
    keys = {
        tonic
        for (two, minor), (five, dominant), (tonic, home) in zip(steps, steps[1:], steps[2:], strict=False)
        if (minor, home) == ("m7", "maj7") and dominant.startswith("7")
        if (two - tonic) % 12 == 2 and (five - tonic) % 12 == 7
    }
    assert keys == set(range(12))


def test_the_suffix_may_be_in_capitals(tmp_path: Path) -> None:
    shutil.copy(CHARTS[0], tmp_path / "TUNE.TOML")
    assert load(tmp_path / "TUNE.TOML").title == load(CHARTS[0]).title


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("tune.pdf", ".pdf is no kind of chart; give one of .toml, .musicxml, .mxl, .xml, .abc"),
        ("tune", "a file without a suffix is no kind of chart; give one of .toml, .musicxml, .mxl, .xml, .abc"),
        ("tune.toml", "there is no such file"),
        ("folder.toml", "is a folder, not a chart"),
    ],
)
def test_what_is_no_chart_is_said_in_one_line(tmp_path: Path, name: str, line: str) -> None:
    (tmp_path / "folder.toml").mkdir()
    path = tmp_path / name
    with pytest.raises(ChartError) as error:
        load(path)
    assert str(error.value) == f"{path}: {line}"


def test_a_chart_that_may_not_be_read_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "tune.toml"
    path.write_text("format = 1")

    def refuse(self: Path, mode: str = "r") -> IO[bytes]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(ChartError, match="can't be read: permission denied"):
        load(path)


OURS = 'format = 1\ntitle = "Lid"\n[section.A]\nchords = "| C |"\nmelody = "| c8 |"\n'
ABC = 'X:3\nT:Lid\nM:4/4\nL:1/8\nK:C\nV:1\nV:2 name=Lead\n[V:1]"C"C8|]\n[V:2]c8|]\n'
XML = (
    '<score-partwise><part-list><score-part id="P1"><part-name>Lead</part-name></score-part></part-list><part id="P1">'
    "<measure><attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part></score-partwise>"
)


@pytest.fixture
def tune(tmp_path: Path) -> Callable[..., Path]:
    """Writes a tune of one C in a format, by its suffix."""

    def write(suffix: str, text: str | None = None) -> Path:
        path = tmp_path / f"tune{suffix}"
        if suffix.lower() in (".mid", ".midi"):
            notes = [("note_on", 0), ("note_off", 4 * 96)]
            track = mido.MidiTrack(mido.Message(kind, note=72, time=time) for kind, time in notes)
            mido.MidiFile(type=0, ticks_per_beat=96, tracks=[track]).save(path)
        else:
            usual = {".toml": OURS, ".abc": ABC}.get(suffix.lower(), XML)
            path.write_text(usual if text is None else text)
        return path

    return write


@pytest.mark.parametrize("suffix", [".toml", ".abc", ".musicxml", ".xml", ".ABC", ".XML"])
def test_each_kind_of_chart_is_read_by_its_suffix(tune: Callable[..., Path], suffix: str) -> None:
    notes = load(tune(suffix)).unfold().melody
    assert [(note.pitch.step, note.length) for note in notes] == [("C", 4)]


@pytest.mark.parametrize("suffix", [".abc", ".musicxml", ".xml", ".mid", ".midi", ".MID"])
def test_each_kind_of_sheet_is_imported_by_its_suffix(tune: Callable[..., Path], suffix: str) -> None:
    assert [note.pitch.step for note in import_file(str(tune(suffix))).chart.unfold().melody] == ["C"]


def test_a_tune_of_a_book_and_a_voice_may_be_asked_for(tune: Callable[..., Path]) -> None:
    assert str(import_file(tune(".abc"), tune=3, melody="2").chart.unfold().melody[0].pitch) == "C5"
    assert str(import_file(tune(".abc"), melody="1").chart.unfold().melody[0].pitch) == "C4"
    with pytest.raises(ChartError, match="holds no tune 4"):
        import_file(tune(".abc"), tune=4)
    for suffix in (".xml", ".mid"):
        assert import_file(tune(suffix)).chart.form == ("A",)
        with pytest.raises(ChartError, match=rf"tune\{suffix}: holds one tune; leave --tune out"):
            import_file(tune(suffix), tune=1)
        with pytest.raises(ChartError, match="'Flute'"):
            import_file(tune(suffix), melody="Flute")


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("tune.toml", ".toml can't be imported; give one of .musicxml, .mxl, .xml, .abc, .mid, .midi"),
        ("tune", "a file without a suffix can't be imported; give one of .musicxml"), ("none.abc", "there is no such file"),
        ("folder.mid", "is a folder, not a file"),
    ],
)  # fmt: skip
def test_what_cannot_be_imported_is_one_line(tmp_path: Path, name: str, line: str) -> None:
    (tmp_path / "folder.mid").mkdir()
    with pytest.raises(ChartError) as error:
        import_file(tmp_path / name)
    assert str(error.value).startswith(f"{tmp_path / name}: {line}")


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        (OURS, []), (OURS.replace("| C |", "| H |"), ["section A, bar 1: 'H' is not a chord symbol"]),
        (OURS.replace('title = "Lid"', 'feel = "sving"'), ["feel: there is no feel 'sving'; did you mean 'swing'?"]),
        (OURS.replace("[section.A]", '[section.A]\ntreatment = "slow"'), ["section A: there is no treatment 'slow'; use one of walking"]),
        (OURS.replace("| C |", "| H |").replace('title = "Lid"', 'form = "B"'), ["section A, bar 1: 'H' is", "form: there is no section 'B'"]),
        (OURS.replace('title = "Lid"', 'form = "' + "A " * 999 + '"').replace("| C |", "| C | C | C |").replace("| c8 |", "| c8 | Z2 |"),
         ["form: the form has more than 2000 bars"]),
    ],
)  # fmt: skip
def test_every_fault_of_a_chart_of_ours_is_found(tune: Callable[..., Path], text: str, faults: list[str]) -> None:
    names = {"treatments": ["walking"], "feels": ["swing"]}
    path = tune(".toml", text)
    found = [str(fault) for fault in check_file(path, **names)]
    assert len(found) == len(faults)
    assert all(line.startswith(f"{path}: {fault}") for line, fault in zip(found, faults, strict=True))
    assert [str(fault) for fault in check_text(text, **names)] == [line.removeprefix(f"{path}: ") for line in found]


def test_a_sheet_of_another_format_is_checked_as_it_would_be_played(tune: Callable[..., Path]) -> None:
    path = tune(".abc", ABC.replace("C8|]\n[V:2]c8", "C8|C4|C8|]\n[V:2]c8|c4|c8"))
    assert [str(fault) for fault in check_file(path, feels=["straight"])] == [
        f"{path}: feel: there is no feel 'swing'; use one of straight",
        f"{path}: section A, bar 2: lasts 2 quarters in 4/4; look whether notes or rests are missing",
    ]
    assert check_file(tune(".abc")) == ()


@pytest.mark.parametrize("text", ["no chart", "format = 2", 'format = 1\nform = "B"\n[section.A]\nchords = "| C |"'])
def test_what_is_no_chart_at_all_is_bad_input_with_its_file(tune: Callable[..., Path], text: str) -> None:
    path = tune(".toml", text)
    for read in (load, check_file):
        with pytest.raises(ChartError) as error:
            read(path)
        assert str(error.value).startswith(f"{path}: ")
    with pytest.raises(ChartError, match=r"none\.toml: there is no such file"):
        check_file(path.with_name("none.toml"))


def test_a_sheet_that_unfolds_into_too_many_bars_is_said_with_its_file(tune: Callable[..., Path]) -> None:
    path = tune(".abc", "X:1\nM:4/4\nL:1/8\nP:A100B\nK:C\nP:A\n" + "C8|" * 20 + "\nP:B\nD8|]")
    for read in (load, import_file):
        with pytest.raises(ChartError, match=r"tune\.abc: its P: field: plays more than 2000 bars"):
            read(path)
