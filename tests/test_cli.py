"""The commands as a shell sees them: right words do their work, wrong ones get one line and the right exit status."""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import signal
import subprocess
import sys
import wave
from collections.abc import Callable
from pathlib import Path

import mido
import pytest

from companion import __version__, cli
from companion.cli.words import your_parts
from companion.errors import DeviceError, FaultsFound
from companion.resources import chart_path

Run = Callable[..., tuple[int, str, str]]

SHEET = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0">
  <part-list><score-part id="P1"><part-name>Lead</part-name></score-part></part-list>
  <part id="P1">{bars}</part>
</score-partwise>
"""
BAR = """<measure number="{number}">{attributes}
  <harmony><root><root-step>{root}</root-step></root><kind>{kind}</kind></harmony>
  {notes}</measure>"""
NOTE = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>"
ATTRIBUTES = """<attributes><divisions>1</divisions><key><fifths>0</fifths></key>
  <time><beats>4</beats><beat-type>4</beat-type></time></attributes>"""
MELODY = ("DEFA", "GFED", "EGBG", "CCEG", "FEDF", "BAGF", "EDCE", "CDEF")
CHORDS = (("D", "minor-seventh"), ("G", "dominant"), ("C", "major-seventh"), ("A", "dominant")) * 2


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """A lead sheet of eight bars: a melody in quarters over ii–V–I–VI."""
    bars = "".join(
        BAR.format(
            number=i + 1,
            attributes=ATTRIBUTES if i == 0 else "",
            root=root,
            kind=kind,
            notes="".join(map(NOTE.format, notes)),
        )
        for i, ((root, kind), notes) in enumerate(zip(CHORDS, MELODY, strict=True))
    )
    path = tmp_path / "sheet.musicxml"
    path.write_text(SHEET.format(bars=bars), encoding="utf-8")
    return path


@pytest.fixture
def performance(tmp_path: Path) -> Path:
    """That melody at 120 quarters a minute after two seconds, dead in time."""
    track = mido.MidiTrack([mido.Message("note_on", note=48, velocity=0, time=4 * 480)])
    for name in "".join(MELODY):
        note = 60 + dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))[name]
        track.append(mido.Message("note_on", note=note, velocity=80, time=0))
        track.append(mido.Message("note_off", note=note, velocity=0, time=480))
    path = tmp_path / "performance.mid"
    mido.MidiFile(type=0, ticks_per_beat=480, tracks=[track]).save(path)
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Run one command in this process; gives its exit status, its output and its complaints."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("COMPANION_DEBUG", raising=False)

    def run(*words: object) -> tuple[int, str, str]:
        try:
            status = cli.main([str(word) for word in words])
        except SystemExit as end:
            status = int(end.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run


def shell(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run one command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "companion", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, **environment},
    )


def one_line(err: str) -> str:
    """The complaint, when it is one line in our voice."""
    assert err.startswith("companion: ") and err.endswith("\n") and err.count("\n") == 1, err
    return err


def test_help_names_every_command_and_each_command_gives_examples(run: Run) -> None:
    status, out, _ = run("--help")
    assert status == 0
    commands = _commands()
    assert commands
    for name in commands:
        assert name[0] in out
        status, text, err = run(*name, "--help")
        assert (status, err) == (0, "")
        assert "examples:\n  companion " + " ".join(name) in text, name


def test_every_number_in_the_help_has_its_unit() -> None:
    units = {"BPM": "quarters a minute", "MS": "milliseconds", "SECONDS": "in seconds"}
    found = set()
    for parser in _commands().values():
        for action in parser._actions:
            if action.metavar in units:
                assert units[str(action.metavar)] in (action.help or ""), action.option_strings
                found.add(action.metavar)
    assert found == set(units)


def _commands() -> dict[tuple[str, ...], argparse.ArgumentParser]:
    """Every command by its words, such as ('chart', 'show')."""
    found: dict[tuple[str, ...], argparse.ArgumentParser] = {}

    def walk(parser: argparse.ArgumentParser, words: tuple[str, ...]) -> None:
        groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
        for group in groups:
            for name, inner in group.choices.items():
                walk(inner, (*words, name))
        if words and not groups:
            found[words] = parser

    walk(cli.build_parser(), ())
    return found


def test_the_version_is_the_packages(run: Run) -> None:
    assert run("--version")[:2] == (0, f"companion {__version__}\n")


def test_no_command_at_all_shows_the_help(run: Run) -> None:
    status, out, err = run()
    assert status == 0 and out.startswith("usage: companion") and not err


# companion replay


def test_replay_writes_beats_and_a_track_for_each_part(
    run: Run, tmp_path: Path, sheet: Path, performance: Path
) -> None:
    beats, out, trace = (tmp_path / name for name in ("beats.csv", "out.mid", "trace.jsonl"))
    count_in = ["--tempo", 120, "--start", 2]
    status, text, err = run("replay", sheet, performance, *count_in, "--beats", beats, "--out", out, "--trace", trace)
    assert (status, err) == (0, "")
    assert "32 notes" in text and "bass" in text
    heading, *rows = beats.read_text(encoding="utf-8").splitlines()
    assert heading == "chart_beat,seconds,sure"
    values = [tuple(map(float, row.split(","))) for row in rows]
    # an exact performance at 120: beat n sounds n / 2 seconds after the first downbeat, as the player's own does
    assert [beat for beat, _, _ in values[:30]] == list(range(30))
    assert all(abs(moment - (2 + beat / 2)) < 0.07 for beat, moment, _ in values[:30])
    assert all(0 <= sure <= 1 for _, _, sure in values)
    assert sorted(moment for _, moment, _ in values) == [moment for _, moment, _ in values]
    tracks = {track.name: track for track in mido.MidiFile(out).tracks[1:]}
    assert list(tracks) == ["player", "chords", "bass"]
    assert [m.note for m in tracks["player"] if m.type == "note_on" and m.velocity] == _notes(performance)
    assert {m.channel for m in tracks["bass"] if not m.is_meta} == {1}  # channel 2, counted from 0
    events = [json.loads(line) for line in trace.read_text(encoding="utf-8").splitlines()]
    assert sum(event["report"] == "belief" and event["event"] == "note" for event in events) == 32
    assert sum(event["report"] == "beat" for event in events) == len(rows)


def test_the_same_seed_gives_the_same_files_and_another_seed_other_notes(
    run: Run, tmp_path: Path, sheet: Path, performance: Path
) -> None:
    written = []
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        files = tmp_path / f"{name}.csv", tmp_path / f"{name}.mid"
        options = ["--beats", files[0], "--out", files[1], "--seed", seed, "--treatment", "walking"]
        assert run("replay", sheet, performance, *options)[0] == 0
        written.append([file.read_bytes() for file in files])
    assert written[0] == written[1]
    assert written[0][1] != written[2][1]


def test_the_companion_plays_what_it_is_asked_to(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    for typed, parts in (
        (["--parts", "bass"], ["bass"]),
        (["--you", "melody,chords"], ["bass"]),
        (["--you", "melody,chords,bass"], []),
        (["--you", "solo"], ["chords", "bass"]),
        (["--parts", "click,bass"], ["bass", "click"]),
        (["--you", "chords", "--parts", "solo,bass"], ["bass", "solo"]),
    ):
        out = tmp_path / "out.mid"
        assert run("replay", sheet, performance, "--tempo", 120, "--start", 2, "--out", out, *typed)[0] == 0
        tracks = mido.MidiFile(out).tracks[2:]
        assert [track.name for track in tracks] == parts
        assert all(any(message.type == "note_on" for message in track) for track in tracks)


def _notes(path: Path) -> list[int]:
    return [m.note for m in mido.MidiFile(path) if m.type == "note_on" and m.velocity]


# companion chart


def test_a_sound_chart_is_called_so(run: Run, sheet: Path) -> None:
    assert run("chart", "check", "two-spoons-short", sheet) == (
        0,
        f"two-spoons-short: nothing wrong\n{sheet}: nothing wrong\n",
        "",
    )


FAULTY = """format = 1
title = "Wrong on Purpose"
key = "C major"
metre = "4/4"
form = "A"
feel = "wobbly"

[section.A]
treatment = "swaggering"
chords = '''
| Cmaj7 | Hm7 | Dm7 G7 |
'''
melody = '''
| c4 e4 | d8 | G4 |
'''
"""


def test_all_faults_of_a_chart_are_listed_with_section_and_bar(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "faulty.toml"
    path.write_text(FAULTY, encoding="utf-8")
    status, out, err = run("chart", "check", path)
    lines = out.splitlines()
    assert status == 1 and all(line.startswith(f"{path}: ") for line in lines)
    assert one_line(err) == f"companion: {len(lines)} faults found\n"
    for place, word in (
        ("section A, bar 2", "Hm7"),
        ("section A, bar 3", ""),
        ("section A", "swaggering"),
        ("", "wobbly"),
    ):
        assert any(place in line and word in line for line in lines), (place, word)


def test_checking_goes_on_after_a_file_that_is_no_chart(run: Run, tmp_path: Path) -> None:
    status, out, err = run("chart", "check", tmp_path / "none.toml", "two-spoons-short")
    assert status == 2 and "none.toml" in one_line(err) and "two-spoons-short: nothing wrong" in out


def test_a_chart_is_shown_with_its_bars_and_scales(run: Run, sheet: Path) -> None:
    status, out, err = run("chart", "show", sheet, "--width", 60)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 100
    for words in ("Dm7", "D4 E4 F4 A4", "D dorian"):
        assert words in out
    assert "dorian" not in run("chart", "show", sheet, "--no-scales")[1]


def test_an_arrangement_is_explained_for_the_bars_asked_for(run: Run) -> None:
    status, out, err = run("chart", "explain", "two-spoons-short", "--bars", "3-4", "--treatment", "walking")
    assert (status, err) == (0, "")
    throughout, section, *heads = [line for line in out.splitlines() if not line.startswith(" ")]
    assert throughout.startswith("over the whole form: F mixolydian")
    assert section.startswith("A: walking, ")
    assert [head.split()[0] for head in heads] == ["3", "4"]
    assert "the root says" in out and "rootless from the" in out


@pytest.mark.parametrize(
    ("bars", "said"),
    [("30", "there is no bar 30; the form has 12 bars"), ("4-3", "names no bars"), ("x", "names no bars")],
)
def test_bars_that_are_not_there_are_said(run: Run, bars: str, said: str) -> None:
    status, _, err = run("chart", "explain", "two-spoons-short", "--bars", bars)
    assert status == 2 and said in one_line(err)


def test_an_audit_prints_its_figures_and_writes_them(run: Run, tmp_path: Path, sheet: Path) -> None:
    path = tmp_path / "figures.json"
    typed = ["--treatment", "walking", "--seeds", 1, "--json", path]
    status, out, err = run("chart", "audit", "two-spoons-short", sheet, *typed)
    written = json.loads(path.read_text(encoding="utf-8"))
    missed = [figure for chart in written["charts"] for figure in chart["figures"] if not figure["reached"]]
    assert [chart["chart"] for chart in written["charts"]] == ["two-spoons-short", str(sheet)]
    assert status == (1 if missed else 0) and (not missed or one_line(err))
    assert all(figure["name"] in out for chart in written["charts"] for figure in chart["figures"])
    assert sum(line.startswith("  ! ") for line in out.splitlines()) == len(missed)


# companion ports


def test_ports_says_where_the_players_own_files_lie(run: Run, tmp_path: Path) -> None:
    # whatever MIDI there is on this machine: a list, or one line that says there is none
    status, out, err = run("ports")
    assert out.startswith(f"takes, your own charts and your own configs: {tmp_path / 'data'}\n")
    assert status == 0 or (status == 3 and one_line(err))


def test_a_midi_service_that_is_not_here_is_said(run: Run) -> None:
    status, _, err = run("ports", "--midi", "windows" if sys.platform != "win32" else "alsa")
    assert status == 2 and "there is no MIDI service" in one_line(err)


def test_without_the_package_for_ports_only_ports_are_missing(
    run: Run, monkeypatch: pytest.MonkeyPatch, sheet: Path
) -> None:
    monkeypatch.setitem(sys.modules, "rtmidi", None)  # importing it now fails, as where it isn't installed
    for typed in (["ports"], ["play", sheet]):
        status, _, err = run(*typed)
        assert status == 3 and "python3 -m pip install python-rtmidi" in one_line(err)
    assert run("demo", sheet, "--fast", "--choruses", 1)[0] == 0


def test_what_is_taken_when_nothing_is_said_is_shown(run: Run) -> None:
    text = " ".join(run("replay", "--help")[1].split())
    for words in ("(default: melody)", "(default: 0)", "(default: 10)", "(default: follow)"):
        assert words in text


def test_playing_without_an_instrument_is_a_missing_device(run: Run, sheet: Path) -> None:
    status, _, err = run("play", sheet, "--in", "an instrument that nobody has")
    assert status == 3 and one_line(err)


# companion demo


def test_the_demo_shows_the_job_without_any_hardware(run: Run, tmp_path: Path) -> None:
    status, out, err = run("demo", "two-spoons-short", "--fast", "--choruses", "1")
    assert (status, err) == (0, "")
    for words in ("bar by bar", "A   1  F13 ", "Two Spoons Short:", "followed: ", "bass", "kept in "):
        assert words in out
    (take,) = (tmp_path / "data" / "demo" / "takes").iterdir()
    assert str(take / "take.wav") in out
    assert {path.name for path in take.iterdir()} == {"take.mid", "take.json", "take.wav"}
    with wave.open(str(take / "take.wav")) as sound:
        assert sound.getnframes() / sound.getframerate() > 20  # twelve bars at 116 and two to count in


def test_the_demo_plays_any_chart_and_any_role(run: Run, tmp_path: Path, sheet: Path) -> None:
    wav = tmp_path / "evening.wav"
    words = ("--you", "bass", "--player", "clean", "--wav", wav, "--out", tmp_path / "here", "--choruses", "1")
    status, out, _ = run("demo", sheet, "--fast", *words)
    assert status == 0 and wav.exists()
    assert "the companion's notes: " in out and " bass " not in out.split("the companion's notes: ")[1].splitlines()[0]
    assert [path.name for path in (tmp_path / "here").iterdir()] == ["takes"]


def test_a_demo_that_cannot_be_kept_does_not_begin(run: Run, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file")
    status, out, err = run("demo", "--fast", "--out", tmp_path / "taken")
    assert status == 2 and not out and "taken: can't be written" in one_line(err)


def test_a_chart_without_chords_or_without_a_melody_is_played_as_far_as_it_goes(run: Run, tmp_path: Path) -> None:
    head = 'format = 1\ntitle = "Half"\nkey = "C major"\nmetre = "4/4"\ntempo = 120\nform = "A"\n[section.A]\n'
    tune = tmp_path / "tune.toml"
    tune.write_text(head + 'melody = "| c4 d4 | e4 f4 | g4 e4 | c8 |"\n', encoding="utf-8")
    assert run("demo", tune, "--fast", "--choruses", 2)[0] == 0
    changes = tmp_path / "changes.toml"
    changes.write_text(head + 'chords = "| Cmaj7 | Am7 | Dm7 | G7 |"\n', encoding="utf-8")
    assert run("demo", changes, "--fast", "--you", "bass", "--choruses", 2)[0] == 0
    status, _, err = run("demo", changes, "--fast")
    assert status == 2 and "nothing for melody to play" in one_line(err)


def test_an_unknown_player_is_named_with_those_there_are(run: Run) -> None:
    status, _, err = run("demo", "--fast", "--player", "nobody")
    assert status == 2 and "nobody" in one_line(err) and "evening" in err


# What goes wrong on the command line


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["pley", "tune"], "there is no command 'pley', there are"),
        (["replay"], "say also CHART, PERFORMANCE; see companion replay --help"),
        (["replay", "a.toml"], "PERFORMANCE"),
        (["replay", "a.toml", "b.mid", "--yuo", "melody"], "doesn't know what to do with --yuo melody"),
        (["replay", "a.toml", "b.mid", "--you", "left hand"], "'left hand' is not a part; there are melody, chords"),
        (["replay", "a.toml", "b.mid", "--you", "melody;chords"], "'melody;chords' is not a part"),
        (["replay", "a.toml", "b.mid", "--you", "melody,"], "'' is not a part"),
        (["replay", "a.toml", "b.mid", "--you", "melody,solo"], "in the melody's place"),
        (["replay", "a.toml", "b.mid", "--you", "click"], "'click' is not a part"),
        (["replay", "a.toml", "b.mid", "--parts", "drums"], "'drums' is not a part; there are melody, chords, bass"),
        (["replay", "a.toml", "b.mid", "--time", "rubato"], "--time: there is no 'rubato', there are 'follow'"),
        (["replay", "a.toml", "b.mid", "--tempo", "-120"], "--tempo"),
        (["replay", "a.toml", "b.mid", "--tempo=-120"], "'-120' is not a tempo; give quarters a minute, 10 to 600"),
        (["replay", "a.toml", "b.mid", "--tempo", "nan"], "'nan' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--tempo", "inf"], "'inf' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--tempo", "fast"], "'fast' is not a tempo"),
        (["replay", "a.toml", "b.mid", "--start", "2.0"], "--start tells when a count-in ends; say how fast"),
        (["replay", "a.toml", "b.mid", "--tempo", "120", "--start", "soon"], "'soon' is not a moment; give seconds"),
        (["replay", "a.toml", "b.mid", "--choruses", "0"], "'0' is not a number of times"),
        (["replay", "a.toml", "b.mid", "--choruses", "1.5"], "'1.5' is not a number of times"),
        (["replay", "a.toml", "b.mid", "--latency", "-1"], "--latency"),
        (["replay", "a.toml", "b.mid", "--latency", "5000"], "'5000' is not a latency; give milliseconds"),
        (["replay", "a.toml", "b.mid", "--seed", "x"], "--seed: 'x' is not a whole number"),
        (["replay", "a.toml", "b.mid", "more"], "more"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_words_that_cannot_be_meant_get_one_line(run: Run, typed: list[str], said: str) -> None:
    status, out, err = run(*typed)
    assert (status, out) == (2, "")
    assert said in one_line(err)


def test_half_an_option_is_not_guessed(run: Run) -> None:
    # a script that says --temp today must not mean something else when an option is added
    status, _, err = run("replay", "a.toml", "b.mid", "--temp", "120")
    assert status == 2 and "--temp" in one_line(err)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("melody", {"melody"}),
        ("chords", {"chords"}),
        ("bass", {"bass"}),
        ("solo", {"solo"}),
        ("melody,chords", {"melody", "chords"}),
        ("bass,solo", {"bass", "solo"}),
        ("melody,chords,bass", {"melody", "chords", "bass"}),
        (" Melody , bass ", {"melody", "bass"}),
    ],
)
def test_you_takes_every_way_of_sharing_a_tune(text: str, parts: set[str]) -> None:
    assert your_parts(text) == parts


# What goes wrong with files

BOMB = """<?xml version="1.0"?>
<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">
<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>
<score-partwise version="4.0"><part-list/><part id="P1"><measure number="1">&b;</measure></part></score-partwise>"""
BAD_CHARTS: dict[str, bytes] = {
    "empty.toml": b"",
    "garbled.toml": b'format = 1\ntitle = "no end\n',
    "bytes.toml": bytes(range(256)),
    "other.toml": b"[tool.other]\nname = 'something else'\n",
    "newer.toml": b"format = 9999\ntitle = 'From later'\n",
    "empty.musicxml": b"",
    "text.musicxml": b"Dear reader,\n",
    "cut.musicxml": SHEET.encode()[:120],
    "page.musicxml": b"<html><body/></html>",
    "bomb.musicxml": BOMB.encode(),
    "no-bars.musicxml": SHEET.format(bars="").encode(),
    "text.mxl": b"Dear reader,\n",
    "cut.mxl": b"PK\x03\x04" + bytes(40),
    "score.pdf": b"%PDF-1.7\n",
    "no-suffix": b"format = 1\n",
}
BAD_PERFORMANCES: dict[str, bytes] = {
    "empty.mid": b"",
    "text.mid": b"Dear reader,\n",
    "header.mid": b"MThd",
    "cut.mid": b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\x40\0\x90\x3c",
    "silent.mid": b"MThd\0\0\0\6\0\0\0\1\1\xe0MTrk\0\0\0\4\0\xff\x2f\0",
    "no-clock.mid": b"MThd\0\0\0\6\0\0\0\1\0\0MTrk\0\0\0\4\0\xff\x2f\0",
    "wave.mid": b"RIFF\x24\0\0\0WAVEfmt ",
}


@pytest.mark.parametrize("name", BAD_CHARTS)
def test_a_chart_that_cannot_be_played_is_named_in_one_line(
    run: Run, tmp_path: Path, performance: Path, name: str
) -> None:
    path = tmp_path / name
    path.write_bytes(BAD_CHARTS[name])
    status, out, err = run("replay", path, performance)
    assert (status, out) == (2, "")
    assert f"companion: {path}: " in one_line(err)


@pytest.mark.parametrize("name", BAD_PERFORMANCES)
def test_a_performance_that_cannot_be_read_is_named_in_one_line(
    run: Run, tmp_path: Path, sheet: Path, name: str
) -> None:
    path = tmp_path / name
    path.write_bytes(BAD_PERFORMANCES[name])
    status, out, err = run("replay", sheet, path)
    assert (status, out) == (2, "")
    assert f"companion: {path}: " in one_line(err)


def test_a_missing_file_and_a_folder_are_named(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    for typed in (
        [tmp_path / "none.toml", performance],
        [tmp_path, performance],
        [sheet, tmp_path / "none.mid"],
        [sheet, tmp_path],
        ["x" * 5000, performance],
        [sheet, "x" * 5000],
    ):
        status, out, err = run("replay", *typed)
        assert (status, out) == (2, ""), err
        one_line(err)


def test_a_chord_that_is_none_is_found_by_its_bar(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    text = sheet.read_text(encoding="utf-8")
    path = tmp_path / "odd.musicxml"
    path.write_text(text.replace("<root-step>A</root-step>", "<root-step>H</root-step>", 1), encoding="utf-8")
    status, _, err = run("replay", path, performance)
    assert status == 2
    assert str(path) in one_line(err) and re.search(r"(bar|measure) 4: .*'H'", err)


def test_an_unknown_treatment_is_named_with_those_there_are(run: Run, sheet: Path, performance: Path) -> None:
    status, out, err = run("replay", sheet, performance, "--treatment", "swaggering")
    assert (status, out) == (2, "")
    assert "swaggering" in one_line(err) and "walking" in err


@pytest.mark.parametrize("option", ["--beats", "--out", "--trace"])
def test_what_cannot_be_written_is_said_before_the_work(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, option: str
) -> None:
    for place in (tmp_path, tmp_path / "no" / "such" / "folder", sheet, performance):
        before = performance.read_bytes(), sheet.read_bytes()
        status, out, err = run("replay", sheet, performance, option, place)
        assert (status, out) == (2, "")
        assert str(place) in one_line(err)
        assert before == (performance.read_bytes(), sheet.read_bytes())


def test_two_outputs_do_not_share_a_file(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    place = tmp_path / "both"
    status, _, err = run("replay", sheet, performance, "--beats", place, "--out", place)
    assert status == 2 and f"{place} is named twice" in one_line(err)


# What goes wrong inside


def _failing(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def fail(_: argparse.Namespace) -> int:
        raise error

    monkeypatch.setattr(cli, "_run", fail)


@pytest.mark.parametrize(
    ("error", "status"),
    [(FaultsFound("2 faults"), 1), (DeviceError("the piano went away"), 3)],
)
def test_each_kind_of_error_has_its_exit_status(
    run: Run, monkeypatch: pytest.MonkeyPatch, error: Exception, status: int
) -> None:
    _failing(monkeypatch, error)
    assert run("replay") == (status, "", f"companion: {error}\n")


def test_a_defect_is_said_in_one_line_and_written_down_for_developers(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    status, out, err = run("replay")
    assert (status, out) == (70, "")  # EX_SOFTWARE, sysexits.h
    (written,) = (tmp_path / "data" / "defects").iterdir()
    assert str(written) in one_line(err) and "ZeroDivisionError" in err
    assert "ZeroDivisionError: no beats" in written.read_text(encoding="utf-8")


def test_a_defect_with_nowhere_to_write_it_still_is_one_line(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    status, _, err = run("replay")
    assert status == 70 and "COMPANION_DEBUG=1" in one_line(err)


def test_developers_see_the_traceback(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, ZeroDivisionError("no beats"))
    monkeypatch.setenv("COMPANION_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run("replay")


def test_a_full_disk_is_no_defect(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, OSError(28, "No space left on device", "take.mid"))
    assert run("replay") == (2, "", "companion: take.mid: no space left on device\n")


def test_ctrl_c_ends_with_nothing_but_a_new_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    _failing(monkeypatch, KeyboardInterrupt())
    assert run("replay") == (130, "", "\n")


@pytest.mark.parametrize("words", ["--help", "chart show ferry-without-lights"])
def test_a_reader_that_has_seen_enough_is_no_error(words: str) -> None:
    command = f'set -o pipefail; "{sys.executable}" -m companion {words} | true'
    result = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=60)
    assert (result.returncode, result.stderr) == (0, "")


def test_ctrl_c_in_the_middle_of_a_demo_keeps_the_take(tmp_path: Path) -> None:
    command = [sys.executable, "-u", "-m", "companion", "demo", "--out", str(tmp_path), "--order", "form"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as demo:
        assert demo.stdout is not None
        lines = iter(demo.stdout.readline, "")
        assert any("Gm6" in line for line in lines)  # the first bar has been played
        demo.send_signal(signal.SIGINT)
        out, err = demo.communicate(timeout=60)
    assert (demo.returncode, err) == (130, "\n")
    (take,) = (tmp_path / "takes").iterdir()
    assert f"kept in {take}" in out and _notes(take / "take.mid")


def test_a_terminal_without_music_signs_is_no_error() -> None:
    for language in ("C", "POSIX"):
        result = shell("demo", "two-spoons-short", "--fast", LC_ALL=language, PYTHONUTF8="0", PYTHONCOERCECLOCALE="0")
        assert (result.returncode, result.stderr) == (0, "")


def test_a_damaged_file_is_never_our_defect(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    chart = chart_path("two-spoons-short")
    dice = random.Random(1)
    for original in (chart, sheet, performance):
        for number in range(40):
            data = bytearray(original.read_bytes())
            for _ in range(dice.choice((1, 2, 20))):
                at = dice.randrange(len(data))
                data[at : at + dice.randrange(3)] = bytes(
                    dice.choice(b"09|ab<>-/=[]\x00\x80\xff") for _ in range(dice.randrange(3))
                )
            path = tmp_path / f"{number}{original.suffix}"
            path.write_bytes(data)
            typed = ["replay", sheet, path] if original is performance else ["chart", "check", path]
            status, _, err = run(*typed)
            assert status in (0, 1, 2), (path, err)
            assert status == 0 or one_line(err)
