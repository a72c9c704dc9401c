"""The intervals, spans, lengths and counts that arranging and its audit rest on, each as a pianist would say it.

All common practice; ranges and low limits as handbooks of arranging have them (from memory). Of what the arranger
prefers, what stands here is what it prefers today.
"""

from __future__ import annotations

from fractions import Fraction
from types import ModuleType

import pytest

from companion.arrange import analysis, endings, events, harmony, introductions, transposition, turnarounds
from companion.arrange.audit import (
    arrangement,
    chords,
    figures,
    hands,
    late,
    rhythm,
    slides,
    solo,
    top_voice,
    touch,
    turns,
)
from companion.arrange.audit import bass as bass_audit
from companion.arrange.audit import endings as ending_audit
from companion.arrange.audit import walk as walk_audit
from companion.arrange.bass import costs, strikes
from companion.arrange.bass import line as bass_line
from companion.arrange.chords import (
    answering,
    comping_style,
    context,
    kept,
    liking,
    own_notes,
    reasons,
    revoicing,
    rhythms,
    riffs,
    shapes,
    sliding,
    soundness,
    substitutes,
    voicings,
)
from companion.arrange.chords import late as late_voices
from companion.arrange.chords import part as chord_part
from companion.arrange.chords import top_voice as top_line
from companion.arrange.melody import part as melody
from companion.arrange.solo import ideas, story
from companion.arrange.solo import line as solo_line
from companion.arrange.solo import part as solo_part
from companion.arrange.solo import rhythm as solo_rhythm
from companion.arrange.touch import performed, stroke
from companion.arrange.touch.stroke import Stroke

F = Fraction
LOW_LIMITS = {1: 52, 2: 51, 3: 48, 4: 46, 5: 46, 6: 46, 7: 34, 8: 43, 9: 41, 10: 41, 11: 41, 13: 40, 14: 39}
"""By the interval in semitones, the lowest MIDI number of its lower note: a minor second from E3, a fifth from Bb1."""

LIMITS: list[tuple[ModuleType, dict[str, object]]] = [
    # what one hand holds, and where it sounds clear
    (chords, {"LOW_LIMITS": LOW_LIMITS, "SPAN": 14, "CLEAR": 0.125}),
    (hands, {"FINGERS": 5, "NINTH": 14, "TENTH": 16, "MOMENT": F(1, 1024)}),
    (costs, {"TENTH": 16}),
    (soundness, {"RUBS": (1, 13)}),
    (own_notes, {"MOST": 4, "_SEVENTHS": (7, 6)}),
    (comping_style, {"MOST_NOTES": 10, "MOST_HITS": 16, "FARTHEST": 64.0}),
    (kept, {"MOST_VOICES": 6}),
    (voicings, {"_ENOUGH": 2, "_THINNED": {"three": 1, "two": 2}, "HAND_MOVES": 0.5}),
    # fourths, thirds, steps
    (liking, {"_FOURTHS": (4, 5, 6)}),
    (revoicing, {
        "_FOURTHS": (4, 5, 6), "AROUND": 7, "MOST_CHANGED": 4, "FEW_CHANGED": 2, "NO_FORM": 4.0, "OTHER_SIZE": 8.0,
        "STRANGE": 4.0, "LOST": 12.0, "MOST_WAYS": 160,
    }),
    (sliding, {"_FOURTHS": ((5, 5), (5, 6), (6, 5), (5, 4), (4, 5)), "ROUTES": 4}),
    (substitutes, {"TRITONE": 6, "REACH": 4}),
    (top_line, {"STEP": 2, "THIRD": 4, "WAYS": 3}),
    (top_voice, {"THIRD": 4}),
    (stroke, {"STEP": 2, "FIFTH": 7}),
    (shapes, {"_TELLING": frozenset({0, 1, 3, 5, 8, 10})}),
    (rhythms, {"_LEADS": (5, 11), "LONG": 1.0}),
    (turns, {"DOMINANTS": (7, 1), "RUN": 3, "PHRASE": 4}),
    (reasons, {"FAR": 4}),
    # beats, bars and phrases
    (answering, {"QUAVER": F(1, 2)}),
    (context, {"HALF": F(1, 2), "FAR": 64.0}),
    (chord_part, {"MOMENT": 0.01}),
    (late_voices, {"MOST_CHOICES": 8}),
    (late, {"JOINED": 2, "LONG": 4}),
    (riffs, {"MOST_OFFERS": 9}),
    (rhythm, {"FOUR": 4, "QUAVER": F(1, 2)}),
    (slides, {"QUAVER": F(1, 2)}),
    (ending_audit, {"FEWEST": 4, "PHRASE": 4}),
    (endings, {"RISES": 4}),
    (introductions, {"BREATH": 1}),
    (events, {"_USUAL_BARS": 4, "_OTHER_NAMES": {"last-four": ("last", 4), "last-eight": ("last", 8)}}),
    (turnarounds, {"STATIC_BARS": 4, "REACH": 6}),
    (melody, {"_AROUND": 8, "_LONGEST": 32.0}),
    (analysis, {"EARLY": 1, "GHOST": 0.6}),
    (harmony, {"_SHARPEST": 10, "_FLATTEST": -6}),
    # the bass
    (strikes, {"RUNNING": 3}),
    (bass_line, {"LONG_BAR": 6, "VARIETY_BUCKETS": 6}),
    (bass_audit, {"GHOST": 0.6}),
    (walk_audit, {
        "SHORT_BAR": pytest.approx(4 / 3), "_FASTEST_FILL": 208, "_MOVES": 0.5, "_SLOW": 66, "_NEAR": 4, "_TOP": 2,
        "_KINDS": {1: "semitone", 2: "step", 5: "fifth", 7: "fifth"},
    }),
    (transposition, {"_TURNED": 3.0, "_UNUSUAL": 3.0, "_SHIFTS": (0, 1, -1), "OCTAVE": 12}),
    # a solo
    (solo, {"BACK": 2, "BREATH": F(3, 4), "INTERVALS": 6, "RHYTHM": 4}),
    (solo_part, {"GAP": F(3, 4), "LONGEST": F(3, 2), "QUAVER": F(1, 2), "CLIMB": 3, "TRIES": 16}),
    (solo_rhythm, {"RUNNING": 9, "TOGETHER": 0.12}),
    (solo_line, {"OCTAVE": 12}),
    (ideas, {"FRAGMENT": 4}),
    (story, {"PARAGRAPH": 8, "BLUES": 12, "THIRD_QUARTER": (0.53, 0.74)}),
    # the hand's touch
    (touch, {
        "FEWEST": 12, "SPREAD": (5.0, 15.0), "SHORTEST": 95.0, "WITHIN": 5.0, "MEMORY": (0.2, 0.9), "GHOST": 0.6,
        "LOUDNESS": (3.0, 14.0),
    }),
    (performed, {"EVEN_HAND": Stroke(0.0, 1.0, 0.9)}),
    (figures, {"ENOUGH": 200}),
    (arrangement, {"PERFORMED": 3}),
]  # fmt: skip


@pytest.mark.parametrize(("module", "limits"), LIMITS, ids=lambda one: getattr(one, "__name__", "")[18:])
def test_what_a_pianist_takes_for_granted_is_so_in_numbers(module: ModuleType, limits: dict[str, object]) -> None:
    assert {name: getattr(module, name) for name in limits} == limits


def test_degrees_and_inversions_have_the_names_of_the_trade() -> None:
    assert own_notes._CALLED == {
        1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh", 9: "ninth",
        11: "eleventh", 13: "thirteenth",
    }  # fmt: skip
    assert own_notes._INVERSIONS == {
        1: "root position", 2: "first inversion", 3: "first inversion", 5: "second inversion", 6: "third inversion",
        7: "third inversion",
    }  # fmt: skip
    assert soundness._OVER_DOMINANTS == {1: "b9", 2: "9", 3: "#9", 5: "11", 6: "#11", 8: "b13", 9: "13"}
    assert soundness._OVER_OTHERS == {1: "b9", 2: "9", 5: "11", 6: "#11", 8: "b13", 9: "13", 11: "7"}
    assert reasons._NUMBERS == {1: "one note", 2: "two notes", 3: "three notes", 4: "four notes"}
