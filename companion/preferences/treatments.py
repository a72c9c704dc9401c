"""``treatments.toml`` and every ``treatments*.toml`` beside it: how a section is played, hand by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from msgspec import Meta

from companion.preferences.reading import Others, Short, config, own_name
from companion.preferences.units import Share, Tempo

PlacementName = Literal["gaps", "answering", "accents", "free", "held", "sliding"]
"""Where the chords fall."""
MelodyName = Literal["as-written", "turned", "dropped"]
"""What becomes of the melody."""
PlaceName = Literal["bridge"]
"""bridge: a section that stands once in the form, after another that came twice and comes again."""
OneOrMore = Short(lambda value: [value] if isinstance(value, str) else value)
Names = Annotated[tuple[str, ...], OneOrMore]


@dataclass(frozen=True)
class Treatment:
    """How both hands play a section."""

    name: str = own_name()
    about: str = ""
    bass: str = "walking"
    """A pattern of ``bass.toml``."""
    chords: Annotated[tuple[str, ...], OneOrMore, Meta(min_length=1)] = ("rootless",)
    """Families of ``voicings.toml``, the first preferred."""
    placement: PlacementName = "gaps"
    rhythms: str = "swing"
    """A set of ``comping.toml``."""
    late: Share = 0.0
    """Of the chords, those whose fourth note comes later."""
    melody: MelodyName = "as-written"
    tempo: tuple[Tempo, Tempo] | None = None
    """At which it is proposed."""
    feel: Names = ()
    metre: Names = ()
    where: Annotated[tuple[PlaceName, ...], OneOrMore] = ()
    """Places of the form where it is proposed."""


@config("treatments", also="treatments*")
@dataclass(frozen=True, eq=False)
class TreatmentPreferences:
    """The treatments by name."""

    named: Annotated[Mapping[str, Treatment], Others()]
