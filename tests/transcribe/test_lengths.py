"""Written lengths: how long a key has to be held for each, and what is learnt from all notes of a line.

Where one length gives way to the next is where their costs in ``capture.toml`` are equal; what stands in the tables is
so found today.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

import pytest

from companion.music.meter import Metre
from companion.music.played import KeyPress
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.lengths import LONGEST, TranscribedNote, _alike, _densest, _Weigher, notes_with_lengths
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


# By hand

F = Fraction


def weigher(
    beats: str, shares: Sequence[float] = (), *, metre: Metre | None = None, ratio: float = 1.0, off: float = 0.0
) -> _Weigher:
    """Of notes on beats, a beat a second, each held for a share of the time to the next (nine tenths unless given)."""
    places = [F(word) for word in beats.split()]
    ends = [*places[1:], places[-1] + 1]
    held = [*shares, *[0.9] * len(places)]
    keys = [
        KeyPress(float(at) + off, float(at) + off + share * float(end - at), 60)
        for at, end, share in zip(places, ends, held, strict=False)
    ]
    notes = tuple(QuantisedNote(key, place) for key, place in zip(keys, places, strict=True))
    return _Weigher(Quantisation(notes, ratio, ALONG), metre or Metre(), places, preferences(CapturePreferences))


def ends(looking: _Weigher, beat: str, held: float, after: str = "") -> str:
    """Where a note may end, with its cost."""
    found = looking._ends(F(beat), held, F(after) if after else None)
    return " ".join(f"{end}:{cost:.4g}" for end, cost in found)


@pytest.mark.parametrize(
    ("struck", "metre", "beat", "after", "found"),
    [
        # the next note; a quarter, half, three quarters ... of a beat, each with a rest after it, the last too short
        ("0 2", (4, 4), "0", "2", "2:0 1/4:5.6 1/2:3.4 3/4:5.6 1:2.6 5/4:6.2 3/2:3.4 7/4:11.2"),
        # more than two beats to the next: a rest is likelier, at the bar line most
        ("3 5", (4, 4), "3", "5", "5:0 13/4:5.6 7/2:3.4 15/4:5.6 4:2.1 17/4:6.2 9/2:3.4 19/4:11.2"),
        ("3 21/4", (4, 4), "3", "21/4", "21/4:0.6 13/4:4.5 7/2:2.3 15/4:4.5 4:1 17/4:5.1 9/2:2.3 19/4:5.1 5:6.5"),
        ("0 3/4", (4, 4), "0", "3/4", "3/4:0 1/4:10.6 1/2:8.4"),
        ("0 1", (4, 4), "0", "1", "1:0 1/4:5.6 1/2:3.4 3/4:10.6"),
        ("0 1/2", (4, 4), "0", "1/2", "1/2:0"),
        ("0 5/4", (4, 4), "0", "5/4", "5/4:0.6 1/4:5.6 1/2:3.4 3/4:5.6 1:7.6"),
        # nothing follows: up to a beat more than it was held; the end of the bar three times as much
        ("0", (4, 4), "0", "", "1/4:3 1/2:0.8 3/4:3 1:0 5/4:3.6 3/2:0.8 7/4:3.6 2:0"),
        ("0", (2, 4), "0", "", "1/4:3 1/2:0.8 3/4:3 1:0 5/4:3.6 3/2:0.8 7/4:3.6 2:-1.5"),
        # in a beat of thirds, and in compound time
        ("0 1/3 2/3 2", (4, 4), "2/3", "2", "2:0 1:2.6 5/4:6.2 3/2:4 7/4:11.2"),
        ("0 2/3 2", (4, 4), "0", "2", "2:0 1/3:3.4 2/3:3.4 1:2.6 5/4:6.2 3/2:3.4 7/4:11.2"),
        ("0 3/2", (6, 8), "0", "3/2", "3/2:0 1/4:5.6 1/2:3.4 1:8.4 5/4:11.2"),
    ],
)  # fmt: skip
def test_where_a_note_may_end_and_what_that_costs(
    struck: str, metre: tuple[int, int], beat: str, after: str, found: str
) -> None:
    assert ends(weigher(struck, metre=Metre(*metre)), beat, 0.5, after) == found


def test_no_rest_is_looked_for_after_sixteen_bars() -> None:
    last = [end for end, _ in weigher("0 100")._ends(F(0), 1.0, F(100))][-1]
    assert last == LONGEST - F(1, 4) and LONGEST == 16 * 4


def test_a_length_of_one_note_head_dotted_or_not_costs_nothing() -> None:
    alone = weigher("0")
    for length in ("1/4", "1/2", "3/4", "1", "3/2", "2", "3", "4", "6", "1/3", "8"):
        assert alone._tied(F(length)) == 0.0, length
    for length in ("5/4", "7/4", "5/2", "7/2", "9/2", "5", "10", "5/3"):
        assert alone._tied(F(length)) == 0.6, length


def test_who_holds_notes_long_and_short_at_random_is_taken_as_people_play() -> None:
    """Seven in ten to just over the whole; usual is the middle of that, geometrically, or of enough notes in it."""
    row = "0 1 2 3 4 5 6 7 8 9"
    few = weigher("0 1 2 3 4 5 6 7", [0.1 * n for n in range(1, 8)])
    assert (few.low, few.high, few.tail, few.usual) == (0.7, 1.02, 0.035, pytest.approx((0.7 * 1.02) ** 0.5))
    eight = weigher("0 1 2 3 4 5 6 7 8", [0.05, *(0.1 * n for n in range(1, 8))])
    assert eight.low < 0.6, "of eight it is told how long they are held"
    tenths = weigher(row, [0.1 * n for n in range(1, 10)])
    low = 0.7 / 0.92 * 0.9  # nine in ten of them are held for 0.9 at most
    assert (tenths.low, tenths.usual) == (pytest.approx(low), pytest.approx((low * 1.02) ** 0.5))
    steady = weigher(row, [0.72 + 0.02 * n for n in (1, 0, 2, 4, 3, 5, 7, 6, 8)])
    assert (steady.low, steady.usual) == (pytest.approx(0.7 / 0.92 * 0.88), pytest.approx(0.8))
    long = weigher(row, [0.95 + 0.01 * n for n in range(9)])
    assert long.low == 0.7, "never less short than people play"
    apart = weigher("0 1 2 3 4 5 6 7 10", [0.05, *(0.1 * n for n in range(1, 8))])
    assert apart.low == 0.7, "three beats to the next note tell nothing"
    apart = weigher("0 1 2 3 4 5 6 7 9", [0.05, *(0.1 * n for n in range(1, 8))])
    assert apart.low < 0.6, "two do"


def test_who_holds_all_notes_alike_holds_them_for_that_share() -> None:
    even = weigher("0 1 2 3 4 5 6 7 8", [0.5] * 8)
    numbers = even.low, even.high, even.tail, even.usual
    assert numbers == (pytest.approx(0.495), pytest.approx(0.505), 0.012, pytest.approx((0.495 * 0.505) ** 0.5))


def test_where_a_written_beat_sounds() -> None:
    swung = weigher("0 1/2 1 4/3 5/3", ratio=2.0)
    assert [swung.sounding(F(beat)) for beat in ("1/2", "1", "3/2")] == pytest.approx([2 / 3, 1.0, 1.5])
    assert weigher("0 1/2", ratio=1.15).sounding(F(1, 2)) == 0.5, "no swing to speak of"
    assert weigher("0 1/2", ratio=1.2).sounding(F(1, 2)) == pytest.approx(6 / 11)
    assert weigher("0 1/2", ratio=2.0, metre=Metre(6, 8)).sounding(F(1, 2)) == 0.5, "nor in compound time"


def test_how_long_a_key_is_down_in_the_time_to_the_next() -> None:
    swung = weigher("0 1/2", ratio=2.0)
    key, late = KeyPress(1.0, 1.3, 60), KeyPress(1.4, 1.5, 62)
    assert swung.held(F(0), key, F(1, 2), late) == pytest.approx(2 / 3 * 0.75), "two thirds of a beat took 0.4 seconds"
    assert swung.held(F(0), key, None, None) == pytest.approx(0.3), "by the clock"
    assert swung.held(F(0), key, F(1, 2), KeyPress(1.0, 1.5, 62)) == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("other", "later", "means"),
    [
        (0.58, (60, 64, 67), (0.49, 2)),
        (0.59, (60, 64, 67), (0.495, 2)),
        (0.61, (60, 64, 67), (0.4, 1)),  # a fifth of the time to the next note is otherwise
        (0.5, (60, 64, 68), (0.4, 1)),
        (0.5, (61, 64, 67), (0.4, 1)),
        (0.5, (60, 65, 67), (0.4, 1)),
    ],
)
def test_a_note_between_the_same_two_in_another_bar_is_held_alike(
    other: float, later: tuple[int, ...], means: tuple[float, int]
) -> None:
    row = [(F(4 * bar + beat), midi) for bar, pitches in enumerate(((60, 64, 67), later)) for beat, midi in
           zip((0, 2, 3), pitches, strict=True)]  # fmt: skip
    found = _alike(row, [0.9, 0.4, 0.9, 0.9, other, 0.8], Metre())
    assert found[1] == (pytest.approx(means[0]), means[1])
    assert (found[0], found[-1]) == ((0.9, 1), (0.8, 1))


def test_a_note_that_is_told_is_not_doubtful() -> None:
    assert TranscribedNote(F(0), F(1), KeyPress(0.0, 1.0, 60)).doubt == 0.0
