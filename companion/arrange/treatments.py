"""Treatments: how a section is played, hand by hand, as data that a player copies and edits.

Conventions: a treatment is a table in ``configs/treatments.toml`` or in any other ``treatments*.toml``, shipped or the
player's own, described in :mod:`companion.preferences.treatments`.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from companion.chart.model import Form, FormSection
from companion.errors import ConfigError, right_name
from companion.preferences.reading import said_in
from companion.preferences.treatments import Treatment, TreatmentPreferences, treatments

__all__ = ["Treatment", "TreatmentPlan", "is_bridge", "listed", "names", "proposed", "treatment"]

TreatmentPlan = tuple[tuple[Fraction, Fraction, Treatment], ...]
"""From where to where, in quarters, which treatment rules; the whole form is covered."""


def listed() -> list[tuple[Treatment, Path]]:
    """The treatments, each with the file that it is from."""
    return [(one, said_in(TreatmentPreferences, name)) for name, one in treatments().items()]


def names() -> list[str]:
    """Names of the treatments, the shipped ones and the player's own."""
    return list(treatments())


def treatment(name: str) -> Treatment:
    """A treatment by name. Raises ConfigError when there is none."""
    found = treatments().get(name)
    if found is None:
        raise ConfigError(f"there is no treatment called {name!r}", mend=right_name(name, names()))
    return found


def proposed(form: Form, place: FormSection | None = None) -> Treatment:
    """What suits a section where the chart says nothing: of the treatments all of whose wishes are met, the choosiest.

    A treatment wishes for a place of the form, a metre, a feel, a tempo; one without wishes is never proposed. Where
    nothing fits, the bass walks.
    """
    fitting = [(choosiness, one) for one in treatments().values() if (choosiness := _fits(one, form, place))]
    return max(fitting, key=lambda fit: fit[0])[1] if fitting else treatments()["walking"]


def _fits(one: Treatment, form: Form, place: FormSection | None) -> int:
    """How choosy a treatment is, if all of its wishes are met; 0 otherwise: place before metre, feel and tempo."""
    met = {
        8: not one.where or ("bridge" in one.where and place is not None and is_bridge(form, place)),
        4: not one.metre or str(form.metre) in one.metre,
        2: not one.feel or form.feel in one.feel,
        1: one.tempo is None or one.tempo[0] <= form.tempo < one.tempo[1],
    }
    wishes = {8: one.where, 4: one.metre, 2: one.feel, 1: one.tempo}
    return sum(weight for weight, wish in wishes.items() if wish) if all(met.values()) else 0


def is_bridge(form: Form, place: FormSection) -> bool:
    """Whether a section is the form's bridge, as the B of A A B A is (common practice); A1 and A2 are both A."""
    letters = [section.name.rstrip("0123456789'") for section in form.sections]
    if place not in form.sections:
        return False
    n = form.sections.index(place)
    before = letters[:n]
    return letters.count(letters[n]) == 1 and any(before.count(a) > 1 and a in letters[n + 1 :] for a in before)
