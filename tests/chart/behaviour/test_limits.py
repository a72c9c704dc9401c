"""Small files that would unpack, repeat or multiply into far more than a tune: each is refused, and the limit is said.

Each of these once filled the memory, or took from ten seconds to hours.
"""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import pytest

from companion.errors import ChartError, PerformanceError
from companion.load import check_file, import_file, load
from companion.stage.performance import read_performance

MACROS = "".join(f"m: ~{a} = {f'~{b}' * 10}\n" for a, b in zip("BCDEFGHI", "CDEFGHIJ", strict=True))


def abc(music: str, fields: str = "") -> str:
    return f"X:1\nT:Kettle at Six\nM:4/4\nL:1/4\n{fields}K:C\n{music}\n"


TUNES = {
    "macros that multiply": (abc("~B|CDEF|", MACROS), "its macros make a line of more than 100000 signs"),
    "parts that multiply": (abc("P:A\n" + "CDEF|" * 1500, "P:A100\n"), "its P: field: plays more than 2000 bars"),
    "a bar without an end": (abc("C" * 90_000), "bar 1: has more than 4000 signs"),
    "decorations without an end": (abc("!" * 90_000 + "|CDEF|"), "bar 1: has more than 4000 signs"),
    "a tune without an end": (abc("CDEF|\n" * 25_000), "has more than 100000 signs, too many for a tune"),
    "a rest without an end": (abc("CDEF|" + "Z999|" * 3), "has more than 2000 bars"),
    "a book without an end": (abc("CDEF|") * 10_001, "holds more than 10000 tunes"),
    "a file without an end": ("%" * 5_000_000, "is larger than 4 MB, too large for a book of tunes"),
}


@pytest.mark.parametrize("name", TUNES)
def test_a_tune_in_abc_that_no_one_could_play_is_refused_with_its_limit(tmp_path: Path, name: str) -> None:
    text, line = TUNES[name]
    path = tmp_path / "tune.abc"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChartError) as error:
        import_file(path)
    assert str(error.value).startswith(f"{path}: {line}")


def test_a_note_halved_without_end_is_a_remark(tmp_path: Path) -> None:
    path = tmp_path / "tune.abc"
    path.write_text(abc(f"C{'/' * 3000}|CDEF|"), encoding="utf-8")
    remarks = import_file(path).remarks
    assert any("more than 8 halvings of a length" in str(remark) for remark in remarks)


CHART = 'format = 1\ntitle = "Kettle at Six"\n'
CHARTS = {
    "bars": (
        f'{CHART}[section.A]\nchords = "{"| C " * 3000}|"\n',
        "section A: has more than 2000 bars; look for bar lines that aren't meant",
    ),
    "bars of melody": (
        f'{CHART}[section.A]\nmelody = "{"| C8 " * 3000}|"\n',
        "section A: has more than 2000 bars; look for bar lines that aren't meant",
    ),
    "a bar": (
        f'{CHART}[section.A]\nmelody = "| {"C" * 5000} |"\n',
        "section A, bar 1: has more than 4000 signs; look for a missing bar line",
    ),
    "a form": (
        f'{CHART}form = "{"A " * 1000}"\n[section.A]\nchords = "{"| C " * 1900}|"\n',
        "form: the form has more than 2000 bars",
    ),
    "sections": (
        CHART + "".join(f'[section.s{k}]\nchords = "| C |"\n' for k in range(1001)),
        "has more than 1000 sections",
    ),
    "a key": (
        f"{CHART}{'.'.join(['a'] * 5000)} = 1\n",
        "line 3: holds a key of more parts than any of ours; take it out",
    ),
    "a table's name": (
        CHART + "[" + " . ".join(['"a"'] * 5000) + "]\n",
        "line 3: holds a key of more parts than any of ours; take it out",
    ),
    "the file": (CHART + "#" * 2_000_000, "is larger than 1 MB, too large for a chart"),
}


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_without_an_end_is_refused_with_its_limit(tmp_path: Path, name: str) -> None:
    text, line = CHARTS[name]
    path = tmp_path / "tune.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChartError) as error:
        load(path)
    assert str(error.value) == f"{path}: {line}"


def test_a_check_finds_a_form_without_an_end(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    path.write_text(CHARTS["a form"][0], encoding="utf-8")
    assert [str(fault) for fault in check_file(path)] == [f"{path}: {CHARTS['a form'][1]}"]


def test_dots_in_a_chart_are_no_long_key(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    rule = "# " + ". " * 100 + "\n# " + "." * 200 + "\n"
    path.write_text(f'{CHART}{rule}[section.A]\nchords = "{"| C . . G " * 40}|"\n', encoding="utf-8")
    assert len(load(path).unfold().bars) == 40


SCORES = {
    "bars": ("<measure/>" * 2001, "has more than 2000 bars; export one tune alone"),
    "signs in a bar": (
        f'<measure number="1">{"<direction/>" * 2001}</measure>',
        "bar 1: has more than 2000 notes and signs; look for bar lines that are missing",
    ),
    "parts": (
        "<measure/>" + "".join(f'</part><part id="Q{k}"><measure/>' for k in range(100)),
        "has more than 100 parts; export the melody and its chords alone",
    ),
}


@pytest.mark.parametrize("name", SCORES)
def test_a_score_without_an_end_is_refused_with_its_limit(tmp_path: Path, ink: Any, name: str) -> None:
    measures, line = SCORES[name]
    score = ink.score([ink.note("C4", 4)])
    path = tmp_path / "sheet.musicxml"
    path.write_text(score.replace("<measure", measures + "<measure", 1), encoding="utf-8")
    with pytest.raises(ChartError) as error:
        load(path)
    assert str(error.value) == f"{path}: {line}"


def smf(track: bytes) -> bytes:
    """A Standard MIDI File of type 0 with 480 ticks a quarter."""
    track += b"\x00\xff\x2f\x00"
    return b"MThd" + struct.pack(">LHHH", 6, 0, 1, 480) + b"MTrk" + struct.pack(">L", len(track)) + track


def note(wait: int, key: int, lasts: int) -> bytes:
    """A note after so many ticks."""
    return length(wait) + bytes([0x90, key, 64]) + length(lasts) + bytes([0x80, key, 0])


def length(ticks: int) -> bytes:
    """A variable-length quantity (Standard MIDI Files 1.0)."""
    digits = [ticks & 127]
    while ticks := ticks >> 7:
        digits.append(128 | ticks & 127)
    return bytes(reversed(digits))


FAR = 480 * 9000
RECORDINGS = {
    "notes far apart": (
        b"".join(note(FAR, 60 + k % 12, 480) for k in range(50)),
        "has more than 2000 bars; export the tune alone, once through",
    ),
    "notes far apart, off the beat": (
        b"".join(note(FAR + 97 * k, 60 + k % 12, 480) for k in range(50)),
        "has more than 2000 bars; export the tune alone, once through",
    ),
    "a note held for days": (
        note(0, 60, 480 * 90_000),
        "has more than 2000 bars; export the tune alone, once through",
    ),
    "notes": (
        b"".join(note(1, 60, 1) for _ in range(20_001)),
        "a track has more than 20000 notes; export the tune alone, once through",
    ),
    "the file": (note(0, 60, 1) * 150_000, "is larger than 1 MB, too large for a tune in MIDI"),
}


@pytest.mark.parametrize("name", RECORDINGS)
def test_a_midi_file_without_an_end_is_refused_with_its_limit(tmp_path: Path, name: str) -> None:
    track, line = RECORDINGS[name]
    path = tmp_path / "tune.mid"
    path.write_bytes(smf(track))
    with pytest.raises(ChartError) as error:
        import_file(path)
    assert str(error.value) == f"{path}: {line}"


def test_a_recording_without_an_end_is_refused_with_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    path.write_bytes(smf(b"")[:14] + b"\x00" * 34_000_000)
    with pytest.raises(PerformanceError, match="is larger than 32 MB, too large for a recording of one evening"):
        read_performance(path)
