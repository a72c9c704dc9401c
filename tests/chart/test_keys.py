"""Keys and their signatures (common practice: the circle of fifths)."""

from __future__ import annotations

import pytest

from companion.chart.keys import read_key, write_key
from companion.errors import ChartError

SHARPS = ["C", "G", "D", "A", "E", "B", "F#", "C#"]
FLATS = ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb"]
RELATIVE = {"C": "A", "G": "E", "F": "D", "Eb": "C", "A": "F#", "Db": "Bb"}


def test_sharps_and_flats_come_round_the_circle_of_fifths() -> None:
    for count, (sharp, flat) in enumerate(zip(SHARPS, FLATS, strict=True)):
        assert read_key(sharp) == (count, False)
        assert read_key(f"{flat} major") == (-count, False)


def test_a_minor_key_has_the_signature_of_its_relative_major() -> None:
    for major, minor in RELATIVE.items():
        assert read_key(f"{minor} minor") == (read_key(major)[0], True) == read_key(f"{minor}m")


@pytest.mark.parametrize("fifths", range(-7, 8))
@pytest.mark.parametrize("minor", [False, True])
def test_a_key_that_is_written_reads_back(fifths: int, minor: bool) -> None:
    assert read_key(write_key(fifths, minor)) == (fifths, minor)


@pytest.mark.parametrize("text", ["", "H", "C dorian", "G# major", "minor", "CM7", "Fb"])
def test_what_is_no_key_is_refused(text: str) -> None:
    with pytest.raises(ChartError, match="is not a key"):
        read_key(text)
