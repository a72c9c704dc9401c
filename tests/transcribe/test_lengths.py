"""Written lengths: how long a key has to be held for each, and what is learnt from all notes of a line.

Where one length gives way to the next is where their costs in ``capture.toml`` are equal; what stands in the tables is
so found today.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from companion.music.meter import Metre
from companion.music.played import KeyPress
from companion.transcribe.lengths import _densest, notes_with_lengths
from companion.transcribe.quantise import Quantisation, QuantisedNote

ALONG = ((-8.0, -8.0), (64.0, 64.0))
"""A beat a second."""


def line(*notes: tuple[str | int, float, int], metre: Metre, ratio: float = 1.0) -> list[Fraction]:
    """Written lengths of notes given as beat, quarters for which the key is down, and MIDI number."""
    played = [(Fraction(beat), KeyPress(float(Fraction(beat)), float(Fraction(beat)) + held, midi))
              for beat, held, midi in notes]  # fmt: skip
    reading = Quantisation(tuple(QuantisedNote(key, beat) for beat, key in played), ratio, ALONG)
    return [note.length for note in notes_with_lengths(reading, metre)]


def limits(length: Callable[[float], Fraction], most: float) -> str:
    """The lengths of a note that is held longer and longer, each with the least number of quarters for it."""
    step = most / 90
    before = length(step)
    found = [str(before)]
    for n in range(1, 90):
        low, high = n * step, (n + 1) * step
        if (now := length(high)) != before:
            while high - low > 1e-3:
                middle = (low + high) / 2
                low, high = (low, middle) if length(middle) == now else (middle, high)
            found.append(f"{high:.3f} {now}")
            before = now
    return " ".join(found)


def alike(found: str, kept: str) -> None:
    assert [word for word in found.split() if "." not in word] == [word for word in kept.split() if "." not in word]
    numbers = [[float(word) for word in text.split() if "." in word] for text in (found, kept)]
    assert numbers[0] == pytest.approx(numbers[1], abs=2e-3)


@pytest.mark.parametrize(("metre", "ratio", "beat", "after", "others", "kept"), [
    ((4, 4), 1.0, "0", "2", (), "1/4 0.296 1/2 0.549 3/4 0.642 1 1.066 3/2 1.278 2"),
    ((4, 4), 1.0, "0", "1", (), "1/4 0.296 1/2 0.582 3/4 0.596 1"),
    ((4, 4), 1.0, "1/2", "1", (), "1/2"),
    ((4, 4), 1.0, "1/2", "2", (), "1/4 0.295 1/2 0.556 3/4 0.650 1 0.958 3/2"),
    ((4, 4), 1.0, "3", "5", (), "1/4 0.296 1/2 0.549 3/4 0.638 1 1.079 3/2 1.278 2"),
    ((4, 4), 1.0, "2", "6", (), "1/4 0.296 1/2 0.549 3/4 0.642 1 1.066 3/2 1.323 2 2.113 3 2.635 4"),
    ((4, 4), 1.0, "1/3", "2", ("0", "2/3"), "1/3"),
    ((4, 4), 1.0, "2/3", "2", ("0", "1/3"), "1/3 0.382 7/12 0.542 5/6 0.845 4/3"),
    ((4, 4), 2.0, "1/2", "2", (), "1/4 0.221 1/2 0.453 3/4 0.732 1 0.958 3/2"),
    ((4, 4), 1.5, "0", "2", (), "1/4 0.355 1/2 0.650 1 1.080 3/2 1.278 2"),
    ((3, 4), 1.0, "0", "3", (), "1/4 0.296 1/2 0.549 3/4 0.642 1 1.066 3/2 1.339 2 1.976 3"),
    ((6, 8), 1.0, "0", "3/2", (), "1/4 0.296 1/2 0.609 1 0.910 3/2"),
    ((6, 8), 1.0, "0", "3", (), "1/4 0.296 1/2 0.597 1 1.005 3/2 1.599 2 1.917 3"),
    ((4, 4), 1.0, "0", "", (), "1/4 0.296 1/2 0.549 3/4 0.642 1 1.066 3/2 1.339 2 2.070 3 2.635 4"),
    ((4, 4), 1.0, "5/2", "", (), "1/4 0.295 1/2 0.556 3/4 0.650 1 0.974 3/2 1.649 2 1.712 5/2 2.550 7/2"),
    ((6, 8), 1.0, "1", "", (), "1/4 0.295 1/2 0.556 3/4 0.650 1 1.035 3/2 1.299 2 2.199 3 2.396 7/2"),
])  # fmt: skip
def test_how_long_a_key_is_held_for_each_length(
    metre: tuple[int, int], ratio: float, beat: str, after: str, others: tuple[str, ...], kept: str
) -> None:
    """``after``: the beat of the next note; with none the note is the last."""
    beats = sorted({*others, beat, *([after] if after else [])}, key=Fraction)

    def length(held: float) -> Fraction:
        notes = [(place, held if place == beat else 0.1, 60 + n) for n, place in enumerate(beats)]
        return line(*notes, metre=Metre(*metre), ratio=ratio)[beats.index(beat)]

    gap = float(Fraction(after) - Fraction(beat)) if after else 2.7
    alike(limits(length, 1.1 * gap), kept)


@pytest.mark.parametrize(("usual", "kept"), [
    ((0.85, 0.9), "1/4 0.296 1/2 0.582 3/4 0.596 1"),
    ((0.5, 0.4), "1/4 0.190 1/2 0.374 1"),
    ((0.2, 0.25), "1/4 0.101 1/2 0.198 1"),
])  # fmt: skip
def test_who_holds_all_notes_short_means_no_rests(usual: tuple[float, float], kept: str) -> None:
    """Twelve crotchets, held for so much of a beat by turns; the sixth as it may be."""

    def length(held: float) -> Fraction:
        notes = [(n, held if n == 5 else usual[n % 2] + 0.004 * n, 60 + n) for n in range(12)]
        return line(*notes, metre=Metre(4, 4))[5]

    alike(limits(length, 1.1), kept)


@pytest.mark.parametrize(
    ("times", "kept"),
    [
        ((0.7,), "1/4 0.296 1/2 0.355 3/4 0.658 1 1.100 3/2 1.278 2"),
        ((0.7, 0.3, 0.74, 0.68), "1/4 0.280 1/2 0.340 3/4 0.700 1 1.140 3/2 1.250 2"),
    ],
)
def test_a_phrase_that_comes_again_is_written_alike_and_more_surely(times: tuple[float, ...], kept: str) -> None:
    """The middle of three notes, held for so many quarters at its other times in other bars; its own time varies."""

    def length(held: float) -> Fraction:
        notes = [(8 * n + place, held if place else 0.9, 60 + 2 * place)
                 for n, held in enumerate((held, *times)) for place in (0, 1, 3)]  # fmt: skip
        return line(*notes, metre=Metre(4, 4))[1]

    alike(limits(length, 2.0), kept)


@pytest.mark.parametrize(
    ("shares", "found"),
    [
        ([0.8] * 7, None),  # too few to tell
        ([0.8] * 8, (0.8, 0.8)),
        ([0.8] * 5 + [0.1, 0.2, 1.0], (0.8, 0.8)),  # five of eight are three in five
        ([0.8] * 4 + [0.1, 0.2, 0.6, 1.0], None),
        ([0.5] * 4 + [0.509] * 4, (0.5, 0.509)),
        ([0.5] * 4 + [0.511] * 4, None),
        ([0.31] * 8, (0.31, 0.31)),
        ([0.3] * 8, None),
    ],
)
def test_a_sequencer_holds_every_note_for_the_same_share(
    shares: list[float], found: tuple[float, float] | None
) -> None:
    assert _densest(shares) == found


def test_nothing_is_written_of_grace_notes_alone() -> None:
    reading = Quantisation((QuantisedNote(KeyPress(1.0, 1.1, 60), None),), 1.0, ALONG)
    assert notes_with_lengths(reading, Metre()) == []
