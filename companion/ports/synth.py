"""A small synthesiser of piano, upright bass and click, for machines without FluidSynth.

Conventions: seconds from the start; MIDI numbers, A4 = 69 = 440 Hz (ISO 16), velocities 1-127; samples are float32, and
stereo samples have the shape (n, 2), left first.

Method: modal synthesis. A note is a sum of decaying partials a_k e^(-d_k t) sin(2 pi f_k t): stiff strings (f_k = k f_1
sqrt(1 + B k^2), Fletcher & Rossing, The Physics of Musical Instruments, 1998), an amplitude comb from the place where
the string is struck or plucked, a hammer that grows harder with velocity, a prompt and an after-sound (Weinreich, J.
Acoust. Soc. Am. 62(6), 1977), and a few short modes of the wood for the knock. Because z^(aB + b) = z^(aB) z^b, a whole
note is one product of two small matrices. The room is a decaying noise, convolved in blocks. The numbers of timbre here
are our own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

STEP = 512
"""Samples; the inner length of the product."""
TRANSFORM = 1 << 17
"""Samples of one Fourier transform of the room; a block and the room's answer to it fit in."""
FADE = math.log(1000.0)
"""Natural logarithm of 60 dB: a partial of T60 seconds has decay FADE / T60."""
LONGEST_NOTE = 14.0
"""Seconds after which nothing of a string is left."""
LAST_DAMPER = 89
"""The piano has no dampers above F6 (common practice: from about the 69th key)."""
ROOM_SECONDS, ROOM_T60, ROOM_LEVEL = 0.9, 0.55, 0.16


@dataclass(frozen=True)
class Tone:
    """One note to be sounded."""

    start: float
    end: float
    """When the damper falls: the key is up and so is the pedal."""
    midi: int
    velocity: int
    voice: str = "piano"
    """'piano', 'bass' or 'click'."""
    gain: float = 1.0
    pan: float = 0.0
    """-1 left, 1 right."""


def mix(
    tones: Sequence[Tone], rate: int = 44100, progress: Callable[[float], None] | None = None
) -> Iterator[NDArray[np.float32]]:
    """Sound all tones, in blocks of stereo samples.

    Parameters
    ----------
    tones : sequence of Tone
    rate : int
        Samples a second.
    progress : callable, optional
        Told the share done (0-1) after each block.

    Yields
    ------
    array of shape (n, 2)
        Not yet normalised; n is the same for all blocks but the last, which ends with the room's last echo.
    """
    waiting = sorted(tones, key=lambda t: t.start, reverse=True)
    room = _Reverb(rate)
    carry = np.zeros((0, 2), np.float32)
    at, last = 0, 0
    total = max((round(t.start * rate) for t in tones), default=0) + room.block
    while waiting or at < last:
        dry = np.zeros((max(room.block, len(carry)), 2), np.float32)
        dry[: len(carry)] = carry
        while waiting and round(waiting[-1].start * rate) < at + room.block:
            tone = waiting.pop()
            first, wave = round(tone.start * rate) - at, tone_samples(tone, rate)
            dry = _laid_in(dry, first, wave, tone)
            last = max(last, at + first + len(wave) + room.length)
        block, carry = dry[: room.block], dry[room.block :]
        wet = block + room.of(block.mean(axis=1))
        yield wet if waiting else wet[: max(0, last - at)]
        at += room.block
        if progress:
            progress(min(1.0, at / total) if waiting or at < last else 1.0)


def tone_samples(tone: Tone, rate: int = 44100) -> Samples:
    """One tone alone, mono, from its first sample until it has died away."""
    rates, amplitudes, damper = _modes(tone.voice, tone.midi, tone.velocity, rate)
    held = min(max(tone.end - tone.start, 0.0), LONGEST_NOTE)
    undamped = math.isinf(damper)
    slowest = FADE / float(-rates.real.max())
    n = max(STEP, int(rate * min(slowest, LONGEST_NOTE if undamped else held + 6.0 * damper)))
    wave = _partials(tone, amplitudes, rates, n, rate)
    if not undamped and (up := int(held * rate)) < n:
        wave[up:] *= np.exp(-np.arange(n - up, dtype=np.float32) / np.float32(damper * rate))
    edge = min(n, int(0.004 * rate))
    wave[-edge:] *= np.linspace(1.0, 0.0, edge, dtype=np.float32)
    return wave


def _partials(tone: Tone, amplitudes: NDArray[np.float64], rates: NDArray[np.complex128], n: int, rate: int) -> Samples:
    """Sum of the modes over n samples, as one product of (n / STEP, 2k) and (2k, STEP).

    It is the imaginary part of outer @ inner: a_k e^(-d_k t) sin(2 pi f_k t).
    """
    outer = np.exp(np.outer(np.arange(-(-n // STEP)) * STEP, rates / rate)) * amplitudes
    left = np.concatenate((outer.real, outer.imag), axis=1).astype(np.float32)
    left[np.abs(left) < 1e-8] = 0.0  # numbers too small for float32's usual form make the product 50 times slower
    # einsum, because BLAS hands so small a product to threads, which wait for each other when the machine is busy
    wave: Samples = np.einsum("ak,kb->ab", left, _inner(tone.voice, tone.midi, rate)).reshape(-1)[:n]
    return wave


@lru_cache(maxsize=256)
def _inner(voice: str, midi: int, rate: int) -> Samples:
    """The first STEP samples of every mode with amplitude 1: sines, then cosines; shape (2k, STEP)."""
    rates, _, _ = _modes(voice, midi, 64, rate)
    inner = np.exp(np.outer(rates / rate, np.arange(STEP)))
    return np.concatenate((inner.imag, inner.real), axis=0).astype(np.float32)


@lru_cache(maxsize=4096)
def _modes(
    voice: str, midi: int, velocity: int, rate: int
) -> tuple[NDArray[np.complex128], NDArray[np.float64], float]:
    """Complex decay and frequency of each mode a second, its amplitude, and the damper's time constant in seconds.

    Only the amplitudes depend on the velocity.
    """
    make = {"piano": _piano, "bass": _bass, "click": _click}[voice]
    hz, t60, amplitudes, damper = make(midi, velocity / 127.0)
    heard = hz < 0.45 * rate
    return -FADE / t60[heard] + 2j * math.pi * hz[heard], amplitudes[heard], damper


_Timbre = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]
"""Frequencies (Hz), T60 (s), amplitudes, and the damper's time constant (s)."""


def _hertz(midi: int) -> float:
    return float(440.0 * 2.0 ** ((midi - 69) / 12.0))


def _strings(f: float, k: NDArray[np.float64], stiffness: float) -> NDArray[np.float64]:
    """Partials of a stiff string, tuned so that the first is in tune."""
    return f * k * np.sqrt((1.0 + stiffness * k**2) / (1.0 + stiffness))


def _signs(k: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signs that keep partials from all peaking at once (Rudin-Shapiro), so that a note is loud without a spike."""
    return np.array([(-1.0) ** (int(n) & int(n) >> 1).bit_count() for n in k])


def _piano(midi: int, force: float) -> _Timbre:
    f = _hertz(midi)
    k = np.arange(1.0, min(30.0, max(2.0, 9000.0 / f)) + 1.0)
    hz = _strings(f, k, max(1.2e-4, 7e-4 * 2.0 ** ((midi - 69) / 9.0)))
    hardness = (380.0 + 1700.0 * force**1.5) * (f / 262.0) ** 0.55
    strike = np.sin(math.pi * k / 8.3) / math.sin(math.pi / 8.3)
    a = _signs(k) * strike / k**0.9 * np.exp(-(hz - f) / hardness)
    t60 = 13.0 * 2.0 ** (-(midi - 33) / 18.0) / (1.0 + 0.09 * (k - 1.0) + (hz / 5200.0) ** 2)
    # prompt sound, and an after-sound of the strings of one key a hair apart
    hz = np.concatenate((hz, hz * (1.0 + 2.2e-4)))
    a, t60 = np.concatenate((0.78 * a, 0.22 * a)), np.concatenate((0.32 * t60, t60))
    knock = np.array([95.0, 152.0, 241.0, 397.0, 688.0, 1130.0])
    hz, t60 = np.concatenate((hz, knock)), np.concatenate((t60, 7.0 / knock + 0.018))
    tone = np.sqrt(np.sum(a**2))
    a = np.concatenate((a / tone, 0.05 * (0.4 + force) * np.array([1, -1, 0.8, -0.7, 0.5, -0.4])))
    level = force**1.6 * (262.0 / f) ** 0.12
    damper = math.inf if midi >= LAST_DAMPER else 0.030 + 0.035 * 2.0 ** (-(midi - 40) / 12.0)
    return hz, np.minimum(t60, LONGEST_NOTE), a * level, damper


def _bass(midi: int, force: float) -> _Timbre:
    f = _hertz(midi)
    k = np.arange(1.0, 19.0)
    hz = _strings(f, k, 6e-5)
    a = _signs(k) * np.sin(math.pi * k * 0.21) / k**0.75 * np.exp(-(hz - f) / (480.0 + 800.0 * force))
    body = 1.0 + 1.1 * np.exp(-(((hz - 104.0) / 34.0) ** 2)) + 0.8 * np.exp(-(((hz - 205.0) / 60.0) ** 2))
    a *= body * np.minimum(1.0, (hz / 62.0) ** 0.8)
    t60 = 4.6 * (55.0 / f) ** 0.25 / (1.0 + 0.36 * (k - 1.0))
    finger = np.array([118.0, 187.0, 310.0, 540.0, 910.0, 1480.0])
    hz, t60 = np.concatenate((hz, finger)), np.concatenate((t60, 9.0 / finger + 0.012))
    a = a / np.sqrt(np.sum(a**2))
    a = np.concatenate((a, 0.10 * (0.5 + force) * np.array([1, -1, 1, -0.8, 0.6, -0.4])))
    return hz, t60, a * force**1.3, 0.045


def _click(midi: int, force: float) -> _Timbre:
    """A wooden click, higher for a higher note."""
    base = 1050.0 * 2.0 ** ((midi - 76) / 12.0)
    hz = base * np.array([1.0, 1.58, 2.31, 3.4])
    return hz, np.array([0.075, 0.05, 0.035, 0.02]), np.array([1.0, -0.6, 0.4, -0.25]) * force**1.3, math.inf


def _laid_in(dry: NDArray[np.float32], first: int, wave: Samples, tone: Tone) -> NDArray[np.float32]:
    """Add a mono wave at a sample, panned with equal power; the mix grows when the wave is longer."""
    if first < 0:
        wave, first = wave[-first:], 0
    if first + len(wave) > len(dry):
        dry = np.concatenate((dry, np.zeros((first + len(wave) - len(dry), 2), np.float32)))
    angle = (tone.pan + 1.0) * math.pi / 4.0
    dry[first : first + len(wave), 0] += wave * np.float32(tone.gain * math.cos(angle))
    dry[first : first + len(wave), 1] += wave * np.float32(tone.gain * math.sin(angle))
    return dry


class _Reverb:
    """A small room: early reflections and a decaying noise, another for each ear, convolved block by block."""

    def __init__(self, rate: int):
        n = self.length = int(ROOM_SECONDS * rate)
        size = TRANSFORM if n < TRANSFORM // 2 else 4 * TRANSFORM
        self.block = size - n
        dice = np.random.default_rng(1)
        time = np.arange(n) / rate
        noise = dice.standard_normal((2, n)) * np.exp(-FADE * time / ROOM_T60)
        noise[:, : int(0.011 * rate)] = 0.0
        for ear, taps in enumerate(((0.0131, 0.0197, 0.0283), (0.0149, 0.0213, 0.0301))):
            for tap, level in zip(taps, (7.0, -5.0, 4.0), strict=True):
                noise[ear, int(tap * rate)] += level
        noise *= np.minimum(1.0, (ROOM_SECONDS - time) / 0.05)
        hz = np.fft.rfftfreq(size, 1.0 / rate)
        colour = (hz / (hz + 120.0)) / (1.0 + (hz / 3800.0) ** 2)  # neither boom nor hiss
        echo = np.fft.irfft(np.fft.rfft(noise, size) * colour, size)[:, :n]
        echo *= ROOM_LEVEL / np.sqrt(np.sum(echo**2, axis=1, keepdims=True))
        self._response = np.fft.rfft(echo, size).astype(np.complex64)
        self._tail = np.zeros((2, size), np.float32)

    def of(self, block: Samples) -> NDArray[np.float32]:
        """The room's answer to one block, shape (n, 2); what is left of it comes with the next."""
        size = self._tail.shape[1]
        wet = np.fft.irfft(np.fft.rfft(block, size) * self._response, size).astype(np.float32) + self._tail
        self._tail[:, : size - self.block] = wet[:, self.block :]
        self._tail[:, size - self.block :] = 0.0
        return wet[:, : self.block].T
