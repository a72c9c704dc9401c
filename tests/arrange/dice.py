"""Dice that fall as they are told, for worked examples in which chance has a part."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any


class Thrown(random.Random):
    """Dice that always show the same share: so far between two numbers; of a spread the mean, of several the first."""

    def __init__(self, fallen: float = 0.0):
        super().__init__(0)
        self.fallen = fallen

    def random(self) -> float:
        return self.fallen

    def uniform(self, a: float, b: float) -> float:
        return a + (b - a) * self.fallen

    def gauss(self, mu: float = 0.0, sigma: float = 1.0) -> float:
        return mu

    def choice(self, seq: Sequence[Any]) -> Any:
        return seq[0]
