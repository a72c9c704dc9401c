"""The bounds of every number in the files: those of the units, and those that a key has for itself."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Annotated, Any, get_args, get_origin

import pytest
from msgspec import Meta

from companion.preferences import units
from companion.preferences.every import EVERY
from companion.preferences.reading import file_of

LIMITS = {
    # MIDI 1.0 (The MIDI Association, 1996): data bytes have seven bits, channels four, both counted so by musicians.
    "MidiNumber": (0, 127), "Velocity": (1, 127), "Controller": (0, 127), "Channel": (1, 16), "Program": (1, 128),
    # Mathematics: shares are of one; four octaves are 48 semitones; a day has 86 400 seconds.
    "Share": (0, 1), "OfBeat": (0, 1), "Semitones": (0, 48), "Interval": (-48, 48), "Seconds": (0, 86400),
    # Ours: beyond them nothing is playable any more. A file that was right stays right.
    "Factor": (0, 10), "Weight": (0, 1000), "Price": (-1000, 1000), "Cost": (0, 100), "Quarters": (0, 64),
    "Place": (-16, 64), "Beats": (0, 64), "Minutes": (0, 600), "Days": (0, 3650), "Milliseconds": (0, 1000),
    "Tempo": (10, 600), "SwingRatio": (0.1, 10), "Bars": (0, 64), "SomeNotes": (1, 64), "SomeBars": (1, 64),
    "Count": (0, 1000),
}  # fmt: skip

OWN_LIMITS = {
    "companion.preferences.bass": {
        "1 or more": "BassCosts.interval Arcs.bars FillFigure.at Pattern.ways Pattern.interval Way.at",
        "0 to 100": "LineChance.temperature LineChance.temperature_tight",
        "0.01 to 1": "LineChance.same_way",
        "1 to 1000": "LineChance.beam",
        "0.05 to 1": "Pattern.hold",
    },
    "companion.preferences.by_ear": {
        "1 to 100": "AnswerRules.tries",
        "0.25 to 16": "AnswerRules.silence",
        "0.1 to 16": "AnswerRules.enough",
        "0 to 115": "Sound.lowest_root",
    },
    "companion.preferences.capture": {
        "1 to 8": "DivisionTables.simple DivisionTables.compound",
        "0.1 to 10000": "Own.divisions Own.patterns Own.graces",
        "1 to 100": "Own.most",
        "0.05 to 100": "PlaceCosts.ornament",
        "2 to 100": "PlaceCosts.alike",
        "0 to 2": "Lengths.held",
        "0.0001 to 2": "Lengths.tail",
        "2 to 6": "PlayedHands.chord",
    },
    "companion.preferences.care": {
        "1 to 600": "PauseRules.lasts",
    },
    "companion.preferences.comping": {
        "2 to 8": "Phrases.hits",
        "1 or more": "LateVoices.after Held.ways HeldWay.after Slides.routes Route.steps RhythmSet.bars Rhythm.hits",
    },
    "companion.preferences.drills": {
        "0.1 to 2": "LadderRules.start LadderRules.to",
        "above 0 to 100": "LadderRules.step",
        "1 to 100": "LadderRules.up_after LadderRules.down_after LadderRules.hold DrillKind.each RoundRules.silent",
        "1 to 4": "DrillKind.divide",
        "1 or more": "MemorySteps.steps",
    },
    "companion.preferences.feels": {
        "1 or more": "FeelTable.ratio",
    },
    "companion.preferences.following": {
        "-4 to 4": "Phrasing.by",
        "0.0001 to 0.1": "Phrasing.begins Fills.begins Improvising.at_first Improvising.begins",
        "0.0001 to 0.5": "Phrasing.ends Fills.ends Improvising.ends",
        "0 to 20": "Fills.notes",
        "0.001 to 0.999": "Soloing.on_beat Soloing.off_beat Strikes.simple Strikes.compound Comping.other_metres "
        "Earlier.again",
        "0.001 to 1000": "Comping.other_degrees Comping.degrees",
        "1 or more, 0.001 to 0.999": "Comping.strikes",
        "0 to 0.95": "Written.bass Written.chords",
        "0.5 to 64": "ComingIn.alone_at_first Lost.alone Resting.part Resting.instead_of_melody",
    },
    "companion.preferences.instruments": {
        "0 to 10": "Computer.gain",
        "16 to 8192": "Computer.period_frames",
        "2 to 64": "Computer.periods",
    },
    "companion.preferences.like_you": {
        "1 to 1000": "LearningRules.takes LearningRules.halves_after LearningRules.uses LearningRules.in_takes",
        "0 to 100": "LearningRules.doubt",
    },
    "companion.preferences.order": {
        "1 or more, -12 to 12": "TuneMotif.lifts",
    },
    "companion.preferences.paper": {
        "4 to 12": "StaffSizes.piano StaffSizes.single",
    },
    "companion.preferences.players": {
        "1 or more": "PlayerPreferences.comping AnswerLine.wait SoloLine.rests SoloLine.rests_loose LeftHand.of",
        "0 to 0.2": "PlayerManner.drift PlayerManner.jitter",
        "-0.9 to 4": "PlayerManner.gain",
        "0.5 to 64": "AnswerLine.gap",
        "0 to 0.99": "AnswerLine.again",
        "1 or more, 0.25 to 64": "AnswerLine.apart",
        "0.25 to 64": "SoloLine.phrase",
        "1 or more, 0.25 to 16, 1 to 32": "SoloLine.figures",
        "0.25 to 16, 1 to 32": "SoloLine.figures_loose",
    },
    "companion.preferences.repertoire": {
        "0 to 23": "DayRules.begin",
        "1 to 100": "HeldRules.learnt",
        "1 to 10": "AgainRules.stretch",
        "1 to 600": "ProposalRules.minutes ProposalRules.least ProposalRules.most",
        "0 to 60": "ProposalRules.warm_up",
        "1 to 120": "ProposalRules.months",
        "1 to 1000": "ProposalRules.open",
    },
    "companion.preferences.review": {
        "2 to 20": "TimingRules.sure",
        "1 to 100": "RecurringRules.earlier",
    },
    "companion.preferences.signals": {
        "0 to 10000": "Press.once_ms Press.step_ms",
        "above 0 to 0.5": "TempoChange.step",
    },
    "companion.preferences.solo": {
        "1 or more": "PhraseLengths.bars PhraseLengths.late PhraseLengths.pickup Paragraph.bars",
        "0 to 12": "Turning.stride",
        "0 to 100": "SoloCosts.chance",
        "0.2 to 5": "StoryArc.curve",
    },
    "companion.preferences.touch": {
        "0 to 50": "TouchLive.latest_ms",
        "1 or more": "PartTouch.swing",
    },
    "companion.preferences.treatments": {
        "1 or more": "Treatment.chords",
    },
    "companion.preferences.turning": {
        "0 to 16": "TurnedPhrase.least_bars",
    },
    "companion.preferences.voicings": {
        "1 to 5": "HandLimits.notes",
        "0 to 100": "VoicingCosts.temperature",
    },
}  # fmt: skip
"""By the module of a file, the keys whose bounds are no unit's: from where to where."""


def bounds(hint: Any) -> Iterator[Meta]:
    """What stands at a type, and at the types within it."""
    if get_origin(hint) is Annotated:
        yield from (mark for mark in hint.__metadata__ if isinstance(mark, Meta))
    for inner in get_args(hint):
        yield from bounds(inner)


def tables(kind: type[Any]) -> Iterator[type[Any]]:
    """Every kind of table in a file; one that stands in several places comes several times."""
    yield kind
    for hint in typing.get_type_hints(kind, include_extras=True).values():
        for inner in dataclasses_in(hint):
            yield from tables(inner)


def dataclasses_in(hint: Any) -> Iterator[type[Any]]:
    if is_dataclass(hint) and isinstance(hint, type):
        yield hint
    for inner in get_args(hint):
        yield from dataclasses_in(inner)


def told(meta: Meta) -> str:
    """Bounds in words."""
    if meta.min_length is not None:
        return f"{meta.min_length} or more"
    return f"above {meta.gt:g} to {meta.le:g}" if meta.gt is not None else f"{meta.ge:g} to {meta.le:g}"


def own_bounds(kind: type[Any]) -> dict[str, str]:
    """The bounds in a file that are no unit's, by table and field."""
    found = {}
    for table in tables(kind):
        hints = typing.get_type_hints(table, include_extras=True)
        for field in fields(table):
            own = [meta for meta in bounds(hints[field.name]) if meta.pattern is None and meta not in UNITS]
            if own:
                found[f"{table.__name__}.{field.name}"] = ", ".join(dict.fromkeys(map(told, own)))
    return found


UNITS = [meta for hint in vars(units).values() for meta in bounds(hint)]


def test_each_unit_goes_from_where_it_begins_to_where_it_ends() -> None:
    found = {name: (meta.ge, meta.le) for name, hint in vars(units).items() for meta in bounds(hint)}
    assert found == LIMITS


@pytest.mark.parametrize("kind", EVERY, ids=file_of)
def test_each_key_with_bounds_of_its_own_keeps_to_them(kind: type[Any]) -> None:
    listed = OWN_LIMITS.get(kind.__module__, {})
    assert own_bounds(kind) == {key: limits for limits, keys in listed.items() for key in keys.split()}
