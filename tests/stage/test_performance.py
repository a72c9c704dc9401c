"""Performances in and out: against the Standard MIDI File specification and mido as the reference reader."""

from __future__ import annotations

import io
import itertools
import random
import struct
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import InputError, PerformanceError
from companion.messages import Heard, Order
from companion.stage.performance import (
    performance_from_bytes,
    performance_length,
    read_performance,
    recording_bytes,
    write_recording,
)

HEARD = [
    Heard(1.0, 0x90, 60, 80),
    Heard(1.25, 0xB0, 64, 127),
    Heard(1.5, 0x80, 60, 40),
    Heard(1.75, 0xB0, 64, 0),
    Heard(2.0, 0x90, 62, 90),
    Heard(2.4, 0x80, 62, 0),
]
ORDERS = [
    Order(1.0, "bass", 0x90, 36, 70),
    Order(1.1, "click", 0x90, 76, 60),
    Order(1.45, "bass", 0x80, 36, 0),
    Order(1.5, "chords", 0x90, 52, 60),
    Order(2.0, "chords", 0x80, 52, 0),
    Order(2.0, "melody", 0x90, 72, 60),
    Order(2.5, "melody", 0x80, 72, 0),
]


def smf(body: bytes, *, kind: int = 0, division: int = 480, tracks: int = 1) -> bytes:
    """A file from the bytes of one track, after the layout in Standard MIDI Files 1.0."""
    head = b"MThd" + struct.pack(">LHHH", 6, kind, tracks, division & 0xFFFF)
    return head + (b"MTrk" + struct.pack(">L", len(body)) + body) * tracks


# Standard MIDI Files 1.0, the worked example at its end, as a format 0 file: 96 ticks a quarter, tempo 500 000, running
# status; notes 48 and 60 at once, 67 a quarter later, 76 another quarter later. Bytes from memory.
EXAMPLE = smf(
    bytes.fromhex(
        "00ff580404021808 00ff510307a120 00c005 00c12e 00c246 00923060 003c60 60914340 60904c20"
        " 8140823040 003c40 00814340 00804c40 00ff2f00"
    ),
    division=96,
)


def test_the_specifications_own_example_reads_as_it_says() -> None:
    notes = [(round(h.seconds, 9), h.data1) for h in performance_from_bytes(EXAMPLE) if h.is_note_on]
    assert notes == [(0.0, 48), (0.0, 60), (0.5, 67), (1.0, 76)]


def test_a_note_on_without_velocity_is_a_note_off() -> None:  # MIDI 1.0
    heard = performance_from_bytes(smf(bytes.fromhex("00903c50 60 3c00 00ff2f00".replace(" ", ""))))
    assert [h.status for h in heard] == [0x90, 0x80]
    softest = performance_from_bytes(smf(bytes.fromhex("00903c01 60 3c00 00ff2f00".replace(" ", ""))))
    assert [(h.status, h.data2) for h in softest] == [(0x90, 1), (0x80, 0)]
    assert not heard[1].is_note_on


def test_the_tempo_map_is_honoured_whichever_track_holds_it(tmp_path: Path) -> None:
    midi = mido.MidiFile(type=1, ticks_per_beat=480)
    tempo, notes = mido.MidiTrack(), mido.MidiTrack()
    tempo += [mido.MetaMessage("set_tempo", tempo=600_000), mido.MetaMessage("set_tempo", tempo=300_000, time=960)]
    for tick in range(0, 480 * 6, 480):
        notes += [mido.Message("note_on", note=60, velocity=64, time=0 if tick == 0 else 240)]
        notes += [mido.Message("note_off", note=60, time=240)]
    midi.tracks += [tempo, notes]
    midi.save(tmp_path / "curve.mid")
    ours = [h.seconds for h in read_performance(tmp_path / "curve.mid") if h.is_note_on]
    assert ours == pytest.approx([0.0, 0.6, 1.2, 1.5, 1.8, 2.1])
    now, reference = 0.0, []
    for message in mido.MidiFile(tmp_path / "curve.mid"):  # the reference library's own clock
        now += message.time
        if message.type == "note_on":
            reference.append(now)
    assert ours == pytest.approx(reference)


def test_smpte_ticks_are_seconds_whatever_the_tempo() -> None:  # SMF 1.0: 25 frames of 40 ticks make milliseconds
    body = bytes.fromhex("00ff5103010000 00903c50 8768 803c00 00ff2f00".replace(" ", ""))
    heard = performance_from_bytes(smf(body, division=(-25 << 8) | 40))
    assert [h.seconds for h in heard] == pytest.approx([0.0, 1.0])


def test_chunks_of_other_kinds_and_a_riff_wrapper_are_passed_over() -> None:
    plain = smf(bytes.fromhex("00903c5060803c0000ff2f00"))
    alien = plain[:14] + b"XFIH" + struct.pack(">L", 3) + b"abc" + plain[14:]
    riff = b"RIFF" + struct.pack("<L", len(alien) + 12) + b"RMIDdata" + struct.pack("<L", len(alien)) + alien
    assert performance_from_bytes(alien) == performance_from_bytes(plain) == performance_from_bytes(riff)


def test_a_recording_goes_on_to_the_end_of_its_last_track(tmp_path: Path) -> None:
    body = bytes.fromhex("00903c50 60803c00 8740ff2f00".replace(" ", ""))  # a quarter of 480, then two more of silence
    for division, end in ((480, 0.5 * (0x60 + 960) / 480), ((-25 << 8) | 40, (0x60 + 960) / 1000)):
        (tmp_path / "rest.mid").write_bytes(smf(body, division=division))
        assert performance_length(tmp_path / "rest.mid") == pytest.approx(end)


def test_hands_on_two_tracks_are_one_performance_and_drums_are_not_the_players() -> None:
    midi = mido.MidiFile(type=1)
    for channel, note in ((0, 72), (1, 48), (9, 38)):
        on, off = (mido.Message(k, channel=channel, note=note, time=t) for k, t in (("note_on", 0), ("note_off", 99)))
        midi.tracks.append(mido.MidiTrack([on, off]))
    buffer = io.BytesIO()
    midi.save(file=buffer)
    assert sorted(h.data1 for h in performance_from_bytes(buffer.getvalue()) if h.is_note_on) == [48, 72]


def test_our_own_file_gives_the_player_back_and_nothing_of_the_companion(tmp_path: Path) -> None:
    write_recording(tmp_path / "out.mid", HEARD, ORDERS)
    again = read_performance(tmp_path / "out.mid")
    assert [(h.status, h.data1, h.data2) for h in again] == [(h.status, h.data1, h.data2) for h in HEARD]
    assert [h.seconds for h in again] == pytest.approx([h.seconds for h in HEARD], abs=1 / 1920)
    write_recording(tmp_path / "silent.mid", [], ORDERS)
    assert read_performance(tmp_path / "silent.mid") == []


def test_the_recording_is_laid_out_as_promised(tmp_path: Path) -> None:
    write_recording(tmp_path / "out.mid", HEARD, ORDERS, parts=("solo",), title="Étude", markers=[(2.0, "B")])
    midi = mido.MidiFile(tmp_path / "out.mid", charset="utf-8")
    assert (midi.type, midi.ticks_per_beat) == (1, 960)
    assert [t.name for t in midi.tracks] == ["Étude", "player", "melody", "chords", "bass", "solo", "click"]
    tempi = [m.tempo for t in midi.tracks for m in t if m.type == "set_tempo"]
    assert tempi == [500_000] and midi.tracks[0][1].type == "set_tempo"
    channels = {t.name: {m.channel + 1 for m in t if m.type == "note_on"} for t in midi.tracks[1:]}
    assert channels == {"player": {1}, "melody": {4}, "chords": {3}, "bass": {2}, "solo": set(), "click": {10}}
    programs = {m.channel + 1: m.program + 1 for t in midi.tracks for m in t if m.type == "program_change"}
    assert programs == {1: 1, 2: 33, 3: 1, 4: 1}  # General MIDI level 1: 1 acoustic grand piano, 33 acoustic bass
    bass = next(t for t in midi.tracks if t.name == "bass")
    ticks, at = [], 0
    for message in bass:
        at += message.time
        if message.type in ("note_on", "note_off"):
            ticks.append(at)
    assert ticks == [1920, round(1.45 * 1920)]  # 1920 ticks a second
    assert next(m for m in midi.tracks[0] if m.type == "marker").time == 3840


def test_the_same_rehearsal_is_the_same_file_byte_for_byte() -> None:
    assert recording_bytes(HEARD, ORDERS) == recording_bytes(list(HEARD), list(ORDERS))


def test_a_moment_of_the_rooms_clock_can_be_the_start_of_the_file() -> None:
    late = [Heard(h.seconds + 86_000.25, h.status, h.data1, h.data2) for h in HEARD]
    assert recording_bytes(late, [], origin=86_000.25) == recording_bytes(HEARD, [])


def test_a_place_that_cannot_be_written_is_one_line_and_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't be written"):
        write_recording(tmp_path / "nowhere" / "out.mid", HEARD, ORDERS)
    with pytest.raises(InputError, match="can't be written"):
        write_recording(tmp_path, HEARD, ORDERS)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("empty.mid", b"", "not a Standard MIDI File"),
        ("text.mid", b"these are not the notes you want", "not a Standard MIDI File"),
        ("cut.mid", EXAMPLE[:-9], "ends in mid-track"),
        ("separate.mid", smf(bytes.fromhex("00903c5000ff2f00"), kind=2, tracks=2), "type 2"),
        ("mute.mid", smf(bytes.fromhex("00ff2f00")), "no note in it"),
        ("still.mid", smf(bytes.fromhex("00903c5000ff2f00"), division=0), "no ticks"),
        ("infinite.mid", smf(bytes.fromhex("00ff510300000000903c5000ff2f00")), "tempo"),
        ("ages.mid", smf(bytes.fromhex("ffffff7f903c5000ff2f00"), division=1), "more than a day"),
        ("lost.mid", EXAMPLE[:10] + b"\x00\x05" + EXAMPLE[12:], "1 of its 5 tracks"),
    ],
)
def test_a_bad_file_is_told_in_one_line_that_names_it(tmp_path: Path, name: str, data: bytes, says: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(PerformanceError, match=says) as told:
        read_performance(tmp_path / name)
    assert str(tmp_path / name) in str(told.value) and "\n" not in str(told.value)


def test_a_file_that_is_not_there_is_told_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(PerformanceError, match="can't be read: no such file"):
        read_performance(tmp_path / "gone.mid")
    with pytest.raises(PerformanceError, match="can't be read"):
        read_performance(tmp_path)


@pytest.mark.parametrize("seed", range(0, 400, 50))
def test_damage_anywhere_is_an_error_of_ours_or_still_music(seed: int) -> None:
    for each in range(seed, seed + 50):
        data = damaged(random.Random(each))
        try:
            heard = performance_from_bytes(data, "damaged.mid")
        except PerformanceError as error:
            assert str(error).startswith("damaged.mid: ") and "\n" not in str(error)
        else:
            assert all(a.seconds <= b.seconds for a, b in itertools.pairwise(heard))
            assert all(h.status in (0x80, 0x90, 0xB0) and 0 <= h.data1 < 128 and 0 <= h.data2 < 128 for h in heard)


def damaged(dice: random.Random) -> bytes:
    data = bytearray(dice.choice([EXAMPLE, recording_bytes(HEARD, ORDERS, markers=[(1.0, "A")])]))
    for _ in range(dice.randint(1, 6)):
        at = dice.randrange(len(data))
        what = dice.random()
        if what < 0.6:
            data[at] = dice.randrange(256)
        elif what < 0.8:
            del data[at : at + dice.randint(1, 5)]
        else:
            data[at:at] = dice.randbytes(dice.randint(1, 5))
    return bytes(data)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.builds(
            Heard,
            st.floats(0, 3600),
            st.sampled_from([0x80, 0x90, 0xB0]),
            st.integers(0, 127),
            st.integers(1, 127),
        )
    )
)
def test_whatever_is_played_comes_back_in_order_to_half_a_tick(played: list[Heard]) -> None:
    again = performance_from_bytes(recording_bytes(played, []))
    wanted = sorted(played, key=lambda h: round(h.seconds * 1920))
    assert [(h.status, h.data1, h.data2) for h in again] == [(h.status, h.data1, h.data2) for h in wanted]
    assert [h.seconds for h in again] == pytest.approx([h.seconds for h in wanted], abs=0.5 / 1920 + 1e-9)


@pytest.mark.parametrize(("ticks", "too_long"), [(172_800, False), (172_801, True)])
def test_a_file_may_last_a_day(ticks: int, too_long: bool) -> None:
    midi = mido.MidiFile(type=0, ticks_per_beat=1)  # half a second each
    midi.tracks.append(
        mido.MidiTrack([mido.Message("note_on", note=60), mido.Message("note_off", note=60, time=ticks)])
    )
    buffer = io.BytesIO()
    midi.save(file=buffer)
    if too_long:
        with pytest.raises(PerformanceError, match="more than a day"):
            performance_from_bytes(buffer.getvalue())
    else:
        assert performance_from_bytes(buffer.getvalue())[-1].seconds == 86_400


def test_messages_of_every_kind_are_written_whole_on_the_players_channel() -> None:
    """Program change and channel pressure have one data byte, the others two (MIDI 1.0)."""
    sent = [Heard(1.0, status, 5, 6) for status in (0x90, 0x80, 0xA0, 0xB0, 0xC0, 0xD0, 0xE0)]
    midi = mido.MidiFile(file=io.BytesIO(recording_bytes(sent, [])))
    found = [m.bytes() for m in midi.tracks[1] if not m.is_meta][1:]
    assert found == [[0x90, 5, 6], [0x80, 5, 6], [0xA0, 5, 6], [0xB0, 5, 6], [0xC0, 5], [0xD0, 5], [0xE0, 5, 6]]


def test_what_lies_before_the_start_of_the_file_is_put_there() -> None:
    midi = mido.MidiFile(
        file=io.BytesIO(
            recording_bytes(
                [Heard(9.0, 0x90, 60, 80), Heard(10.5, 0x80, 60, 0)], [Order(11.0, "bass", 0x90, 36, 70)],
                origin=10.0, markers=[(9.5, "A"), (12.0, "B")],
            )
        )
    )  # fmt: skip
    ticks = {}
    for track in midi.tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type in ("note_on", "note_off", "marker"):
                ticks[track.name, message.type, getattr(message, "text", "")] = at
    assert ticks == {
        ("", "marker", "A"): 0, ("", "marker", "B"): 3840, ("player", "note_on", ""): 0,
        ("player", "note_off", ""): 960, ("bass", "note_on", ""): 1920,
    }  # fmt: skip


def test_a_part_that_there_is_not_is_told() -> None:
    with pytest.raises(ValueError, match="no such part: drums, horns"):
        recording_bytes([], [], parts=("horns", "drums", "bass"))


@pytest.mark.parametrize(
    ("other", "heard"),
    [
        ([], [38]),  # a kit that sends on channel 10 alone is what was played
        ([mido.Message("control_change", channel=0, control=64, value=127)], [38]),
        ([mido.Message("note_off", channel=0, note=60)], [38]),
        ([mido.Message("note_on", channel=0, note=60)], [60]),
    ],
)
def test_the_drum_channel_is_left_out_where_there_are_notes_beside_it(
    other: list[mido.Message], heard: list[int]
) -> None:
    """Channel 10 is for drums (General MIDI level 1)."""
    midi = mido.MidiFile(type=0)
    midi.tracks.append(mido.MidiTrack([mido.Message("note_on", channel=9, note=38), *other]))
    buffer = io.BytesIO()
    midi.save(file=buffer)
    assert [h.data1 for h in performance_from_bytes(buffer.getvalue()) if h.is_note_on] == heard
