"""Paper: its size, and how large music stands on it.

Conventions: millimetres; upright. Sources: ISO 216 (A4); ANSI/ASME Y14.1 (letter, 8.5 by 11 inches).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.preferences.paper import PaperPreferences

MARGIN_MM = 12.0
"""At the left and the right."""
TOP_MM = 13.0
"""From the edge of a page to its music; on the first one the header's height."""
BOTTOM_MM = 12.0
_STEP_MM = 0.2
"""Between the sizes of staff that are tried."""
_UNITS = 4
"""Units of the outer frame of a page in a millimetre."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, upright."""

    width: float
    height: float

    @property
    def units_wide(self) -> float:
        """Width in units of the outer frame of a page, a quarter of a millimetre."""
        return self.width * _UNITS

    @property
    def units_high(self) -> float:
        """Height in units of the outer frame of a page."""
        return self.height * _UNITS


PAPERS = {"a4": Paper(210.0, 297.0), "letter": Paper(215.9, 279.4)}


def staff_sizes(likes: PaperPreferences, staves: Sequence[int]) -> list[float]:
    """Heights of a staff to try, from the largest to the smallest."""
    least, most = likes.staff.piano if len(staves) > 1 else likes.staff.single
    steps = int((most - least) / _STEP_MM + 1e-6)
    sizes = [most - k * _STEP_MM for k in range(steps + 1)]
    return sizes if sizes[-1] - least < 1e-6 else [*sizes, least]
