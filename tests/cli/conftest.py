"""A sheet, a performance of it, and ways to run a command: in this process, or in one of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import mido
import pytest

from companion import cli
from companion.chart.model import Chart
from companion.stage.console import Account, BeatTally
from companion.stage.settings import Settings

Run = Callable[..., tuple[int, str, str]]
Shell = Callable[..., subprocess.CompletedProcess[str]]
OneLine = Callable[[str], str]


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


@dataclass
class Asked:
    """What a command has asked to be played at the keyboard; nothing is opened, and nobody waits."""

    chart: Chart
    settings: Settings
    more: dict[str, Any]


@dataclass
class Keyboard:
    """A keyboard without ports or clock: it keeps what was asked of it, and plays what it is told to."""

    asked: list[Asked] = field(default_factory=list)
    plays: Callable[[Asked], None] = lambda asked: None
    stopped: bool = False

    def play(self, chart: Chart, settings: Settings, **more: Any) -> Account:
        self.asked.append(Asked(chart, settings, more))
        self.plays(self.asked[-1])
        return Account(chart.title, 0.0, 0, BeatTally(()), {}, stopped=self.stopped)


@pytest.fixture
def keyboard(monkeypatch: pytest.MonkeyPatch) -> Keyboard:
    """What commands play on in the place of the instrument."""
    made = Keyboard()
    monkeypatch.setattr("companion.stage.live.play", made.play)
    return made


@pytest.fixture
def shell() -> Shell:
    """Run one command in a process of its own."""
    return _shell


def _shell(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "companion", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, **environment},
    )


@pytest.fixture
def one_line() -> OneLine:
    """Hold a complaint to what it should be."""
    return _one_line


def _one_line(err: str) -> str:
    """The complaint, when it is one line in our voice."""
    assert err.startswith("companion: ") and err.endswith("\n") and err.count("\n") == 1, err
    return err
