"""What was learnt of how a player comps, in words: what ``--like-you`` goes by."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm, UsedShape, places
from companion.arrange.chords.reasons import called
from companion.arrange.chords.shape import Shape
from companion.music.kinds import degrees
from companion.music.meter import parse_metre
from companion.music.pitch import pitch_in_key
from companion.practice.note_words import SIGNS
from companion.preferences import preferences
from companion.preferences.like_you import LearningRules, LikeYouPreferences
from companion.preferences.voicings import VoicingPreferences

KINDS = {
    "maj7": "major sevenths", "6": "sixth chords", "maj": "major chords", "m7": "minor sevenths", "m6": "minor sixths",
    "m": "minor chords", "mmaj7": "minor chords with a major seventh", "7": "dominants", "7alt": "altered dominants",
    "7sus": "suspended dominants", "sus": "suspended chords", "m7b5": "half-diminished chords",
    "dim7": "diminished chords", "aug": "augmented chords", "power": "chords without a third",
}  # fmt: skip
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def style_lines(style: CompingStyle) -> list[str]:
    """All that is taken for a habit, line by line."""
    rules = preferences(LikeYouPreferences).learning
    if not style.takes:
        return ["no take of yours has chords that you chose: play a chart with --you chords, or --you melody,chords"]
    if not style.shapes and not style.rhythms:
        return [f"nothing in {_count(style.takes, 'take')} with chords of yours came often enough: {_asked(rules)}"]
    head = f"your chords, from {_count(style.takes, 'take')}; a habit came {_asked(rules)}"
    return [head, *_shape_lines(style), *_rhythm_lines(style)]


def in_short(style: CompingStyle) -> str:
    """How much is known, in half a sentence: "9 shapes and 4 rhythms of yours, from 5 takes"."""
    known = [_count(len(style.shapes), "shape"), _count(len(style.rhythms), "rhythm")]
    return f"{' and '.join(one for one in known if one)} of yours, from {_count(style.takes, 'take')}"


def _asked(rules: LearningRules) -> str:
    return f"{rules.uses} times or more, in {_count(rules.in_takes, 'take')} or more"


def _count(many: int, what: str) -> str:
    return f"{many} {what}{'s' if many != 1 else ''}" if many else ""


def _shape_lines(style: CompingStyle) -> Iterator[str]:
    for quality, group in groupby(style.shapes, key=lambda shape: shape.quality):
        for n, shape in enumerate(group):
            lead = f"on {KINDS.get(quality, quality)} you play" if n == 0 else "  and"
            yield f"{lead} {shape_words(shape)}, {_often(shape)}; the top note {_top(shape)}"


def _often(used: UsedShape | UsedRhythm) -> str:
    return f"{_count(used.times, 'time')} in {_count(used.takes, 'take')}"


def _top(shape: UsedShape) -> str:
    low, high = (str(pitch_in_key(midi, 0)).translate(SIGNS) for midi in (shape.low, shape.high))
    return low if low == high else f"from {low} to {high}"


def shape_words(shape: UsedShape) -> str:
    """A shape's degrees, and what it is called: "♭3 5 ♭7 9, rootless from the third"."""
    name = _name(shape)
    said = shape.degrees.translate(SIGNS)
    hands = f", {NUMBERS[shape.left]} of them in the left hand" if shape.left else ""
    return f"{said}{f', {name}' if name else ''}{hands}"


def _name(shape: UsedShape) -> str:
    """What musicians call it; empty for a shape of the player's own."""
    own = places(shape.row)
    for family, data in preferences(VoicingPreferences).families.items():
        for name, text in data.forms.get(shape.quality, {}).items():
            row = degrees(text.replace("|", " "))
            if places(row) == own and bool(shape.left) == ("|" in text):
                return called(Shape(family, name, row, shape.left, 0.0)).removeprefix("thinned to ")
    return ""


def _rhythm_lines(style: CompingStyle) -> Iterator[str]:
    for (metre, feel), group in groupby(style.rhythms, key=lambda one: (one.metre, one.feel)):
        for n, one in enumerate(group):
            lead = f"in {metre}, {feel}, you strike" if n == 0 else "  and"
            yield f"{lead} {rhythm_words(one)}, {_often(one)}"


def rhythm_words(one: UsedRhythm) -> str:
    """Where a rhythm strikes: "on 1 and the and of 2"."""
    return join_words([_place(at, compound=parse_metre(one.metre).compound) for at in one.places])


def join_words(words: Sequence[str]) -> str:
    """Words in a row: "on 1, on 3 and the and of 4"."""
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else "".join(words)


def _place(at: float, *, compound: bool) -> str:
    if at < 0:
        return "the quaver before the bar"
    if compound:
        return f"on {2 * at + 1:g}"
    return f"on {at + 1:g}" if at % 1 == 0 else f"the and of {at + 0.5:g}"
