"""The browser's notes: in tune, without a click at their end, and near enough to each other."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest

from companion.page.sounds import RATE, VOICES, sound_names, sound_wav
from companion.ports.synth import Tone, tone_samples


@pytest.mark.parametrize(("voice", "midi", "hertz"), [("piano", 69, 440.0), ("piano", 60, 261.63), ("bass", 33, 55.0)])
def test_a_note_sounds_at_its_pitch(voice: str, midi: int, hertz: float) -> None:
    """ISO 16: A4 is 440 Hz; the others follow in equal temperament (common practice)."""
    wav = sound_wav(voice, midi)
    assert wav is not None
    with wave.open(io.BytesIO(wav)) as sound:
        samples = np.frombuffer(sound.readframes(sound.getnframes()), "<i2").astype(float)
    spectrum = np.abs(np.fft.rfft(samples[: 2 * RATE] * np.hanning(2 * RATE)))
    near = (np.fft.rfftfreq(2 * RATE, 1 / RATE) > 0.94 * hertz) & (np.fft.rfftfreq(2 * RATE, 1 / RATE) < 1.06 * hertz)
    found = np.fft.rfftfreq(2 * RATE, 1 / RATE)[near][spectrum[near].argmax()]
    assert abs(1200 * np.log2(found / hertz)) < 20
    assert abs(samples[-1]) < 100
    assert np.abs(samples).max() > 20000


def test_no_key_is_further_than_a_semitone_from_a_note_that_there_is() -> None:
    for voice, low, high in (("piano", 23, 103), ("bass", 26, 70)):
        assert all(min(abs(midi - there) for there in VOICES[voice]) <= 1 for midi in range(low, high))


@pytest.mark.parametrize(("voice", "midi", "seconds"), [("piano", 60, 5.0), ("bass", 33, 3.0), ("click", 76, 0.2)])
def test_a_note_is_as_long_and_as_loud_as_it_may_be_and_fades_in_a_twentieth_of_a_second(
    voice: str, midi: int, seconds: float
) -> None:
    wav = sound_wav(voice, midi)
    assert wav is not None
    with wave.open(io.BytesIO(wav)) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, 32000)
        samples = np.frombuffer(sound.readframes(sound.getnframes()), "<i2").astype(float)
    # Whoever plays it hears no note longer than it sounds in the room.
    whole = tone_samples(Tone(0.0, 60.0, midi, 84, voice), 32000)[: int(seconds * 32000)].astype(float)
    assert len(samples) == len(whole) <= seconds * 32000
    whole[-1600:] *= np.linspace(1.0, 0.0, 1600)
    assert np.abs(samples).max() == int(0.9 * 32767)
    assert np.allclose(samples, whole * 0.9 * 32767 / np.abs(whole).max(), atol=1.5)


def test_the_voices_have_their_notes_and_no_others() -> None:
    names = sound_names()
    assert names == {"piano": [*range(24, 103, 3)], "bass": [*range(27, 70, 3)], "click": [*range(70, 90)]}
    assert sound_wav("piano", 25) is None and sound_wav("click", 90) is None and sound_wav("organ", 60) is None
