"""A chart from its file, by its suffix."""

from __future__ import annotations

import shutil
from itertools import pairwise
from pathlib import Path
from typing import IO

import pytest

from companion.arrange import treatments
from companion.errors import ChartError
from companion.load import check_file, load
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
