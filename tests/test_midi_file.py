"""Files of every make read alike, whoever reads them: as a performance, as a tune, or as the tracks that they are.

Source of the layouts: Standard MIDI Files 1.0 (header, chunks, running status, division); the RIFF wrapper after the
Multimedia Programming Interface 1.0 (RMID, from memory).
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import mido
import pytest

from companion.chart.midi.file import read_midi_file
from companion.errors import ChartError, InputError, PerformanceError
from companion.midi_file import parse_standard_midi, read_standard_midi
from companion.stage.performance import read_performance

MEGABYTE = 1 << 20
SCALE = (60, 62, 64, 65)
END = b"\x00\xff\x2f\x00"


def head(kind: int, tracks: int, division: int, more: bytes = b"") -> bytes:
    return b"MThd" + struct.pack(">LHHH", 6 + len(more), kind, tracks, division & 0xFFFF) + more


def chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack(">L", len(body)) + body


def crotchets(ticks: int, first: bytes = b"") -> bytes:
    """Four notes, each of so many ticks (below 128), each with a status byte of its own."""
    return first + b"".join(bytes([0, 0x90, key, 64, ticks, 0x80, key, 0]) for key in SCALE) + END


def running(ticks: int) -> bytes:
    """The same notes under one status byte: a note-on without velocity ends them."""
    rest = b"".join(bytes([0, key, 64, ticks, key, 0]) for key in SCALE)
    return b"\x00\x90" + rest[1:] + END


PLAIN = head(0, 1, 96) + chunk(b"MTrk", crotchets(96))
"""Four crotchets at 120: half a second each."""
ALIEN = chunk(b"XFIH", b"karaoke")
ALIKE = {
    "as it should be": PLAIN,
    "a chunk of another kind before the track": head(0, 1, 96) + ALIEN + chunk(b"MTrk", crotchets(96)),
    "a chunk of another kind after the track": PLAIN + ALIEN,
    "a chunk of another kind between tracks": (
        head(1, 2, 96) + chunk(b"MTrk", END) + ALIEN + chunk(b"MTrk", crotchets(96))
    ),
    "a RIFF wrapper": (
        b"RIFF" + struct.pack("<L", len(PLAIN) + 12) + b"RMIDdata" + struct.pack("<L", len(PLAIN)) + PLAIN
    ),
    "a longer header": head(0, 1, 96, b"\x00\x01") + chunk(b"MTrk", crotchets(96)),
    "running status": head(0, 1, 96) + chunk(b"MTrk", running(96)),
    "one track of type 2": head(2, 1, 96) + chunk(b"MTrk", crotchets(96)),
    "an odd division": head(0, 1, 7) + chunk(b"MTrk", crotchets(7)),
    "one tick a quarter": head(0, 1, 1) + chunk(b"MTrk", crotchets(1)),
    "a tempo of its own": head(0, 1, 48) + chunk(b"MTrk", crotchets(96, b"\x00\xff\x51\x03\x03\xd0\x90")),
    "frames of film": head(0, 1, (-24 << 8) | 4) + chunk(b"MTrk", crotchets(48)),
    "frames of film, with a tempo that means nothing": (
        head(0, 1, (-25 << 8) | 4) + chunk(b"MTrk", crotchets(50, b"\x00\xff\x51\x03\x01\x00\x00"))
    ),
    "a track more than was said": PLAIN + chunk(b"MTrk", crotchets(96)),
}  # fmt: skip


@pytest.fixture
def saved(tmp_path: Path) -> Callable[[bytes], Path]:
    def save(data: bytes) -> Path:
        path = tmp_path / "file.mid"
        path.write_bytes(data)
        return path

    return save


@pytest.mark.parametrize("name", ALIKE)
def test_four_crotchets_are_the_same_to_every_reader(saved: Callable[[bytes], Path], name: str) -> None:
    path = saved(ALIKE[name])
    wanted = [(pytest.approx(0.5 * k), key) for k, key in enumerate(SCALE)]
    performed = [(heard.seconds, heard.data1) for heard in read_performance(path) if heard.is_note_on]
    tune = [(note.key.on, note.key.midi) for track in read_midi_file(path).tracks for note in track.notes]
    file = read_standard_midi(path, MEGABYTE, "four notes")
    told = [(seconds, m.note) for seconds, _, m in file.timeline() if m.type == "note_on" and m.velocity]
    assert performed == tune == told == wanted


def test_the_clock_is_that_of_the_reference_library(saved: Callable[[bytes], Path]) -> None:
    """mido's own play-back time, over a tempo that changes in one track while another plays."""
    tempi = b"\x00\xff\x51\x03\x09\x27\xc0" + b"\x60\xff\x51\x03\x04\x93\xe0" + b"\x30\xff\x51\x03\x0b\xb8\x00" + END
    path = saved(head(1, 2, 96) + chunk(b"MTrk", tempi) + chunk(b"MTrk", crotchets(90)))
    now, reference = 0.0, []
    for message in mido.MidiFile(path):
        now += message.time
        if message.type in ("note_on", "note_off"):
            reference.append((pytest.approx(now), message.note))
    file = read_standard_midi(path, MEGABYTE, "a tune")
    assert [(s, m.note) for s, _, m in file.timeline() if m.type in ("note_on", "note_off")] == reference


def test_frames_of_broadcast_are_a_thousandth_slower_than_thirty() -> None:
    """Standard MIDI Files 1.0: 29 stands for 30 drop-frame, 30 000 frames in 1001 seconds (SMPTE 12M)."""
    file = parse_standard_midi(head(0, 1, (-29 << 8) | 100) + chunk(b"MTrk", crotchets(100)), "frames.mid")
    assert [s for s, _, m in file.timeline() if m.type == "note_on"] == pytest.approx(
        [k * 1.001 / 30 for k in range(4)]
    )


def test_where_two_tempi_begin_at_once_the_later_tracks_holds() -> None:
    quick, slow = b"\x00\xff\x51\x03\x03\xd0\x90", b"\x00\xff\x51\x03\x0f\x42\x40"
    tracks = chunk(b"MTrk", quick + END) + chunk(b"MTrk", crotchets(96, slow))
    file = parse_standard_midi(head(1, 2, 96) + tracks, "two.mid")
    assert [tempo for _, tempo in file.tempi] == [250_000, 1_000_000]
    assert [s for s, _, m in file.timeline() if m.type == "note_on"] == pytest.approx([0.0, 1.0, 2.0, 3.0])


def test_tempi_stand_in_the_order_of_their_moments_whichever_track_holds_them() -> None:
    quick, slow = b"\xff\x51\x03\x03\xd0\x90", b"\xff\x51\x03\x0f\x42\x40"
    tracks = chunk(b"MTrk", b"\x60" + quick + END) + chunk(b"MTrk", b"\x00" + slow + b"\x60" + slow + END)
    assert parse_standard_midi(head(1, 2, 96) + tracks, "two.mid").tempi == (
        (0, 1_000_000), (96, 250_000), (96, 1_000_000),
    )  # fmt: skip
    tracks = chunk(b"MTrk", b"\x00" + slow + END) + chunk(b"MTrk", b"\x00" + quick + END)
    assert parse_standard_midi(head(1, 2, 96) + tracks, "two.mid").tempi == ((0, 1_000_000), (0, 250_000))


def test_a_track_without_a_byte_in_it_is_a_track() -> None:
    assert len(parse_standard_midi(head(1, 1, 96) + chunk(b"MTrk", b""), "empty.mid").tracks) == 1


BROKEN = {
    "empty": (b"", "not a Standard MIDI File"),
    "sound": (b"RIFF\x24\0\0\0WAVEfmt " + bytes(30), "not a Standard MIDI File"),
    "a track cut off": (PLAIN[:-9], "it ends in mid-track"),
    "a track that isn't there": (head(1, 3, 96) + chunk(b"MTrk", crotchets(96)), "1 of its 3 tracks are there"),
    "separate pieces": (head(2, 2, 96) + chunk(b"MTrk", crotchets(96)) * 2, r"separate pieces \(type 2\)"),
    "a type of nobody's": (head(5, 1, 96) + chunk(b"MTrk", crotchets(96)), "no type 5"),
    "no ticks": (head(0, 1, 0) + chunk(b"MTrk", crotchets(96)), "its clock has no ticks"),
    "no frames": (head(0, 1, -26 << 8) + chunk(b"MTrk", crotchets(96)), "26 frames a second is no SMPTE rate"),
    "a key of nine sharps": (
        head(0, 1, 96) + chunk(b"MTrk", crotchets(96, b"\x00\xff\x59\x02\x09\x00")),
        r"damaged Standard MIDI File \(Could not decode key",
    ),
    "an endless tempo": (
        head(0, 1, 96) + chunk(b"MTrk", crotchets(96, b"\x00\xff\x51\x03\0\0\0")),
        "a tempo in it is infinite",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_wrong_with_a_file_is_the_same_line_to_every_reader(saved: Callable[[bytes], Path], name: str) -> None:
    data, line = BROKEN[name]
    path = saved(data)
    told = []
    for read, error in ((read_performance, PerformanceError), (read_midi_file, ChartError)):
        with pytest.raises(error, match=line) as raised:
            read(path)
        told.append(str(raised.value))
    with pytest.raises(InputError) as raised:
        read_standard_midi(path, MEGABYTE, "a tune")
    assert told == [str(raised.value)] * 2
    assert told[0].startswith(f"{path}: ") and "\n" not in told[0]


@pytest.mark.parametrize(("frames", "second"), [(24, 24), (25, 25), (29, 30_000 / 1001), (30, 30)])
def test_ticks_may_be_parts_of_each_of_the_four_kinds_of_frames(frames: int, second: float) -> None:
    """Standard MIDI Files 1.0: the high byte is -24, -25, -29 or -30, the low one the ticks of a frame."""
    file = parse_standard_midi(head(0, 1, (-frames << 8) | 4) + chunk(b"MTrk", crotchets(100)), "frames.mid")
    times = [s for s, _, m in file.timeline() if m.type == "note_on"]
    assert times == pytest.approx([k * 100 / 4 / second for k in range(4)])
    assert file.tempi == ()


@pytest.mark.parametrize(("kind", "tracks", "wanted"), [(0, 1, 0), (1, 1, 1), (1, 2, 1), (2, 1, 0)])
def test_the_type_of_a_file_is_kept_and_one_track_of_type_2_is_type_0(kind: int, tracks: int, wanted: int) -> None:
    file = parse_standard_midi(head(kind, tracks, 96) + chunk(b"MTrk", crotchets(96)) * tracks, "kind.mid")
    assert (file.kind, len(file.tracks)) == (wanted, tracks)


def test_an_empty_file_of_no_tracks_is_a_header_alone_and_one_byte_less_is_none() -> None:
    assert parse_standard_midi(head(1, 0, 96), "empty.mid").tracks == ()
    with pytest.raises(InputError, match="not a Standard MIDI File"):
        parse_standard_midi(head(1, 0, 96)[:-1], "short.mid")


def test_a_wrapper_around_something_else_and_the_song_of_another_wrapper_are_no_midi_files() -> None:
    for data in (b"RIFF\x24\0\0\0RMIDdata\x04\0\0\0none" + bytes(9), b"RIFF\x24\0\0\0WAVEdata" + PLAIN):
        with pytest.raises(InputError, match="not a Standard MIDI File"):
            parse_standard_midi(data, "wrapped.mid")


def test_where_nothing_is_said_the_tempo_is_120_up_to_the_first_that_is() -> None:
    """Standard MIDI Files 1.0: 500 000 microseconds a quarter."""
    change = b"\x60\xff\x51\x03\x0f\x42\x40"  # after a quarter: 60 a minute
    file = parse_standard_midi(head(1, 2, 96) + chunk(b"MTrk", change + END) + chunk(b"MTrk", crotchets(96)), "t.mid")
    assert file.tempi == ((96, 1_000_000),) and file.ticks_a_quarter == 96
    assert [s for s, _, m in file.timeline() if m.type == "note_on"] == pytest.approx([0.0, 0.5, 1.5, 2.5])


def test_what_sounds_at_once_comes_in_the_order_of_the_tracks() -> None:
    file = parse_standard_midi(head(1, 2, 96) + chunk(b"MTrk", crotchets(96)) * 2, "two.mid")
    assert [track for _, track, m in file.timeline() if m.type == "note_on" and m.note == 60] == [0, 1]
    assert [tick for tick, m in file.tracks[1].messages if m.type == "note_on"] == [0, 96, 192, 288]
