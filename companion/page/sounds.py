"""The sounds that the browser plays: single notes of the companion's own synthesiser, as WAV.

A browser has a note every few semitones and bends the rest from the nearest, by less than anybody hears.

Conventions: MIDI numbers; 16 bits, mono. Waveform Audio File Format, written by the standard library's ``wave``.
"""

from __future__ import annotations

import io
import wave
from functools import lru_cache
from typing import Any

RATE = 32000
"""Samples a second."""
VOICES = {"piano": range(24, 103, 3), "bass": range(27, 70, 3), "click": range(70, 90, 1)}
"""The notes that there are of each voice."""
VELOCITY = 84
LENGTH = {"piano": 5.0, "bass": 3.0, "click": 0.2}
"""Seconds; whoever plays it ends it sooner."""
PEAK = 0.9


def sound_names() -> dict[str, list[int]]:
    """The voices, and the notes that there are of each."""
    return {voice: list(notes) for voice, notes in VOICES.items()}


@lru_cache(maxsize=128)
def sound_wav(voice: str, midi: int) -> bytes | None:
    """A note as a WAV file; None where there is none."""
    if midi not in VOICES.get(voice, ()):
        return None
    import numpy as np

    from companion.ports.synth import Tone, tone_samples

    samples: Any = tone_samples(Tone(0.0, 60.0, midi, VELOCITY, voice), RATE)[: int(LENGTH[voice] * RATE)]
    edge = min(len(samples), RATE // 20)
    samples = samples.copy()
    samples[-edge:] *= np.linspace(1.0, 0.0, edge, dtype=np.float32)
    samples *= PEAK / max(1e-6, float(np.abs(samples).max()))
    target = io.BytesIO()
    with wave.open(target, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes((samples * 32767).astype("<i2").tobytes())
    return target.getvalue()
