"""``chart import`` as a shell sees it: a chart that can be played, and a list of what it doesn't hold."""

from __future__ import annotations

import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.load import load
from companion.resources import chart_name

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]
TUNE = 'X:1\nT:Kettle at Six\nM:4/4\nL:1/8\nK:C\n"Dm7"d4 !mf!f4|"G7"g4 z4|"^slower""Cmaj7"e8-|e8|]\n'
BOOK = TUNE + '\nX:2\nT:The Other\nM:3/4\nL:1/4\nK:F\n"F"c3|"Hm"f3|]\n'


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "kettle.abc"
    path.write_text(TUNE, encoding="utf-8")
    return path


def test_a_tune_becomes_a_chart_and_what_it_cant_hold_is_listed(run: Run, tmp_path: Path, tune: Path) -> None:
    out = tmp_path / "kettle.toml"
    status, printed, err = run("chart", "import", tune, "--out", out)
    assert (status, err) == (0, "")
    assert printed.splitlines() == [
        f"{out}: Kettle at Six, 4 bars of 4/4 in C major, 120 quarters a minute, swing",
        "  bar 1 (section A, bar 1): dynamics: mf", "  bar 3 (section A, bar 3): words: slower",
    ]  # fmt: skip
    assert "# bar 1: dynamics: mf" in out.read_text(encoding="utf-8")
    assert load(out).unfold().melody == load(tune).unfold().melody
    assert run("chart", "check", out)[0] == 0


def test_a_sheet_in_musicxml_is_imported_and_played(run: Run, tmp_path: Path, sheet: Path) -> None:
    out = tmp_path / "sheet.toml"
    about = "sheet, 8 bars of 4/4 in C major, 120 quarters a minute, swing"
    assert run("chart", "import", sheet, "--out", out) == (0, f"{out}: {about}\n", "")
    assert load(out).unfold().chords == load(sheet).unfold().chords
    assert run("demo", out, "--fast", "--choruses", 1)[0] == 0


def test_without_a_place_it_is_kept_among_the_players_own_and_found_by_its_name(
    run: Run, tmp_path: Path, tune: Path
) -> None:
    first, second = (Path(run("chart", "import", tune)[1].split(": ")[0]) for _ in range(2))
    assert (first, second) == (
        tmp_path / "data" / "charts" / "kettle-at-six.toml", tmp_path / "data" / "charts" / "kettle-at-six-2.toml",
    )  # fmt: skip
    assert "Kettle at Six" in run("chart", "show", "kettle-at-six")[1]


def test_a_chart_of_the_players_is_never_lost(run: Run, tmp_path: Path, tune: Path, one_line: OneLine) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("# mine", encoding="utf-8")
    status, printed, err = run("chart", "import", tune, "--out", out)
    former = tmp_path / "mine.toml.former-1"
    assert status == 0 and printed.startswith(f"{out}: ")
    assert one_line(err) == f"companion: {out}: what stood there is kept in {former}\n"
    assert former.read_text(encoding="utf-8") == "# mine" and load(out)


def test_a_shipped_tunes_name_is_not_taken_from_it(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "other.abc"
    path.write_text(TUNE.replace("Kettle at Six", "Ferry Without Lights"), encoding="utf-8")
    assert Path(run("chart", "import", path)[1].split(": ")[0]).name == "ferry-without-lights-2.toml"


def test_a_book_names_its_tunes_until_one_is_chosen(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    book = tmp_path / "book.abc"
    book.write_text(BOOK, encoding="utf-8")
    status, _, err = run("chart", "import", book)
    assert status == 2
    assert "holds 2 tunes: 1 'Kettle at Six', 2 'The Other'; chart import --tune N takes one" in one_line(err)
    status, printed, _ = run("chart", "import", book, "--tune", 2)
    assert status == 0
    assert printed.splitlines()[1:] == ["  bar 2 (section A, bar 2): a chord symbol that isn't understood: Hm"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["{tune}", "--out", "{folder}"], "is a folder"),
        (["{tune}", "--out", "{folder}/none/x.toml"], "its folder isn't there"),
        (["{tune}", "--out", "{folder}/x.abc"], "a chart's file ends with .toml"),
        (["{tune}", "--tune", "7"], "holds no tune 7, but 1 'Kettle at Six'"),
        (["{tune}", "--melody", "Flute"], "has no voice 'Flute'; there are 1"),
        (["{folder}/none.abc"], "there is no such file"),
        (["{folder}/none.pdf"], ".pdf can't be imported"),
    ],
)
def test_what_cant_be_meant_gets_one_line(
    run: Run, tmp_path: Path, tune: Path, one_line: OneLine, words: list[str], said: str
) -> None:
    status, printed, err = run("chart", "import", *(word.format(tune=tune, folder=tmp_path) for word in words))
    assert (status, printed) == (2, "") and said in one_line(err)


def test_a_folder_that_cant_be_written_is_said(run: Run, tmp_path: Path, tune: Path, one_line: OneLine) -> None:
    locked = tmp_path / "data"
    locked.write_text("a file where the folder should be")
    status, _, err = run("chart", "import", tune)
    assert status == 2 and one_line(err)
    assert stat.S_ISREG(locked.stat().st_mode)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Kettle at Six", "kettle-at-six"),
        ("Ça va?", "ca-va"),
        ("Nobody's", "nobodys"),
        ("!?", "untitled"),
        ("../x", "x"),
    ],
)
def test_a_chart_is_called_by_its_title(title: str, name: str) -> None:
    assert chart_name(title) == name


def test_what_a_midi_file_doesnt_say_is_said_with_the_reason(run: Run, tmp_path: Path, performance: Path) -> None:
    """Standard MIDI File 1.0: without a tempo 120 quarters a minute, without a time signature 4/4."""
    out = tmp_path / "tune.toml"
    status, printed, err = run("chart", "import", performance, "--out", out)
    assert (status, err) == (0, "")
    first, *assumed = printed.splitlines()
    assert first == f"{out}: performance, 8 bars of 4/4 in C major, 120 quarters a minute, swing"
    assert assumed == [
        "  tempo: 120, which a MIDI file means that says none",
        "  metre: 4/4, which a MIDI file means that says none",
        "  key: C major, found in the notes: the file says none",
    ]
    text = out.read_text(encoding="utf-8")
    assert all(f"# {line.strip()}" in text for line in assumed)


@pytest.mark.parametrize(
    ("notes", "key", "metre", "about"),
    [
        ("c4", "Am", "4/4", "1 bar of 4/4 in A minor, 120 quarters a minute, swing"),
        ("c3|d3", "Eb", "3/4", "2 bars of 3/4 in Eb major, 120 quarters a minute, swing"),
    ],
)
def test_what_has_been_made_is_said_in_a_line(
    run: Run, tmp_path: Path, notes: str, key: str, metre: str, about: str
) -> None:
    path, out = tmp_path / "short.abc", tmp_path / "short.toml"
    path.write_text(f'X:1\nT:Short\nM:{metre}\nL:1/4\nK:{key}\n"C"{notes}|]\n', encoding="utf-8")
    assert run("chart", "import", path, "--out", out)[1].splitlines()[0] == f"{out}: Short, {about}"
