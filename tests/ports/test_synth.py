"""The small synthesiser's samples, kept: every partial, decay, knock, damper and echo has its part in them.

What stands here is what it sounds like today. When it changes, listen to it (``companion replay --wav``): other numbers
are as good where the piano is. Levels are in thousandths of the loudest sample, so that rounding doesn't show.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.ports.synth import LONGEST_NOTE, Tone, mix, tone_samples

RATE = 22050
"""Samples a second: enough for every term, and half the work."""
MOMENTS = (0.0007, 0.0031, 0.0113, 0.047, 0.11, 0.19, 0.27, 0.305, 0.33, 0.41)
"""Seconds; the damper falls at 0.3."""


def levels(samples: NDArray[np.floating], moments: tuple[float, ...] = MOMENTS) -> list[float]:
    """Samples at some moments, in thousandths of the loudest."""
    at = [samples[int(moment * RATE)] if int(moment * RATE) < len(samples) else 0.0 for moment in moments]
    return [round(1000 * float(one) / float(np.abs(samples).max()), 2) for one in at]


@pytest.mark.parametrize(
    ("voice", "midi", "velocity", "length", "loudest", "kept"),
    [
        (
            "piano",
            33,
            100,
            17521,
            1.4372,
            [350.16, 394.54, 574.94, 567.11, 430.9, -207.85, -342.59, -307.22, 119.83, 80.76],
        ),
        (
            "piano",
            60,
            80,
            12042,
            0.7651,
            [610.67, -640.53, -340.44, 307.97, -386.08, -276.62, -107.38, -158.57, 0.59, 1.3],
        ),
        (
            "piano",
            60,
            30,
            12042,
            0.1457,
            [822.92, -850.61, -357.31, 440.62, -540.4, -335.7, -131.2, -223.49, 19.33, 3.7],
        ),
        ("piano", 84, 80, 10948, 0.6646, [-714.08, 867.69, -580.19, 222.56, 57.94, -65.77, -30.93, 25.28, 12.86, 1.11]),
        ("piano", 88, 60, 10873, 0.4006, [-629.2, 370.5, -661.73, -94.44, 62.85, 22.3, 27.75, 33.32, 14.49, -0.4]),
        ("piano", 89, 60, 30942, 0.3901, [-335.42, 165.24, -839.8, -397.28, -197.47, 56.92, 49.6, 32.19, 1.7, -10.97]),
        (
            "piano",
            105,
            127,
            12285,
            1.0721,
            [105.31, -331.13, -646.22, 132.44, 46.58, -11.47, -0.87, -3.23, -2.46, 0.35],
        ),
        (
            "bass",
            28,
            90,
            12568,
            0.8107,
            [-133.79, 445.35, -760.92, -366.13, 540.34, -431.79, 258.32, 379.0, 175.91, -19.96],
        ),
        (
            "bass",
            40,
            50,
            12568,
            0.4106,
            [315.84, 809.51, -409.29, -558.73, 285.94, -62.89, 444.57, 330.65, 237.6, -32.18],
        ),
        (
            "bass",
            52,
            110,
            12568,
            1.2564,
            [508.42, 164.86, -535.41, -690.69, 398.66, 294.11, 46.97, 296.11, -4.53, 2.15],
        ),
        ("click", 76, 80, 1653, 0.9289, [-991.26, 301.91, -75.6, 6.92, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        ("click", 83, 40, 1653, 0.3847, [649.56, -34.01, -230.23, -3.34, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
    ],
)
def test_a_note_of_each_voice_sounds_as_it_did(
    voice: str, midi: int, velocity: int, length: int, loudest: float, kept: list[float]
) -> None:
    samples = tone_samples(Tone(0.0, 0.3, midi, velocity, voice), RATE)
    assert abs(len(samples) - length) <= 1
    assert float(np.abs(samples).max()) == pytest.approx(loudest, rel=1e-3)
    assert levels(samples) == pytest.approx(kept, abs=0.1)


def test_the_room_answers_each_ear_as_it_did() -> None:
    click, piano = Tone(0.0, 0.3, 76, 100, "click", 0.5, 0.3), Tone(0.01, 0.3, 88, 100, "piano", 0.7, -0.4)
    (samples,) = mix([click, piano], RATE)
    assert samples.shape == (LENGTH, 2)
    for side, kept in enumerate((LEFT, RIGHT)):
        assert levels(samples[:, side], ROOM_MOMENTS) == pytest.approx(kept, abs=0.1)


ROOM_MOMENTS = (0.0007, 0.0031, 0.0125, 0.0135, 0.0152, 0.02, 0.0216, 0.0288, 0.035, 0.08, 0.2, 0.45, 0.8, 0.88)
LENGTH = 30717
LEFT = [-497.21, 151.45, 437.35, -22.75, -448.4, 232.6, 29.27, -684.48, -14.91, 144.23, -3.33, -0.82, 0.0, -0.0]
RIGHT = [-991.26, 301.94, 392.45, 56.42, -333.16, 139.47, -4.46, -357.38, 27.87, 62.85, -9.06, -2.11, -0.03, 0.01]
"""Left and right of a click and a piano in the room: before its first answer, at each of its early ones, and after."""


def test_a_string_that_nobody_damps_rings_for_fourteen_seconds_at_the_most() -> None:
    rate = 8000
    for end in (math.inf, 20.0):
        assert len(tone_samples(Tone(0.0, end, 21, 80), rate)) == int(LONGEST_NOTE * rate) == 14 * rate
    assert len(tone_samples(Tone(1.0, 0.5, 21, 80), rate)) < rate, "a key that is up before it is down"


def test_a_note_ends_without_a_click() -> None:
    """The last 4 ms go down to nothing in a straight line."""
    whole = tone_samples(Tone(0.0, 0.3, 60, 80), RATE)
    assert whole[-1] == 0.0 and 0 < float(np.abs(whole[-int(0.004 * RATE) :]).max()) < 0.01


@pytest.mark.parametrize(
    ("pan", "left", "right"), [(-1.0, 1.0, 0.0), (0.0, 0.5, 0.5), (1.0, 0.0, 1.0), (0.5, 0.1464, 0.8536)]
)
def test_a_place_from_left_to_right_keeps_the_power(pan: float, left: float, right: float) -> None:
    """Equal-power panning: the squares of cosine and sine of an eighth of a turn by the place (common practice)."""
    (samples,) = mix([Tone(0.0, 0.1, 69, 80, "piano", 1.0, pan)], RATE)
    power = (samples[: int(0.01 * RATE)].astype(np.float64) ** 2).sum(axis=0)  # before the room's first answer
    assert power / power.sum() == pytest.approx([left, right], abs=0.01)


def test_blocks_add_up_to_all_that_is_told_and_the_last_ends_with_the_rooms_echo() -> None:
    told: list[float] = []
    tones = [Tone(at, at + 0.1, 76, 80, "click") for at in (0.0, 20.0)]
    blocks = list(mix(tones, 8000, told.append))
    size = len(blocks[0])
    click = len(tone_samples(tones[0], 8000))
    assert size == (1 << 17) - int(0.9 * 8000)
    assert sum(map(len, blocks)) == 20 * 8000 + click + int(0.9 * 8000)
    assert told == [pytest.approx(size / (20 * 8000 + size)), 1.0]


def test_what_goes_over_the_edge_of_a_block_sounds_as_it_does_alone() -> None:
    size = len(next(iter(mix([Tone(0.0, 0.1, 69, 80), Tone(30.0, 30.1, 69, 80)], 8000))))
    for before in (100, 3000):
        at = (size - before) / 8000
        two = np.concatenate(list(mix([Tone(at, at + 0.3, 57, 80, pan=0.2)], 8000)))
        (alone,) = mix([Tone(0.0, 0.3, 57, 80, pan=0.2)], 8000)
        assert len(two) == size - before + len(alone)
        assert np.allclose(two[size - before :], alone, atol=1e-5)
        assert np.allclose(two[: size - before], 0.0, atol=1e-6)


def test_a_note_is_in_the_middle_and_as_loud_as_it_is_unless_it_is_said() -> None:
    plain, said = (Tone(0.0, 0.1, 69, 80), Tone(0.0, 0.1, 69, 80, "piano", 1.0, 0.0))
    assert plain == said
