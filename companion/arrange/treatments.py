"""Treatments: how a section is played, hand by hand, as data that a player copies and edits.

Conventions: a treatment is a table in ``configs/treatments.toml`` or in any other ``treatments*.toml``, shipped or the
player's own; of two tables with one name the later file's counts.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from companion.arrange.tables import Table, table
from companion.chart.model import Form, Place
from companion.errors import ConfigError, right_name
from companion.resources import config_paths, read_toml_file

_NO_RHYTHMS = ("placement", "held", "slides")
"""Tables of ``comping.toml`` that aren't sets of rhythms."""
PLACEMENTS = ("gaps", "answering", "accents", "free", "held", "sliding")
MELODIES = ("as-written", "turned", "dropped")
PLACES = ("bridge",)
"""bridge: a section that stands once in the form, after another that came twice and comes again."""


@dataclass(frozen=True)
class Treatment:
    """How both hands play a section."""

    name: str
    about: str = ""
    bass: str = "walking"
    """A pattern of ``bass.toml``."""
    chords: tuple[str, ...] = ("rootless",)
    """Families of ``voicings.toml``, the first preferred."""
    placement: str = "gaps"
    rhythms: str = "swing"
    """A set of ``comping.toml``."""
    late: float = 0.0
    """Share of the chords whose fourth note comes later."""
    melody: str = "as-written"
    tempo: tuple[float, float] | None = None
    """Quarters a minute at which it is proposed."""
    feel: tuple[str, ...] = ()
    metre: tuple[str, ...] = ()
    where: tuple[str, ...] = ()
    """Places of the form where it is proposed; see :data:`PLACES`."""


Plan = tuple[tuple[Fraction, Fraction, Treatment], ...]
"""From where to where, in quarters, which treatment rules; the whole form is covered."""


def _all() -> dict[str, Treatment]:
    return {name: one for name, (one, _) in _read().items()}


@cache
def _read() -> dict[str, tuple[Treatment, Path]]:
    """The treatments by name, each with the file that it is from."""
    found: dict[str, tuple[Treatment, Path]] = {}
    for file in config_paths("treatments*"):
        for name, values in read_toml_file(file).items():
            found[name] = _treatment(name, values, file), file
    return found


def listed() -> list[tuple[Treatment, Path]]:
    """The treatments, each with the file that it is from."""
    return list(_read().values())


def _treatment(name: str, values: Any, file: Path) -> Treatment:
    where = f"[{name}]"
    if not isinstance(values, dict):
        raise ConfigError(
            f"{name!r} is not a table", file=str(file), mend=f"write it as [{name}] with its values below"
        )
    known = {f.name for f in fields(Treatment)} - {"name"}
    for key in values:
        if key not in known:
            raise ConfigError(
                f"{key!r} is not a word of a treatment",
                file=str(file),
                where=where,
                mend=f"use {', '.join(sorted(known))}",
            )
    _check_kinds(values, file, where)
    made = dict(values)
    for key in ("chords", "feel", "metre", "where", "tempo"):
        if key in made:
            made[key] = tuple([made[key]] if isinstance(made[key], str) else made[key])
    treatment_ = Treatment(name=name, **made)
    _check(treatment_, file, where)
    return treatment_


_KINDS: dict[str, tuple[type | tuple[type, ...], str]] = {
    "late": ((int, float), "a share from 0 to 1"),
    "tempo": (list, "two numbers, [from, to]"),
    "chords": ((str, list), "a list of families"),
    "feel": ((str, list), "a list of feels"),
    "metre": ((str, list), "a list of metres"),
    "where": ((str, list), "a list of places of the form"),
}


def _check_kinds(values: Table, file: Path, where: str) -> None:
    for key, value in values.items():
        kind, called = _KINDS.get(key, (str, "a text"))
        right = isinstance(value, kind) and not isinstance(value, bool)
        if key == "tempo" and right:
            right = len(value) == 2 and all(isinstance(one, (int, float)) for one in value)
        if not right:
            raise ConfigError(f"{key} = {value!r} is not {called}", file=str(file), where=where)


def _check(made: Treatment, file: Path, where: str) -> None:
    choices: tuple[tuple[str, str, Table | tuple[str, ...]], ...] = (
        (made.bass, "a bass pattern", table("bass")["patterns"]),
        (made.placement, "a placement", PLACEMENTS),
        (made.melody, "a way with the melody", MELODIES),
        (made.rhythms, "a set of rhythms", {k: v for k, v in table("comping").items() if k not in _NO_RHYTHMS}),
        *((family, "a family of voicings", table("voicings")) for family in made.chords),
        *((where, "a place of the form", PLACES) for where in made.where),
    )
    for given, what, known in choices:
        if given not in known:
            raise ConfigError(
                f"{given!r} is not {what}", file=str(file), where=where, mend=f"use one of {', '.join(known)}"
            )


def names() -> list[str]:
    """Names of the treatments, the shipped ones and the player's own."""
    return list(_all())


def treatment(name: str) -> Treatment:
    """A treatment by name. Raises ConfigError when there is none."""
    found = _all().get(name)
    if found is None:
        raise ConfigError(f"there is no treatment called {name!r}", mend=right_name(name, names()))
    return found


def proposed(form: Form, place: Place | None = None) -> Treatment:
    """What suits a section where the chart says nothing: of the treatments all of whose wishes are met, the choosiest.

    A treatment wishes for a place of the form, a metre, a feel, a tempo; one without wishes is never proposed. Where
    nothing fits, the bass walks.
    """
    fitting = [(choosiness, one) for one in _all().values() if (choosiness := _fits(one, form, place))]
    return max(fitting, key=lambda fit: fit[0])[1] if fitting else _all()["walking"]


def _fits(one: Treatment, form: Form, place: Place | None) -> int:
    """How choosy a treatment is, if all of its wishes are met; 0 otherwise: place before metre, feel and tempo."""
    met = {
        8: not one.where or ("bridge" in one.where and place is not None and is_bridge(form, place)),
        4: not one.metre or str(form.metre) in one.metre,
        2: not one.feel or form.feel in one.feel,
        1: one.tempo is None or one.tempo[0] <= form.tempo < one.tempo[1],
    }
    wishes = {8: one.where, 4: one.metre, 2: one.feel, 1: one.tempo}
    return sum(weight for weight, wish in wishes.items() if wish) if all(met.values()) else 0


def is_bridge(form: Form, place: Place) -> bool:
    """Whether a section is the form's bridge, as the B of A A B A is (common practice); A1 and A2 are both A."""
    letters = [section.name.rstrip("0123456789'") for section in form.sections]
    if place not in form.sections:
        return False
    n = form.sections.index(place)
    before = letters[:n]
    return letters.count(letters[n]) == 1 and any(before.count(a) > 1 and a in letters[n + 1 :] for a in before)
