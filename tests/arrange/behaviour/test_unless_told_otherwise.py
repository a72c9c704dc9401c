"""What is arranged where nothing more is said: the first chorus of the first seed, at its level, with one voice."""

from __future__ import annotations

from dataclasses import MISSING, fields
from fractions import Fraction
from inspect import signature
from typing import Any

import pytest

from companion.arrange import events, explain, turnarounds, writing
from companion.arrange.audit import arrangement
from companion.arrange.audit.figures import AuditFigure
from companion.arrange.bass import line, part
from companion.arrange.bass.slots import Slot
from companion.arrange.chords import answering
from companion.arrange.chords import part as chords
from companion.arrange.chords.comping_style import CompingStyle
from companion.arrange.chords.context import Strike
from companion.arrange.events import Stretch
from companion.arrange.part import Note
from companion.arrange.request import Request
from companion.arrange.solo import part as solo
from companion.arrange.solo.line import Aim
from companion.arrange.solo.story import PhrasePlan, SoloChorus
from companion.arrange.touch.performed import performed
from companion.arrange.touch.stroke import Stroke


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (Request, {"chorus": 1, "seed": 0}),
        (Note, {"voice": 1, "weight": 1.0}),
        (Strike, {"weight": 1.0, "meant": Fraction(0)}),
        (Stroke, {"late": 0.0, "firmness": 1.0, "held": 1.0}),
        (Stretch, {"time": 1, "times": 1, "zero": Fraction(0)}),
        (SoloChorus, {"time": 1, "times": 1}),
        (PhrasePlan, {"pickup": Fraction(0)}),
        (Aim, {"top": 127}),
        (Slot, {"since": 0, "lasts": 1}),
        (AuditFigure, {"of": 1}),
        (CompingStyle, {"takes": 0}),
    ],
)
def test_a_thing_is_plain_in_what_is_not_said_of_it(made: Any, told: dict[str, object]) -> None:
    usual = {field.name: field.default for field in fields(made) if field.default is not MISSING}
    assert {name: usual[name] for name in told} == told


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (line.bass_line, {"chorus": 1, "seed": 0}),
        (part.bass_notes, {"chorus": 1, "seed": 0}),
        (chords.chord_notes, {"chorus": 1, "seed": 0}),
        (solo.improvised_line, {"start": Fraction(0), "chorus": 1, "seed": 0}),
        (writing.write_arrangement, {"seed": 0}),
        (performed, {"seed": 0}),
        (events.chorus, {"time": 1}),
        (explain.explain, {"first": 1}),
        (turnarounds.stated, {"lift": 0}),
        (answering.answer, {"weight": 1.0}),
        (arrangement.audit, {"seeds": 10, "choruses": 3}),
    ],
)
def test_what_is_asked_for_in_few_words_is_the_first_of_its_kind(asked: Any, told: dict[str, object]) -> None:
    usual = signature(asked).parameters
    assert {name: usual[name].default for name in told} == told
