"""The audit finds what is wrong, and finds little wrong in what the arranger makes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.audit.arrangement import AuditFigure, audit, figures
from companion.arrange.audit.figures import totals
from companion.arrange.audit.walk import pattern_figures, walk_figures
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.load import load
from companion.music.pitch import pitch_in_key
from companion.resources import chart_names, chart_path

Composer = Callable[..., Form]
MARGIN = {
    "root on the first beat of a new chord": 0.97,
    "the last note before a new chord leads to it": 0.92,
    "third or seventh in bars of one chord": 0.75,
    "movement of a voice between chords, semitones": 1.9,
}
"""Tighter than the targets, so that a loss is seen before a target is missed."""
TOGETHER = frozenset(
    {
        "approaches from a fourth or fifth away",
        "chord tones of diminished and minor-major chords, the last beat apart",
        "bars of a minor tonic that spell its subdominant",
        "phrases with a direction",
        "phrases with one high or one low point",
        "phrases that end with a fill",
        "phrases in two with a pickup to the next",
    }
)
"""Of these a tune has few cases, so that they are held to their targets over all tunes."""
VARYING = frozenset(
    {
        "a chord tone on the third beat of a bar of one chord",
        "the chords' top voice stands still",
        "the very same voicing again",
        "leaps of the top voice, over a third",
        "rootless chords in gaps with two or three notes",
        "bars that answer the melody or are of a riff",
        "bars with the commonest rhythm of two chords",
        "phrases that take up one of the last two",
        "chords: spread in velocity",
        "chords: correlation with the stroke before",
    }
)
"""In these one tune may be a little beside the target with one seed; their mean over the tunes may not."""


def by_name(found: list[AuditFigure]) -> dict[str, AuditFigure]:
    return {figure.name: figure for figure in found}


def held(figure: AuditFigure) -> bool:
    if figure.name in TOGETHER | VARYING:
        return True
    margin = MARGIN.get(figure.name)
    if margin is None or not figure.of:
        return figure.reached
    return figure.value >= margin if figure.at_least is not None else figure.value <= margin


@pytest.mark.parametrize("name", chart_names()[::3])
def test_every_third_tune_can_be_walked_as_a_teacher_would_have_it(name: str) -> None:
    form = load(chart_path(name)).unfold()
    missed = {f.name: (f.value, f.places) for f in audit(form, treatment="walking", seeds=1) if not held(f)}
    assert not missed


def test_every_tune_of_ours_is_arranged_as_a_teacher_would_have_it() -> None:
    found = {name: audit(load(chart_path(name)).unfold(), seeds=1) for name in chart_names()}
    missed = {(name, f.name): (f.value, f.places) for name, each in found.items() for f in each if not held(f)}
    assert not missed
    for title in VARYING:
        rows = [f for each in found.values() for f in each if f.name == title and f.of]
        mean = sum(f.value for f in rows) / len(rows)
        assert replace(rows[0], value=mean).reached, (title, mean)


@pytest.mark.parametrize("treatment", ["walking", "in-two"])
def test_what_a_tune_has_little_of_is_right_over_all_tunes(treatment: str) -> None:
    found = []
    for name in chart_names():
        form = load(chart_path(name)).unfold().free
        rows = [
            arrange(form, "bass", Request(treatment=treatment, chorus=chorus, seed=seed))
            for seed, chorus in ((0, 1), (0, 2), (0, 3), (1, 1))
        ]
        ruling = plan(form, treatment)
        found.append((name, [*walk_figures(form, ruling, rows), *pattern_figures(form, ruling, rows)]))
    summed = [total for total in totals(found) if total.figure.name in TOGETHER]
    missed = {one.figure.name: one.mean for one in summed if not replace(one.figure, value=one.mean).reached}
    assert summed and not missed


CHANGES = [
    ("Dm7 | G7 | Cmaj7 | Cmaj7 | Em7b5 | A7b9 | Dm7 | G7", {}),
    ("C6 A7 | Dm7 G7 | Em7 A7 | Dm7 G7 | C7 | F6 F#dim7 | C/G A7 | Dm7 G7", {}),
    ("Cm7 | Cm7 | Fm7 | Fm7 | Dm7b5 | G7 | Cm6 | G7alt", {"fifths": -3, "minor": True}),
    ("Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7 | Am7 | D7", {"metre": "3/4", "fifths": 1}),
    ("Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Dm7 | Dm7", {"tempo": 240.0}),
    ("Fmaj7 | Eb7 | Fmaj7 | Db7 C7 | Fmaj7 | Bb7 | Am7 D7 | Gm7 C7", {"metre": "2/2", "fifths": -1}),
]


@pytest.mark.parametrize(("changes", "how"), CHANGES)
def test_changes_of_every_kind_are_walked_and_comped(compose: Composer, changes: str, how: dict[str, object]) -> None:
    form = compose(" | ".join([changes] * 4), **how)
    missed = {f.name: (f.value, f.places) for f in audit(form, treatment="walking", seeds=1) if not held(f)}
    assert not missed


@pytest.fixture(scope="module")
def good(minor_swing: Form) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    return (
        arrange(minor_swing, "bass", Request(treatment="walking")),
        arrange(minor_swing, "chords", Request(treatment="walking")),
    )


def spoiled(form: Form, bass: tuple[Note, ...], chords: tuple[Note, ...], choruses: int = 1) -> dict[str, AuditFigure]:
    return by_name(figures(form, plan(form, "walking"), [bass] * choruses, [chords] * choruses))


def test_a_wrong_root_is_found(minor_swing: Form, good: tuple[tuple[Note, ...], tuple[Note, ...]]) -> None:
    bass = tuple(replace(n, pitch=pitch_in_key(n.midi + 3)) if n.beat == 8 else n for n in good[0])
    figure = spoiled(minor_swing, bass, good[1])["root on the first beat of a new chord"]
    assert figure.value < 1 and "bar 3 beat 1" in figure.places


def test_a_repeated_chorus_is_found(minor_swing: Form, good: tuple[tuple[Note, ...], tuple[Note, ...]]) -> None:
    assert spoiled(minor_swing, *good, choruses=2)["choruses with the same line"].value == 1


def test_a_note_out_of_range_and_one_out_of_the_key_are_found(
    minor_swing: Form, good: tuple[tuple[Note, ...], tuple[Note, ...]]
) -> None:
    low = tuple(replace(n, pitch=pitch_in_key(27)) if n.beat == 5 else n for n in good[0])
    assert spoiled(minor_swing, low, good[1])["outside E1 to G3"].value > 0
    strange = tuple(replace(n, pitch=pitch_in_key(37)) if n.beat == 9 else n for n in good[0])
    found = spoiled(minor_swing, strange, good[1])["neither chord, scale, passing nor leading note"]
    assert any("C#2" in where or "Db2" in where for where in found.places)


def test_a_chord_with_a_moving_melody_note_and_one_above_it_are_found(minor_swing: Form) -> None:
    chord = tuple(Note(Fraction(1, 2), Fraction(1), pitch_in_key(midi), "chords") for midi in (52, 57, 58, 76))
    found = by_name(figures(minor_swing, plan(minor_swing, "walking"), [()], [chord]))
    assert found["chords struck with a moving melody note"].value == 1
    assert found["above a sounding melody note"].value == 1
    assert found["wider than a hand"].value == 1


def test_roots_clashes_mud_and_bareness_are_found(compose: Composer) -> None:
    form = compose("C7 | F7", melody=[(0, 4, 65)])
    chord = tuple(Note(Fraction(1), Fraction(2), pitch_in_key(m), "chords") for m in (48, 50, 52, 60))
    found = by_name(figures(form, plan(form, "walking"), [()], [chord]))
    assert found["rootless voicings with the root in them"].value == 1
    assert found["rootless voicings without third and seventh"].value == 1
    assert found["clashes with the melody"].value == 1
    assert found["below the low limits"].value == 1
