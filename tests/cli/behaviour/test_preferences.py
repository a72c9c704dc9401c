"""Preferences of the player's own, as the commands take them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import mido
import pytest

from companion.preferences.reading import forget

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]
Write = Callable[[str, str], Path]


@pytest.fixture
def own(tmp_path: Path) -> Write:
    """Writes a file of the player's own, before anything is read."""
    folder = tmp_path / "data" / "configs"
    folder.mkdir(parents=True)

    def write(name: str, text: str) -> Path:
        path = folder / name
        path.write_text(text, encoding="utf-8")
        forget()
        return path

    return write


def velocities(path: Path, part: str) -> list[int]:
    tracks = {track.name: track for track in mido.MidiFile(path).tracks}
    return [m.velocity for m in tracks[part] if m.type == "note_on" and m.velocity]


def test_a_louder_bass_alone_is_printed_louder_and_the_chords_as_ever(run: Run, own: Write, tmp_path: Path) -> None:
    ours, louder = tmp_path / "ours.mid", tmp_path / "louder.mid"
    assert run("print", "two-spoons-short", "--out", ours)[0] == 0
    own("touch.toml", "[bass]\nlevel = 100\n")
    assert run("print", "two-spoons-short", "--out", louder)[0] == 0
    pairs = zip(velocities(louder, "bass"), velocities(ours, "bass"), strict=True)
    assert all(new == pytest.approx(old * 100 / 68, abs=1.3) for new, old in pairs)
    assert velocities(louder, "chords") == velocities(ours, "chords")


ONE_THING_EACH = {
    "touch.toml": "[bass]\nlevel = 90\n",
    "order.toml": "[ritardando]\nto = 0.7\n",
    "players.toml": "[player.aunt]\nwrong = 0.1\n",
    "listening.toml": "[busy]\nleft-out = 0.2\n",
    "instruments.toml": "[piano]\nlatency-ms = 25\n",
}


def test_files_that_say_one_thing_each_leave_the_demo_playing_and_the_paper_printed(
    run: Run, own: Write, tmp_path: Path, sheet: Path
) -> None:
    for name, text in ONE_THING_EACH.items():
        own(name, text)
    status, _, err = run("demo", sheet, "--fast", "--choruses", "1", "--out", tmp_path / "out")
    assert status == 0, err
    for suffix in (".mid", ".musicxml"):
        status, _, err = run("print", sheet, "--out", tmp_path / f"out{suffix}")
        assert status == 0, err


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("touch.toml", "[bass]\nlevl = 90\n", "[bass]: 'levl' is no key here; did you mean 'level'?"),
        ("order.toml", "[ritardando]\ntoo = 0.7\n", "[ritardando]: 'too' is no key here; did you mean 'to'?"),
        ("trading.toml", "[manners]\nwait = -1\n", "[manners]: wait = -1 is not a number from 0 to 64 (beats)"),
        ("treatments-mine.toml", '[sunday]\nbass = "stroll"\n', "[sunday]: 'stroll' is not a bass pattern"),
        (
            "treatments.toml",
            '[open]\nchords = ["fourths-and-third"]\n',
            "[open]: 'fourths-and-third' is not a family of voicings; did you mean 'fourths-and-a-third'?",
        ),
        ("tuch.toml", "[bass]\nlevel = 90\n", "no preferences have this name; did you mean 'touch.toml'?"),
    ],
)
def test_a_slip_is_told_before_the_first_note_even_where_it_would_matter_late(
    run: Run, own: Write, one_line: OneLine, tmp_path: Path, name: str, text: str, says: str
) -> None:
    path = own(name, text)
    status, _, err = run("demo", "--fast", "--choruses", "1", "--out", tmp_path / "out")
    assert status == 2 and f"{path}: {says}" in one_line(err)
    assert not (tmp_path / "out").exists()


def test_a_copy_that_is_laid_aside_disturbs_nobody(run: Run, own: Write, tmp_path: Path, sheet: Path) -> None:
    own("touch-old.toml", "[bass]\nlevl = 90\n")
    own("notes.toml", "anything = true\n")
    assert run("demo", sheet, "--fast", "--choruses", "1", "--out", tmp_path / "out")[0] == 0
