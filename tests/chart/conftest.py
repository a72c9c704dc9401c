"""Small MusicXML scores, written out as a program would write them."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

DIVISIONS = 12
"""To the quarter: enough for triplets and sixteenths."""


class Ink:
    """Writes MusicXML elements."""

    def note(self, name: str, length: float | Fraction = 1, *inside: str, ties: str = "") -> str:
        """'Bb4', its length in quarters; ``ties`` holds 'start', 'stop' or both."""
        step, alter, octave = name[0], name[1:-1].count("#") - name[1:-1].count("b"), name[-1]
        tied = "".join(f'<tie type="{tie}"/>' for tie in ties.split())
        return (
            f"<note>{''.join(inside)}<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
            f"<duration>{int(length * DIVISIONS)}</duration>{tied}<voice>1</voice></note>"
        )

    def rest(self, length: float | Fraction = 1) -> str:
        return f"<note><rest/><duration>{int(length * DIVISIONS)}</duration><voice>1</voice></note>"

    def grace(self, name: str) -> str:
        return f"<note><grace/><pitch><step>{name[0]}</step><octave>{name[-1]}</octave></pitch><voice>1</voice></note>"

    def chord(self, root: str, kind: str = "major", *inside: str, text: str = "") -> str:
        alter = root[1:].count("#") - root[1:].count("b")
        printed = f' text="{text}"' if text else ""
        return (
            f"<harmony><root><root-step>{root[0]}</root-step><root-alter>{alter}</root-alter></root>"
            f"<kind{printed}>{kind}</kind>{''.join(inside)}</harmony>"
        )

    def words(self, text: str, attributes: str = "") -> str:
        return f"<direction><direction-type><words{attributes}>{text}</words></direction-type></direction>"

    def sign(self, element: str) -> str:
        return f"<direction><direction-type>{element}</direction-type></direction>"

    def left(self, *inside: str) -> str:
        return f'<barline location="left">{"".join(inside)}</barline>'

    def right(self, *inside: str) -> str:
        return f'<barline location="right">{"".join(inside)}</barline>'

    @property
    def repeat(self) -> str:
        return '<repeat direction="forward"/>'

    @property
    def back(self) -> str:
        return '<repeat direction="backward"/>'

    @property
    def double(self) -> str:
        return "<bar-style>light-light</bar-style>"

    def ending(self, number: str, kind: str) -> str:
        return f'<ending number="{number}" type="{kind}"/>'

    def attributes(self, time: str | None = "4/4", fifths: int | None = 0, mode: str = "major") -> str:
        key = f"<key><fifths>{fifths}</fifths><mode>{mode}</mode></key>" if fifths is not None else ""
        beats, _, kind = (time or "").partition("/")
        metre = f"<time><beats>{beats}</beats><beat-type>{kind}</beat-type></time>" if time else ""
        return f"<attributes><divisions>{DIVISIONS}</divisions>{key}{metre}</attributes>"

    def score(self, bars: list[str], attributes: str | None = None, head: str = "") -> str:
        first = self.attributes() if attributes is None else attributes
        measures = "".join(
            f'<measure number="{k}">{first if k == 1 else ""}{bar}</measure>' for k, bar in enumerate(bars, 1)
        )
        return (
            '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">'
            f'{head}<part-list><score-part id="P1"><part-name>Melody</part-name></score-part></part-list>'
            f'<part id="P1">{measures}</part></score-partwise>'
        )


@pytest.fixture
def ink() -> Ink:
    return Ink()


@pytest.fixture
def written(tmp_path: Path, ink: Ink) -> Callable[..., Path]:
    """Writes a score's bars to a file, and gives its path."""

    def write(bars: list[str], attributes: str | None = None, head: str = "") -> Path:
        path = tmp_path / "sheet.musicxml"
        path.write_text(ink.score(bars, attributes, head), encoding="utf-8")
        return path

    return write
