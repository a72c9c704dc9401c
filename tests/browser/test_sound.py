"""What comes out of the browser, rendered ahead of time by its own Web Audio and measured."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from companion.arrays import Floats

RATE, DELAY = 44_100, 0.18
"""Samples a second; seconds by which everything is heard later (static/sound.js)."""
RENDERED = """async ([notes, seconds, rate]) => {
  const context = new OfflineAudioContext(1, rate * seconds, rate);
  context.resume = async () => {};
  context.getOutputTimestamp = () => ({ contextTime: 0, performanceTime: 1 });
  window.AudioContext = function () { return context; };
  const { Sound } = await import("/static/sound.js");
  const sound = new Sound({ here: (moment) => moment * 1000 + 1 });
  sound.start();
  await sound.ready;
  sound.take(notes);
  const bytes = new Uint8Array((await context.startRendering()).getChannelData(0).buffer);
  let text = "";
  for (let at = 0; at < bytes.length; at += 32768) text += String.fromCharCode(...bytes.subarray(at, at + 32768));
  return btoa(text);
}"""
PIANO, BASS, UP, DOWN = 0, 1, 0x80, 0x90
LOUD = (36, 43, 48, 52, 55, 59, 62, 64, 67, 71, 74, 76, 79, 83, 86, 88)
PLAYED = [
    [0.0, DOWN | PIANO, 69, 90], [1.0, UP | PIANO, 69, 0],
    [2.0, DOWN | BASS, 33, 90], [3.0, UP | BASS, 33, 0],
    [4.0, 0xB0, 64, 127], [4.1, DOWN, 60, 90], [4.2, UP, 60, 0], [4.4, DOWN, 60, 90], [4.6, 0xB0, 64, 0],
    [5.4, UP, 60, 0],
    *([6.0, DOWN, midi, 115] for midi in LOUD),
]  # fmt: skip


def pitch(sound: Floats, near: float) -> float:
    """Hertz of the strongest partial near a frequency."""
    size = 1 << 18
    found = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size))
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    inside = np.flatnonzero((hertz > near * 0.95) & (hertz < near * 1.05))
    return float(hertz[inside[np.argmax(found[inside])]])


@pytest.mark.real_time
def test_notes_are_in_tune_end_when_they_are_let_go_and_never_overdrive(
    tab: Callable[..., Any], stand_page: str
) -> None:
    sound = np.frombuffer(base64.b64decode(tab(stand_page).page.evaluate(RENDERED, [PLAYED, 8, RATE])), np.float32)

    def heard(low: float, high: float) -> Floats:
        return sound[round((low + DELAY) * RATE) : round((high + DELAY) * RATE)].astype(float)

    def level(low: float, high: float) -> float:
        return float(np.sqrt(np.mean(heard(low, high) ** 2)))

    # A above middle C is 440 Hz (ISO 16:1975), the A three octaves below 55 Hz; five cents are hardly to be heard.
    for low, hertz in ((0.2, 440.0), (2.2, 55.0)):
        assert abs(1200 * np.log2(pitch(heard(low, low + 0.8), hertz) / hertz)) < 5
    assert max(level(1.6, 1.9), level(3.6, 3.9)) < 1e-4, "a note that was let go sounds on"
    assert level(4.8, 5.2) > 1e-3, "a key that was struck again and is held is damped with the pedal"
    assert level(5.85, 5.95) < 1e-3
    assert 0.3 < np.max(np.abs(sound)) <= 1.0
