"""``chart arrange``, and what is written played, printed and moved to other keys, as a shell sees it."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable
from pathlib import Path

import mido
import pytest

from companion import cli
from companion.cli.commands import build_parser
from companion.load import load
from companion.resources import shipped_folder

MINOR = "ferry-without-lights"
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's own folder."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def run(data: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command: its exit status, what it printed, what it said on standard error."""

    def run_it(*words: object) -> tuple[int, str, str]:
        status = cli.main([str(word) for word in words])
        printed = capsys.readouterr()
        return status, printed.out, printed.err

    return run_it


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    """A chart of the player's own."""
    path = tmp_path / "tune.toml"
    path.write_text(
        "# mine\nformat = 1\ntitle = 'Mine'\nkey = 'F'\n[section.A]\n"
        "chords = '| Fmaj7 | Dm7 | Gm7 | C7 |'  # a turnaround\nmelody = '| c8 | d4 f4 | d8 | e4 c4 |'\n"
    )
    return path


def notes(file: Path, part: str) -> list[int]:
    """MIDI numbers of a part of a file, in order."""
    track = next(track for track in mido.MidiFile(file).tracks if track.name == part)
    return [message.note for message in track if message.type == "note_on" and message.velocity]


def test_a_shipped_chart_is_arranged_in_a_copy_among_the_players_own(run: Run, data: Path) -> None:
    shipped = shipped_folder() / "charts" / f"{MINOR}.toml"
    before = shipped.read_bytes()
    status, out, err = run("chart", "arrange", MINOR, "--seed", 3)
    own = data / "charts" / f"{MINOR}.toml"
    assert (status, err) == (0, "")
    back = f"companion play {MINOR} --free; for good: delete {own}, and the chart is as it came"
    assert out.splitlines() == [
        f"{own}: melody, chords and bass of bars 1-32 written",
        f"free again, new in every chorus: {back}",
    ]
    assert shipped.read_bytes() == before
    assert own.read_text().startswith("# A medium swing tune in minor.")
    assert {part.part for part in load(own).written} == {"melody", "chords", "bass"}
    status, out, _ = run("chart", "explain", MINOR, "--bars", "1")
    first = next(part for part in load(own).written if part.part == "bass").notes[0].pitch
    assert status == 0 and f"{first} the root says Gm6" in out, "the copy goes before the shipped one"


def test_a_chart_of_the_players_own_is_written_in_its_place_with_its_comments(run: Run, tune: Path) -> None:
    assert run("chart", "arrange", tune, "--seed", 1, "--parts", "bass")[0] == 0
    text = tune.read_text()
    assert text.startswith("# mine\n") and "# a turnaround" in text and text.count("[[arrangement]]") == 1
    assert list(tune.parent.glob("tune*")) == [tune], "nothing was lost, so nothing is kept beside it"


def test_how_to_have_it_free_again_is_said_and_works(run: Run, tune: Path) -> None:
    _, out, _ = run("chart", "arrange", tune, "--seed", 1)
    words = shlex.split(out.split("chorus: companion ")[1].split(";")[0])
    assert words == ["play", str(tune), "--free"] and build_parser().parse_args(words).free
    assert out.splitlines()[1].endswith(f"take the [[arrangement]] tables out of {tune}")
    tune.write_text(tune.read_text().split("[[arrangement]]")[0])
    assert not load(tune).written


def test_only_a_copy_of_a_shipped_chart_may_be_deleted_to_have_it_as_it_came(
    run: Run, tune: Path, data: Path, tmp_path: Path
) -> None:
    elsewhere, own = tmp_path / "elsewhere.toml", data / "charts" / "mine.toml"
    own.parent.mkdir(parents=True)
    shutil.copy(tune, own)
    for words, file in (((MINOR, "--out", elsewhere), elsewhere), (("mine",), own)):
        _, out, _ = run("chart", "arrange", *words, "--bars", "1", "--parts", "bass")
        assert out.splitlines()[1].endswith(f"; for good: take the [[arrangement]] tables out of {file}")


def test_what_was_written_before_is_kept_when_it_is_made_anew(run: Run, tune: Path) -> None:
    run("chart", "arrange", tune, "--seed", 1)
    mine = tune.read_text().replace("% bars", "")
    status, _, err = run("chart", "arrange", tune, "--bars", "3-4", "--seed", 8)
    former = tune.with_name("tune.toml.former-1")
    assert status == 0
    assert err == f"companion: {tune}: what stood there is kept in {former}\n"
    assert former.read_text() == mine
    run("chart", "arrange", tune, "--bars", "3-4", "--seed", 9)
    assert tune.with_name("tune.toml.former-2").exists() and former.read_text() == mine


def test_a_lead_sheet_of_another_format_is_arranged_into_a_new_chart(run: Run, tmp_path: Path, tune: Path) -> None:
    sheet, out = tmp_path / "sheet.musicxml", tmp_path / "arranged.toml"
    assert run("print", tune, "--lead", "--out", sheet)[0] == 0
    assert run("chart", "arrange", sheet, "--treatment", "in-two", "--out", out)[0] == 0
    assert {part.part for part in load(out).written} == {"chords", "bass"}
    assert run("chart", "check", out)[0] == 0


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--bars", "3-5"], "there is no bar 5; the form has 4 bars"),
        (["--parts", "bass,solo"], "'solo' can't be written; there are melody, chords, bass"),
        (["--treatment", "stride"], "there is no treatment called 'stride'"),
        (["--out", "tune.txt"], "tune.txt: a chart's file ends with .toml; name it tune.toml"),
        (["--out", shipped_folder() / "charts" / "new.toml"], "is a chart of the program's own; name another file"),
        (["--out", shipped_folder() / "charts" / f"{MINOR}.toml"], "is a chart of the program's own"),
        (["--key", "Eb"], "would change its key; name another file with --out"),
        (["--key", "F minor"], "the tune is in major, so it can't be in minor; say --key F"),
        (["--key", "X"], "'X' is not a key"),
    ],
)
def test_what_cannot_be_arranged_so_is_told_in_one_line(run: Run, tune: Path, words: list[str], message: str) -> None:
    before = tune.read_text()
    status, out, err = run("chart", "arrange", tune, *words)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert message in err
    assert tune.read_text() == before


def test_another_file_is_never_lost(run: Run, tune: Path) -> None:
    other = tune.with_name("other.toml")
    other.write_text("precious")
    status, _, err = run("chart", "arrange", tune, "--out", other)
    former = tune.with_name("other.toml.former-1")
    assert (status, err) == (0, f"companion: {other}: what stood there is kept in {former}\n")
    assert former.read_text() == "precious" and load(other).written


def test_a_chart_of_a_newer_format_is_left_as_it_is(run: Run, tune: Path) -> None:
    tune.write_text(text := tune.read_text().replace("format = 1", "format = 9"))
    status, _, err = run("chart", "arrange", tune)
    assert status == 2 and "newer than this companion reads" in err
    assert tune.read_text() == text


def test_what_is_written_is_printed_whatever_the_seed_and_free_parts_are_not(run: Run, tune: Path) -> None:
    run("chart", "arrange", tune, "--seed", 1)
    out = [tune.with_name(f"{name}.mid") for name in ("one", "two", "free", "other")]
    for file, words in zip(
        out, (["--seed", 5], ["--seed", 6], ["--seed", 5, "--free"], ["--seed", 6, "--free"]), strict=True
    ):
        assert run("print", tune, "--out", file, *words)[0] == 0
    one, two, free, other = (notes(file, "bass") for file in out)
    assert one == two
    assert free != other


def test_a_replay_plays_what_is_written(run: Run, tune: Path, tmp_path: Path) -> None:
    run("chart", "arrange", tune, "--seed", 1, "--treatment", "walking")
    written = [note.pitch.midi for note in next(p for p in load(tune).written if p.part == "bass").notes]
    played, together = tmp_path / "played.mid", tmp_path / "together.mid"
    track = mido.MidiTrack([mido.Message("note_on", note=72, velocity=0, time=960)])
    for note in (72, 74, 77, 74, 76, 72):
        track.append(mido.Message("note_on", note=note, velocity=80, time=0))
        track.append(mido.Message("note_off", note=note, velocity=0, time=4 * 480 if note in (72, 74) else 960))
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(played)
    status, _, err = run(
        "replay", tune, played, "--you", "melody", "--time", "steady", "--tempo", 120, "--start", 1, "--choruses", 1,
        "--seed", 77, "--out", together,
    )  # fmt: skip
    assert (status, err) == (0, "")
    assert notes(together, "bass") == written


@pytest.mark.parametrize("command", ["print", "show", "explain", "audit"])
def test_a_key_moves_everything(run: Run, tune: Path, command: str) -> None:
    if command == "print":
        plain, moved = tune.with_name("plain.mid"), tune.with_name("moved.mid")
        run("print", tune, "--out", plain)
        assert run("print", tune, "--key", "Ab", "--out", moved)[0] == 0
        assert [b - a for a, b in zip(notes(plain, "melody"), notes(moved, "melody"), strict=True)] == [3] * 6
        assert all(28 <= note <= 55 for note in notes(moved, "bass"))
    else:
        status, out, err = run("chart", command, tune, "--key", "Ab", *(["--seeds", 1] if command == "audit" else []))
        assert status in (0, 1) and "defect" not in err
        assert command == "audit" or ("Abmaj7" in out and "Fmaj7" not in out)


def test_an_arrangement_is_made_in_another_key_in_a_file_of_its_own(run: Run, tune: Path) -> None:
    run("chart", "arrange", tune, "--seed", 1)
    out = tune.with_name("in-d.toml")
    assert run("chart", "arrange", tune, "--key", "D", "--bars", "1", "--seed", 4, "--out", out)[0] == 0
    chart = load(out)
    assert (chart.fifths, chart.sections[0].chords[0].chord.symbol) == (2, "Dmaj7")
    assert "# a turnaround" in out.read_text()
    before = {p.part: p for p in load(tune).written}["bass"]
    after = {p.part: p for p in chart.written}["bass"]
    kept = [(n.beat, (n.pitch.midi - 3) % 12) for n in before.notes if n.beat >= 4]
    assert kept == [(n.beat, n.pitch.midi % 12) for n in after.notes if n.beat >= 4]


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("--bars 2", "chords and bass of bar 2 written"),
        ("--bars 2-3 --parts bass", "bass of bars 2-3 written"),
        ("--parts Bass,melody", "melody and bass of bars 1-4 written"),
        ("--bars 4 --parts chords,melody,bass", "melody, chords and bass of bar 4 written"),
    ],
)
def test_what_has_been_written_is_said_in_a_line(run: Run, tune: Path, words: str, what: str) -> None:
    assert run("chart", "arrange", tune, "--seed", 1, *words.split())[1].splitlines()[0] == f"{tune}: {what}"


def test_a_copy_of_a_shipped_chart_that_is_there_is_left_as_it_is(run: Run, data: Path) -> None:
    own = data / "charts" / "two-spoons-short.toml"
    own.parent.mkdir(parents=True)
    own.write_text("mine", encoding="utf-8")
    shipped = shipped_folder() / "charts" / "two-spoons-short.toml"
    status, _, err = run("chart", "arrange", shipped)
    assert status == 2 and f"{own}: is there already, and is left as it is; name another file with --out" in err
    assert own.read_text(encoding="utf-8") == "mine"


def test_where_bars_are_added_to_what_is_written_nothing_is_lost_and_nothing_kept(run: Run, tune: Path) -> None:
    run("chart", "arrange", tune, "--bars", "1-2", "--parts", "bass", "--seed", 1)
    first = {part.part: part.notes for part in load(tune).written}["bass"]
    assert run("chart", "arrange", tune, "--bars", "3-4", "--parts", "bass", "--seed", 2)[2] == ""
    both = {part.part: part.notes for part in load(tune).written}["bass"]
    assert both[: len(first)] == first and len(both) > len(first) and list(tune.parent.glob("tune*")) == [tune]


def test_what_is_made_anew_by_force_isnt_kept(run: Run, tune: Path) -> None:
    run("chart", "arrange", tune, "--seed", 1)
    assert run("chart", "arrange", tune, "--seed", 2, "--force")[2] == "" and list(tune.parent.glob("tune*")) == [tune]
