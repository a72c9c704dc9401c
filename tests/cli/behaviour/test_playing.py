"""``play`` and ``ports`` where there is no instrument, no service or no package for ports."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.ports.binding import binding

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def test_ports_says_where_the_players_own_files_lie(run: Run, tmp_path: Path, one_line: OneLine) -> None:
    # whatever MIDI there is on this machine: a list, or one line that says there is none
    status, out, err = run("ports")
    assert out.startswith(f"takes, your own charts and your own configs: {tmp_path / 'data'}\n")
    assert status == 0 or (status == 3 and one_line(err))


def test_a_midi_service_that_is_not_here_is_said(run: Run, one_line: OneLine) -> None:
    status, _, err = run("ports", "--midi", "windows" if sys.platform != "win32" else "alsa")
    assert status == 2 and "there is no MIDI service" in one_line(err)


def test_without_the_package_for_ports_only_ports_are_missing(
    run: Run, monkeypatch: pytest.MonkeyPatch, sheet: Path, one_line: OneLine
) -> None:
    for module in ("rtmidi", "supriya_midi"):
        monkeypatch.setitem(sys.modules, module, None)  # importing it now fails, as where it isn't installed
    binding.cache_clear()
    package = "python-rtmidi" if sys.version_info < (3, 13) else "supriya-midi"
    for typed in (["ports"], ["play", sheet]):
        status, _, err = run(*typed)
        assert status == 3 and f"python3 -m pip install {package}" in one_line(err)
    assert run("demo", sheet, "--fast", "--choruses", 1)[0] == 0


def test_playing_without_an_instrument_is_a_missing_device(run: Run, sheet: Path, one_line: OneLine) -> None:
    status, _, err = run("play", sheet, "--in", "an instrument that nobody has")
    assert status == 3 and one_line(err)


def test_over_a_chart_without_a_melody_the_player_improvises_and_that_is_said(run: Run, tmp_path: Path) -> None:
    changes = tmp_path / "changes.toml"
    changes.write_text('format = 1\n[section.A]\nchords = "| Cmaj7 | Am7 | Dm7 | G7 |"\n', encoding="utf-8")
    status, _, err = run("play", changes, "--in", "an instrument that nobody has")
    assert status == 3
    assert err.splitlines()[0] == "the chart has no melody: you improvise over it, as with --you solo"
    status, _, err = run("play", changes, "--you", "melody", "--in", "an instrument that nobody has")
    assert status == 2 and "has no melody to play; improvise over it with --you solo" in err
