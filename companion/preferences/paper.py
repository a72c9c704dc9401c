"""``paper.toml``: the paper that pages are printed on, and how large the music is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from companion.messages import PaperSize
from companion.preferences.reading import config

StaffHeight = Annotated[float, Meta(ge=4, le=12, description="millimetres")]


@dataclass(frozen=True)
class StaffSizes:
    """Height of a staff, at least and at most."""

    piano: tuple[StaffHeight, StaffHeight]
    """Each of the two staves of both hands."""
    single: tuple[StaffHeight, StaffHeight]
    """One staff alone."""

    def __post_init__(self) -> None:
        if self.piano[0] > self.piano[1] or self.single[0] > self.single[1]:
            raise ValueError("the first of two heights is the smaller one")


@config("paper")
@dataclass(frozen=True)
class PaperPreferences:
    """What pages are printed on."""

    size: PaperSize
    staff: StaffSizes
