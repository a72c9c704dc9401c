"""What was played, heard: pitch, moments, levels and places of a rendered WAV, measured from its samples."""

from __future__ import annotations

import shutil
import wave
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.errors import DeviceError, InputError, UseError
from companion.messages import Heard, Order
from companion.ports import sound, wav
from companion.ports.synth import Tone, mix
from companion.ports.synth import tone_samples as one_tone
from companion.ports.wav import render, song_of, tones
from tests.wrapping import lines, wrapped

RATE = 44100
WALK = [28, 31, 35, 40, 43, 47, 50, 52]


def read(path: Path) -> NDArray[np.float64]:
    """Samples of a WAV file, shape (n, 2), full scale 1."""
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, RATE)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32768.0


def note(seconds: float, midi: int, length: float = 0.5, velocity: int = 80, part: str = "player") -> list:  # type: ignore[type-arg]
    """A note of the player or of a part."""
    on, off = (seconds, 0x90, midi, velocity), (seconds + length, 0x80, midi, 0)
    if part == "player":
        return [Heard(*on), Heard(*off)]
    return [Order(m[0], part, *m[1:]) for m in (on, off)]


def rendered(tmp_path: Path, *notes: list) -> NDArray[np.float64]:  # type: ignore[type-arg]
    messages = [m for n in notes for m in n]
    heard = [m for m in messages if isinstance(m, Heard)]
    orders = [m for m in messages if isinstance(m, Order)]
    render(tmp_path / "out.wav", heard, orders, synthesiser="small")
    return read(tmp_path / "out.wav")


def pitch_near(samples: NDArray[np.float64], hz: float) -> float:
    """Frequency of the strongest partial within a tone of the expected one, by the phase of two windows."""
    n = RATE // 2
    window = np.hanning(n)
    one, two = (np.fft.rfft(samples[k : k + n] * window, 8 * n) for k in (2000, 2100))
    freq = np.fft.rfftfreq(8 * n, 1 / RATE)
    near = np.abs(freq / hz - 1) < 0.1
    peak = np.argmax(np.abs(one) * near)
    turned = np.angle(two[peak] / one[peak]) / (2 * np.pi)
    return float((np.round(freq[peak] * 100 / RATE - turned) + turned) * RATE / 100)


def rms(samples: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(samples**2)))


def decibels(a: float, b: float = 1.0) -> float:
    return float(20 * np.log10(max(a, 1e-9) / b))


@pytest.mark.parametrize(("midi", "hz"), [(69, 440.0), (57, 220.0), (60, 261.63), (81, 880.0)])  # ISO 16
def test_the_piano_is_in_tune(tmp_path: Path, midi: int, hz: float) -> None:
    samples = rendered(tmp_path, note(0.0, midi, 1.5))
    assert pitch_near(samples.mean(axis=1), hz) == pytest.approx(hz, abs=1.0 * hz / 440)


@pytest.mark.parametrize(("midi", "hz"), [(28, 41.20), (33, 55.0), (45, 110.0)])  # ISO 16, equal temperament
def test_the_bass_is_in_tune(midi: int, hz: float) -> None:
    samples = one_tone(Tone(0.0, 2.0, midi, 90, "bass")).astype(np.float64)
    assert pitch_near(samples, hz) == pytest.approx(hz, abs=0.25)


def test_every_note_sounds_within_a_millisecond_of_its_moment(tmp_path: Path) -> None:
    moments = [0.5037, 1.2511, 2.0002, 3.3333, 4.1]
    for part, midi in (("player", 72), ("chords", 55), ("bass", 28), ("bass", 43), ("click", 76)):
        samples = rendered(tmp_path, *(note(t, midi, 0.12, part=part) for t in moments))
        loud = np.abs(samples).max(axis=1)
        for moment in moments:
            k = int(moment * RATE)
            before, peak = loud[k - 2205 : k - 44].max(), loud[k : k + 2205].max()
            onset = k - 44 + int(np.argmax(loud[k - 44 : k + 2205] > max(0.05 * peak, 3 * before)))
            assert abs(onset / RATE - moment) < 0.001, part


def test_the_file_starts_with_the_performance_and_ends_in_silence(tmp_path: Path) -> None:
    samples = rendered(tmp_path, note(1.0, 60), note(1.5, 36, part="bass"))
    assert np.abs(samples[: RATE - 10]).max() == 0.0
    assert decibels(np.abs(samples[-441:]).max()) < -60
    assert 2.0 < len(samples) / RATE < 5.0


def test_nothing_is_clipped_however_loud_and_thick(tmp_path: Path) -> None:
    thick = [note(0.5, midi, 2.0, 127) for midi in range(48, 84, 3)]
    thick += [note(0.5, midi, 2.0, 127, part="chords") for midi in range(48, 72, 4)]
    samples = rendered(tmp_path, *thick, note(0.5, 28, 2.0, 127, part="bass"))
    assert decibels(np.abs(samples).max()) == pytest.approx(-1.0, abs=0.05)


def test_the_parts_are_in_balance(tmp_path: Path) -> None:
    """A mezzo-forte melody stands out, the bass carries, the chords stay behind, the click is heard."""
    beat = 0.45
    melody = [note(k * beat, 65 + k % 5, beat, 80) for k in range(16)]
    bass = [note(k * beat, WALK[k % 8], beat * 0.9, 80, "bass") for k in range(16)]
    chords = [note(k * beat, m, beat, 70, "chords") for k in range(0, 16, 2) for m in (53, 57, 60, 64)]
    click = [note(k * beat, 76, 0.05, 80, "click") for k in range(16)]
    level = {}
    for name, notes in (("melody", melody), ("bass", bass), ("chords", chords), ("click", click)):
        messages = [m for n in notes for m in n]
        sounding = tones([m for m in messages if isinstance(m, Heard)], [m for m in messages if isinstance(m, Order)])
        level[name] = decibels(rms(np.concatenate(list(mix(sounding)))[: int(16 * beat * RATE)].astype(np.float64)))
    assert -3 < level["bass"] - level["melody"] < 6
    assert -8 < level["chords"] - level["melody"] < 2
    assert -25 < level["click"] - level["melody"] < -8


def test_the_player_sits_on_the_right_and_the_companion_on_the_left(tmp_path: Path) -> None:
    def lean(*notes: list) -> float:  # type: ignore[type-arg]
        samples = rendered(tmp_path, *notes)
        return decibels(rms(samples[:, 1]), rms(samples[:, 0]))

    assert 2 < lean(note(0.0, 60, 1.0)) < 7
    assert -7 < lean(note(0.0, 60, 1.0, part="chords")) < -2
    assert -3 < lean(note(0.0, 40, 1.0, part="bass")) < 0
    assert abs(lean(note(0.0, 76, 0.1, part="click"))) < 1


def test_a_harder_touch_is_louder_and_brighter() -> None:
    soft, hard = (one_tone(Tone(0.0, 1.0, 60, v)).astype(np.float64) for v in (40, 110))

    def centre(samples: NDArray[np.float64]) -> float:
        power = np.abs(np.fft.rfft(samples[:RATE])) ** 2
        return float((power * np.fft.rfftfreq(min(RATE, len(samples)), 1 / RATE)).sum() / power.sum())

    assert 8 < decibels(rms(hard[:RATE]), rms(soft[:RATE])) < 25
    assert centre(hard) > 1.15 * centre(soft)


def test_the_damper_falls_with_the_key_or_with_the_pedal(tmp_path: Path) -> None:
    key = note(0.0, 60, 0.3)
    short = rendered(tmp_path, key)
    pedalled = rendered(tmp_path, [Heard(0.1, 0xB0, 64, 127), *key, Heard(1.5, 0xB0, 64, 0)])
    window = slice(int(1.0 * RATE), int(1.3 * RATE))
    assert decibels(rms(short[window]), np.abs(short).max()) < -45  # only the room is left
    assert decibels(rms(pedalled[window]), rms(short[window])) > 15


def test_a_note_that_nobody_ends_dies_away_by_itself(tmp_path: Path) -> None:
    samples = rendered(tmp_path, [Heard(0.0, 0x90, 40, 90)])
    assert 3 < len(samples) / RATE < 17


def test_a_key_struck_again_damps_its_last_note() -> None:
    heard = [Heard(0.0, 0x90, 60, 80), Heard(1.0, 0x90, 60, 80), Heard(2.0, 0x80, 60, 0)]
    assert [(t.start, t.end) for t in tones(heard, [])] == [(0.0, 1.0), (1.0, 2.0)]


@pytest.mark.parametrize(
    ("part", "voice", "gain", "pan"),
    [
        ("player", "piano", 1.0, 0.28), ("bass", "bass", 0.85, -0.12), ("chords", "piano", 0.55, -0.34),
        ("melody", "piano", 0.95, -0.3), ("solo", "piano", 0.95, -0.3), ("click", "click", 0.22, 0.0),
    ],
)  # fmt: skip
def test_every_part_has_its_voice_its_level_and_its_place(part: str, voice: str, gain: float, pan: float) -> None:
    """As they sound in balance today: listen before one is changed."""
    messages = note(0.5, 60, 0.25, 77, part)
    made = tones(messages, []) if part == "player" else tones([], messages)
    assert made == [Tone(0.5, 0.75, 60, 77, voice, gain, pan)]


@pytest.mark.parametrize(
    ("messages", "spans"),
    [
        ([(0, 0x90, 60, 1), (1, 0x90, 60, 0)], [(0, 1)]),  # the softest note, and an end that is a note-on
        ([(0, 0x9F, 60, 80), (1, 0x8F, 60, 0)], [(0, 1)]),
        ([(0, 0x90, 60, 80), (1, 0xB0, 64, 64), (2, 0x80, 60, 0), (3, 0xB0, 64, 63)], [(0, 3)]),
        ([(0, 0x90, 60, 80), (1, 0xB0, 64, 63), (2, 0x80, 60, 0), (3, 0xB0, 64, 0)], [(0, 2)]),
        ([(0, 0xB0, 64, 127), (1, 0x90, 60, 80), (2, 0x80, 60, 0), (3, 0x90, 60, 80), (4, 0x80, 60, 0)],
         [(1, 3), (3, np.inf)]),
        ([(0, 0x90, 60, 80), (1, 0xB0, 66, 127), (2, 0x80, 60, 0)], [(0, 2)]),
        ([(0, 0x90, 60, 80), (1, 0x80, 61, 0), (2, 0xE0, 60, 0)], [(0, np.inf)]),
        ([(0, 0x80, 60, 0)], []),
    ],
)  # fmt: skip
def test_a_damper_falls_when_key_and_pedal_are_up(
    messages: list[tuple[float, int, int, int]], spans: list[tuple[float, float]]
) -> None:
    """MIDI 1.0: controller 64 is down from 64 on."""
    assert [(t.start, t.end) for t in tones([Heard(*m) for m in messages], [])] == spans


SONG = """
0 program_change 0 0; 0 control_change 0 7 100; 0 control_change 0 10 82; 0 note_on 0 61 80; 0 program_change 1 32;
0 control_change 1 7 92; 0 control_change 1 10 56; 0 program_change 2 0; 0 control_change 2 7 74;
0 control_change 2 10 43; 0 program_change 3 0; 0 control_change 3 7 97; 0 control_change 3 10 45;
0 program_change 4 0; 0 control_change 4 7 97; 0 control_change 4 10 45; 0 control_change 9 7 47;
0 control_change 9 10 64; 250 note_on 1 40 70; 500 note_on 0 60 80; 750 note_off 1 40 0; 1000 note_off 0 60 0;
1000 control_change 0 64 127; 1500 note_on 9 76 90;
"""


def test_the_song_that_fluidsynth_renders_has_each_part_on_its_channel_at_its_level_and_place() -> None:
    """Milliseconds, message, channel from 0, data (MIDI 1.0: 7 volume, 10 pan, 64 in the middle; General MIDI level 1:
    program 32 is the acoustic bass, channel 9 the drums; level 2: a volume's effect is its square)."""
    heard = [Heard(0.5, 0x90, 60, 80), Heard(1.0, 0x80, 60, 0), Heard(1.0, 0xB3, 64, 127), Heard(-0.1, 0x90, 61, 80)]
    orders = [Order(0.25, "bass", 0x91, 40, 70), Order(0.75, "bass", 0x81, 40, 0), Order(1.5, "click", 0x99, 76, 90)]
    song = song_of([*heard, Heard(2.0, 0xE0, 0, 64)], [*orders, Order(0.1, "chords", 0xC2, 5, 0)])
    assert (song.type, song.ticks_per_beat) == (0, 500)
    (track,) = song.tracks
    words, tick = [], 0
    for message in track:
        tick += message.time
        data = [value for name, value in message.dict().items() if name not in ("type", "time", "channel")]
        words.append(f"{tick} {message.type} {message.channel} {' '.join(map(str, data))};")
    assert wrapped(words[:-16]) == lines(SONG)
    assert words[-16:] == [f"2700 control_change {channel} 123 0;" for channel in range(16)], "it rings for 1.2 s"


@pytest.mark.parametrize(("rate", "fits"), [(7999, False), (8000, True), (192000, True), (192001, False)])
def test_a_rate_is_from_8000_to_192000_samples_a_second(tmp_path: Path, rate: int, fits: bool) -> None:
    if fits:
        assert render(tmp_path / "out.wav", [], [], rate=rate, synthesiser="small") == "the built-in synthesiser"
    else:
        with pytest.raises(UseError, match="try 44100"):
            render(tmp_path / "out.wav", [], [], rate=rate, synthesiser="small")


def test_blocks_join_without_a_seam(tmp_path: Path) -> None:
    """A note that lasts over the edge of a block sounds as it does alone."""
    edge = 91382 / RATE  # near the end of the first block
    late = rendered(tmp_path, note(edge - 0.3, 57, 1.0), note(9.0, 57, 0.1))
    start = round((edge - 0.3) * RATE)
    alone = one_tone(Tone(0.0, 1.0, 57, 80)).astype(np.float64)
    dry = late[start : start + len(alone)].mean(axis=1)
    assert np.corrcoef(dry[: int(0.9 * RATE)], alone[: int(0.9 * RATE)])[0, 1] > 0.93
    steps = np.abs(np.diff(dry[4410:]))  # after the knock no step is larger than the wave's own
    assert steps.max() < 1.5 * np.abs(np.diff(alone[4410:])).max() * (dry.std() / alone.std())


def test_nothing_played_is_a_silent_file(tmp_path: Path) -> None:
    render(tmp_path / "out.wav", [], [], synthesiser="small")
    assert len(read(tmp_path / "out.wav")) == 0


def test_progress_is_told_from_nothing_to_all(tmp_path: Path) -> None:
    told: list[float] = []
    heard = [m for k in range(10) for m in note(float(k), 60)]
    render(tmp_path / "out.wav", heard, [], synthesiser="small", progress=told.append)
    assert told == sorted(told) and told[-1] == 1.0


def test_a_place_that_cannot_be_written_is_one_line_and_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="can't be written: no such file"):
        render(tmp_path / "nowhere" / "out.wav", note(0.0, 60), [], synthesiser="small")
    with pytest.raises(UseError, match="try 44100"):
        render(tmp_path / "out.wav", [], [], rate=7)
    assert list(tmp_path.iterdir()) == []


def test_an_earlier_file_stays_whole_when_rendering_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = tmp_path / "out.wav"
    place.write_bytes(b"the take of yesterday")
    monkeypatch.setattr(wav, "tones", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        render(place, note(0.0, 60), [], synthesiser="small")
    assert place.read_bytes() == b"the take of yesterday"
    assert len(list(tmp_path.iterdir())) == 1


def test_fluidsynth_is_asked_for_but_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sound.shutil, "which", lambda _: None)
    with pytest.raises(DeviceError, match="not installed"):
        render(tmp_path / "out.wav", note(0.0, 60), [], synthesiser="fluidsynth")
    assert render(tmp_path / "out.wav", note(0.0, 60), []) == "the built-in synthesiser"


FONTS = sorted({font.resolve() for font in sound.soundfonts()}) if shutil.which("fluidsynth") else []


@pytest.fixture(params=FONTS or [None], ids=lambda font: font.name if font else "none")
def font(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Each soundfont there is, as the one that FluidSynth takes: the tests hold for any of them."""
    if request.param is None:
        pytest.skip("needs FluidSynth and a soundfont")
    found: Path = request.param
    monkeypatch.setattr(wav, "find_soundfont", lambda wanted="": found)
    return found


def test_fluidsynth_renders_the_same_notes_at_the_same_moments(tmp_path: Path, font: Path) -> None:
    heard = [m for t in (0.5, 1.75) for m in note(t, 69, 0.8)]
    orders = note(2.9, 40, 0.5, part="bass")
    by = render(tmp_path / "out.wav", heard, orders, synthesiser="fluidsynth")
    assert by == f"FluidSynth with {font.name}"
    samples = read(tmp_path / "out.wav")
    assert decibels(np.abs(samples).max()) == pytest.approx(-1.0, abs=0.05)
    loud = np.abs(samples).max(axis=1)
    for moment in (0.5, 1.75, 2.9):
        k = int(moment * RATE)
        assert rms(loud[k + 441 : k + 4410]) > 2 * rms(loud[k - 4410 : k - 441])
    assert pitch_near(samples[k_of(0.6) :].mean(axis=1), 440.0) == pytest.approx(440.0, abs=1.0)


def test_fluidsynth_has_the_player_to_the_right_of_the_companions_chords(tmp_path: Path, font: Path) -> None:
    """The same key at both places: a piano that was recorded in stereo leans by itself."""
    heard, orders = note(0.5, 69, 0.8), note(4.5, 69, 0.8, part="chords")
    render(tmp_path / "out.wav", heard, orders, synthesiser="fluidsynth")
    samples = read(tmp_path / "out.wav")
    player, chords = (samples[k_of(at) : k_of(at + 1.0)] for at in (0.5, 4.5))
    assert lean(player) - lean(chords) > 1


def lean(samples: NDArray[np.float64]) -> float:
    """By how many decibels the right side is louder than the left."""
    return decibels(rms(samples[:, 1]), rms(samples[:, 0]))


def k_of(seconds: float) -> int:
    return int(seconds * RATE)
