"""``treatments.toml`` and every ``treatments*.toml`` beside it: how a section is played, hand by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Literal

from msgspec import Meta

from companion.errors import ConfigError, right_name
from companion.preferences.bass import BassPreferences
from companion.preferences.comping import CompingPreferences
from companion.preferences.reading import config, preferences, said_in
from companion.preferences.structure import Others, Short, own_name
from companion.preferences.units import Share, Tempo
from companion.preferences.voicings import VoicingPreferences

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


def treatments() -> Mapping[str, Treatment]:
    """The treatments by name, each held to the patterns, sets and families that there are.

    Raises
    ------
    ConfigError
        A file can't be read, or a treatment asks for what isn't there.
    """
    return _checked(
        preferences(TreatmentPreferences),
        preferences(BassPreferences),
        preferences(CompingPreferences),
        preferences(VoicingPreferences),
    )


@lru_cache(maxsize=1)  # the preferences in force
def _checked(
    made: TreatmentPreferences, bass: BassPreferences, comping: CompingPreferences, voicings: VoicingPreferences
) -> Mapping[str, Treatment]:
    for one in made.named.values():
        _check(one, [one.bass], "a bass pattern", bass.patterns)
        _check(one, [one.rhythms], "a set of rhythms", comping.sets)
        _check(one, one.chords, "a family of voicings", voicings.families)
    return made.named


def _check(made: Treatment, asked: Iterable[str], what: str, known: Iterable[str]) -> None:
    for given in asked:
        if given not in known:
            file = str(said_in(TreatmentPreferences, made.name))
            mend = right_name(given, known)
            raise ConfigError(f"{given!r} is not {what}", file=file, where=f"[{made.name}]", mend=mend)
