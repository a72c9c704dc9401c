"""The browser's notes: in tune, without a click at their end, and near enough to each other."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest

from companion.page.sounds import RATE, VOICES, sound_wav


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
