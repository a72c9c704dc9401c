"""A Standard MIDI File as music: its notes, drums, chord symbols, tempi, metres, keys and texts.

Source: Standard MIDI Files 1.0 (running events of a track, tempo, time and key signature, texts); General MIDI 1 for
the drums' channel. That programs write chord symbols as chords of no length: seen in files, common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from companion.chart.midi.file import LATEST, MOST_AT_ONCE, MOST_BYTES, MOST_NOTES, MidiFile, read_midi_file
from companion.errors import ChartError
from companion.music.meter import Metre

PER = 12
"""Ticks a quarter: enough for triplets and sixteenths."""
Event = tuple[float, mido.Message | mido.MetaMessage]
Read = Callable[..., MidiFile]


def on(beat: float, key: int, velocity: int = 70, channel: int = 0) -> Event:
    return beat, mido.Message("note_on", note=key, velocity=velocity, channel=channel)


def off(beat: float, key: int, channel: int = 0) -> Event:
    return beat, mido.Message("note_off", note=key, channel=channel)


def meta(beat: float, kind: str, **told: object) -> Event:
    return beat, mido.MetaMessage(kind, **told)


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Writes tracks of events, each with its beat and in the order of the file, and reads the file."""

    def written(*tracks: Iterable[Event], kind: int = 1) -> MidiFile:
        midi = mido.MidiFile(type=kind, ticks_per_beat=PER)
        for events in tracks:
            track, last = mido.MidiTrack(), 0
            for beat, message in events:
                tick = round(beat * PER)
                track.append(message.copy(time=tick - last))
                last = tick
            midi.tracks.append(track)
        midi.save(tmp_path / "tune.mid")
        return read_midi_file(tmp_path / "tune.mid")

    return written


def notes(file: MidiFile) -> list[tuple[float, float, int, int, int, bool]]:
    """Of all tracks: beat, length, key, velocity, channel, whether it is a symbol."""
    return [
        (float(n.beat), float(n.length), n.key.midi, n.key.velocity, n.channel, n.symbol)
        for track in file.tracks
        for n in track.notes
    ]


def heard(file: MidiFile, *, symbols: bool = False) -> list[tuple[float, float, int]]:
    """Beat, length and key of what is sung, or of chord symbols."""
    return [(beat, length, key) for beat, length, key, _, _, symbol in notes(file) if symbol == symbols]


def test_a_note_has_its_beat_length_key_velocity_and_channel_as_people_count_it(read: Read) -> None:
    file = read([on(1, 60, 50, 2), off(2.5, 60, 2), on(3, 64, 90, 2), on(4, 64, 0, 2)])
    assert notes(file) == [(1, 1.5, 60, 50, 3, False), (3, 1, 64, 90, 3, False)]
    assert [(n.key.on, n.key.off) for n in file.tracks[0].notes] == [(0.5, 1.25), (1.5, 2.0)]  # at 120 a minute


def test_a_key_struck_again_ends_its_note_and_one_never_let_go_lasts_to_the_end_of_the_track(read: Read) -> None:
    assert heard(read([on(0, 60), on(1, 60), off(3, 60), on(4, 62), meta(6, "end_of_track")])) == [
        (0, 1, 60), (1, 2, 60), (4, 2, 62),
    ]  # fmt: skip


def test_an_end_without_a_beginning_is_passed_over_and_other_messages_are_no_notes(read: Read) -> None:
    turned = 1, mido.Message("control_change", control=60, value=70)
    assert heard(read([off(0, 60), on(1, 60), turned, off(2, 61), off(3, 60)])) == [(1, 2, 60)]


def test_the_same_key_on_two_channels_is_two_notes(read: Read) -> None:
    file = read([on(0, 60), on(0, 60, 80, 1), off(1, 60, 1), off(2, 60)])
    assert sorted(notes(file)) == [(0, 1, 60, 80, 2, False), (0, 2, 60, 70, 1, False)]


def test_notes_at_once_stand_from_the_lowest_up(read: Read) -> None:
    assert [key for _, _, key in heard(read([on(0, 67), on(0, 60), off(1, 60), off(1, 67)]))] == [60, 67]


@pytest.mark.parametrize(
    ("keys", "symbols"),
    [
        ([60], [60]),  # a grace note
        ([60, 64], [60, 64]),
        ([60, 64, 67], [60, 64, 67]),
        ([*range(40, 40 + MOST_AT_ONCE - 1)], [*range(40, 40 + MOST_AT_ONCE - 1)]),
        ([*range(40, 40 + MOST_AT_ONCE)], []),  # every key is let go, and then the music begins
    ],
    ids=len,
)
def test_keys_that_end_before_they_begin_are_a_chord_symbol_up_to_the_next(
    read: Read, keys: list[int], symbols: list[int]
) -> None:
    ended_first = [*(off(1, key) for key in keys), *(on(1, key) for key in keys)]
    later = [*(off(3, key) for key in (90, 94, 97)), *(on(3, key) for key in (90, 94, 97))]
    file = read([*ended_first, *later, meta(7, "end_of_track")])
    assert heard(file, symbols=True) == [(1, 2, key) for key in symbols] + [(3, 4, key) for key in (90, 94, 97)]
    assert heard(file) == [(1, 6, key) for key in keys if not symbols]


def test_a_symbol_may_be_as_soft_as_a_stroke_can_be(read: Read) -> None:
    """MIDI 1.0: a velocity of 1 is a stroke."""
    keys = (60, 64, 67)
    file = read([*(off(1, key) for key in keys), *(on(1, key, 1) for key in keys), meta(3, "end_of_track")])
    assert heard(file, symbols=True) == [(1, 2, key) for key in keys]


def test_a_key_that_the_melody_holds_belongs_to_the_symbol_too_below_its_highest(read: Read) -> None:
    """The melody's E ends and begins again at the moment of the symbol C E G; its high C, above, is its own."""
    sung = [on(0, 64), on(0, 72)]
    symbol = [off(1, key) for key in (60, 62, 67)] + [off(1, 64), off(1, 72)]
    symbol += [on(1, key) for key in (60, 62, 64, 67)] + [on(1, 72)]
    file = read([*sung, *symbol, off(2, 72), off(2, 64), meta(4, "end_of_track")])
    assert heard(file, symbols=True) == [(1, 3, 60), (1, 3, 62), (1, 3, 64), (1, 3, 67)]
    assert heard(file) == [(0, 2, 64), (0, 1, 72), (1, 1, 72)]


def test_of_a_symbol_of_which_only_two_keys_are_free_the_melody_has_the_third(read: Read) -> None:
    file = read([
        on(0, 72), off(1, 60), off(1, 64), off(1, 72), on(1, 60), on(1, 64), on(1, 72), off(2, 72),
        meta(3, "end_of_track"),
    ])  # fmt: skip
    assert heard(file, symbols=True) == [(1, 2, 60), (1, 2, 64), (1, 2, 72)]
    assert heard(file) == [(0, 2, 72)]


def test_what_is_struck_again_after_its_end_as_melodies_are_is_no_symbol(read: Read) -> None:
    """Three notes that end and begin anew at one moment have been down before."""
    keys = (60, 64, 67)
    first = [on(0, key) for key in keys]
    again = [*(off(1, key) for key in keys), *(on(1, key) for key in keys)]
    file = read([*first, *again, *(off(2, key) for key in keys)])
    assert heard(file) == [(beat, 1, key) for beat in (0, 1) for key in keys]
    assert heard(file, symbols=True) == []


def test_drums_are_counted_and_left_out(read: Read) -> None:
    """General MIDI: channel 10."""
    file = read([on(0, 36, channel=9), on(0, 60, channel=8), off(1, 36, 9), off(1, 60, 8), on(1, 38, channel=9)])
    assert (file.drums, [n.channel for n in file.tracks[0].notes]) == (2, [9])
    assert read([on(0, 36, channel=9), off(1, 36, 9)]).tracks == ()


def test_the_channels_of_type_0_are_tracks_and_those_of_a_track_of_type_1_stay_together(read: Read) -> None:
    name = meta(0, "track_name", name="Piano")
    two = [name, on(0, 60), on(0, 48, channel=3), off(1, 60), off(1, 48, 3)]
    assert [(t.number, t.name, len(t.notes)) for t in read(two, kind=0).tracks] == [
        (0, "channel 1", 1), (0, "channel 4", 1),
    ]  # fmt: skip
    assert [(t.number, t.name, len(t.notes)) for t in read(two).tracks] == [(0, "Piano", 2)]
    assert [t.name for t in read([name, on(0, 60), off(1, 60)], kind=0).tracks] == ["Piano"]


def test_the_first_tracks_name_is_the_title_where_it_has_no_notes(read: Read) -> None:
    name, line = meta(0, "track_name", name="Kettle at Six"), [on(0, 60), off(1, 60)]
    file = read([name], [meta(0, "track_name", name="Right hand"), *line])
    assert (file.title, [(t.number, t.name) for t in file.tracks]) == ("Kettle at Six", [(1, "Right hand")])
    assert read([name, *line], line).title == ""


def test_tempi_metres_and_keys_stand_at_their_beats(read: Read) -> None:
    file = read(
        [
            meta(0, "set_tempo", tempo=600_000), meta(0, "time_signature", numerator=3, denominator=4),
            meta(0, "key_signature", key="Eb"), meta(6, "time_signature", numerator=6, denominator=8),
            meta(6, "key_signature", key="F#m"), meta(9, "set_tempo", tempo=300_000),
        ],
        [on(6, 60), off(12, 60)],
    )  # fmt: skip
    assert file.tempi == ((0, 100.0), (9, 200.0)) and file.has_tempo
    assert file.metres == ((0, Metre(3, 4)), (6, Metre(6, 8)))
    assert file.keys == ((0, -3, False), (6, 3, True))
    note = file.tracks[0].notes[0]
    assert (note.key.on, note.key.off) == pytest.approx((3.6, 6.3))  # 6 at 0.6 s; 3 at 0.6 s and 3 at 0.3 s
    assert file.beats.seconds(19) == pytest.approx(9 * 0.6 + 10 * 0.3)
    assert [file.beats.tempo(beat) for beat in (2, 15)] == pytest.approx([100, 200])


def test_without_a_tempo_it_is_120_and_where_it_comes_late_it_is_120_until_then(read: Read) -> None:
    line = [on(0, 60), off(1, 60)]
    file = read(line)
    assert file.tempi == ((0, 120.0),) and not file.has_tempo and file.metres == file.keys == ()
    assert file.beats.seconds(3) == pytest.approx(1.5)
    assert read([*line, meta(2, "set_tempo", tempo=1_000_000)]).tempi == ((0, 120.0), (2, 60.0))


def test_a_time_signature_without_beats_is_none(read: Read) -> None:
    assert read([meta(0, "time_signature", numerator=0, denominator=4), on(0, 60), off(1, 60)]).metres == ()


def test_texts_come_in_the_order_of_beats_each_with_its_kind(read: Read) -> None:
    file = read(
        [meta(4, "marker", text="B"), meta(8, "text", text=" two \n spoons ")],
        [meta(0, "lyrics", text="la"), meta(1, "cue_marker", text=" "), meta(5, "copyright", text="Nobody"),
         meta(6, "cue_marker", text="now"), meta(7, "device_name", name="x")],
    )  # fmt: skip
    assert [(float(t.beat), t.kind, t.text) for t in file.texts] == [
        (0, "lyrics", "la"), (4, "marker", "B"), (5, "copyright", "Nobody"), (6, "cue_marker", "now"),
        (8, "text", "two spoons"),
    ]  # fmt: skip


@pytest.mark.parametrize("raw", ["Été".encode(), "Été".encode("latin-1")])
def test_a_text_is_read_as_utf_8_and_else_as_latin_1(read: Read, raw: bytes) -> None:
    """mido writes and gives the bytes of a text as Latin-1."""
    assert read([meta(0, "marker", text=raw.decode("latin-1")), on(0, 60), off(1, 60)]).texts[0].text == "Été"


def test_a_file_lasts_a_million_quarters_at_most(read: Read) -> None:
    line = [on(0, 60), off(1, 60)]
    assert len(read([*line, meta(LATEST, "end_of_track")]).tracks) == 1
    with pytest.raises(ChartError, match=r"tune\.mid: it claims to last for days; export it again"):
        read([*line, meta(LATEST + Fraction(1, PER), "end_of_track")])


def test_the_limits_are_those_of_a_tune_of_an_hour() -> None:
    assert (LATEST, MOST_NOTES, MOST_BYTES) == (10**6, 20_000, 1024 * 1024)
