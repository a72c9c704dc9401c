"""MusicXML's harmonies as chord symbols (MusicXML 4.0: harmony, numeral, degree, bass, inversion)."""

from __future__ import annotations

from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.musicxml.harmony import read_harmony
from companion.errors import ChartError, ChordError


def symbol(inside: str, fifths: int = 0, *, minor: bool = False) -> str | None:
    chord = read_harmony(fromstring(f"<harmony>{inside}</harmony>"), fifths, minor)
    return None if chord is None else chord.symbol


def tone(what: str, step: str, alter: str = "0") -> str:
    return f"<{what}><{what}-step>{step}</{what}-step><{what}-alter>{alter}</{what}-alter></{what}>"


C = tone("root", "C")
SEVENTH = f"{C}<kind>dominant</kind>"


@pytest.mark.parametrize(
    ("inside", "found"),
    [
        (f"{C}<kind>major</kind>", "C"), (C, "C"), (f"{C}<kind> minor-seventh </kind>", "Cm7"),
        (tone("root", "e", "-1") + "<kind>dominant</kind>", "Eb7"),
        (tone("root", "F", "1.0") + "<kind>minor</kind>", "F#m"),
        (tone("root", "B", "-2") + "<kind>major</kind>", "Bbb"), (tone("root", "F", "2") + "<kind>major</kind>", "F##"),
        ("<root><root-step>D</root-step></root><kind>minor</kind>", "Dm"),
        ("<kind>none</kind>", "N.C."), ("<function>V</function><kind>dominant</kind>", None),
        (f"{SEVENTH}{tone('bass', 'B', '-1')}", "C7/Bb"),
        (f'{C}<kind text="m7b5">strange</kind>', "Cm7b5"),
        (f'{C}<kind text="7">strange</kind>{tone("bass", "G")}', "C7/G"),
        (f"{C}<kind>m6</kind>", "Cm6"),
    ],
)  # fmt: skip
def test_root_kind_and_bass(inside: str, found: str | None) -> None:
    assert symbol(inside) == found


@pytest.mark.parametrize(
    ("number", "found"),
    [("0", "C7"), ("1", "C7/E"), ("2", "C7/G"), ("3", "C7/Bb"), ("4", "C7"), ("x", "C7"), ("-1", "C7"), ("01", "C7/E")],
)
def test_an_inversion_names_the_bass_where_none_is_written(number: str, found: str) -> None:
    """MusicXML 4.0, inversion: 0 is root position, 1 the first inversion."""
    assert symbol(f"{SEVENTH}<inversion>{number}</inversion>") == found
    assert symbol(f"{SEVENTH}<inversion>{number}</inversion>{tone('bass', 'D')}") == "C7/D"


@pytest.mark.parametrize(
    ("minor", "roots"),
    [(False, "Eb F G Ab Bb C D"), (True, "C D Eb F G Ab Bb")],
)
def test_a_numeral_is_a_degree_of_the_key(minor: bool, roots: str) -> None:
    """Common practice: the degrees of the major and the natural minor scale; here under three flats."""
    found = [
        symbol(f"<numeral><numeral-root>{n}</numeral-root></numeral><kind>major</kind>", -3, minor=minor)
        for n in range(1, 8)
    ]
    assert found == roots.split()


def test_a_numeral_may_be_altered_and_have_a_key_of_its_own() -> None:
    altered = "<numeral><numeral-root>2</numeral-root><numeral-alter>-1</numeral-alter></numeral><kind>major</kind>"
    assert symbol(altered, 1) == "Ab"
    of_its_own = "<numeral-key><numeral-fifths>2</numeral-fifths><numeral-mode>{}</numeral-mode></numeral-key>"
    third = "<numeral><numeral-root>3</numeral-root>{}</numeral><kind>minor</kind>"
    assert symbol(third.format(of_its_own.format("major"))) == "F#m"
    assert symbol(third.format(of_its_own.format("natural minor"))) == "Dm"
    with pytest.raises(ChordError, match="a chord's numeral is '8'"):
        symbol("<numeral><numeral-root>8</numeral-root></numeral>")


def degree(value: object, alter: object, how: str) -> str:
    return (
        f"<degree><degree-value>{value}</degree-value><degree-alter>{alter}</degree-alter>"
        f"<degree-type>{how}</degree-type></degree>"
    )


@pytest.mark.parametrize(
    ("degrees", "found"),
    [
        (degree(9, -1, "add"), "C7b9"), (degree(9, 1, "add") + degree(13, -1, "add"), "C7(#9,b13)"),
        (degree(5, 1, "alter"), "C7#5"), (degree(13, 0, "add"), "C7(13)"), (degree(1, 0, "subtract"), "C7(no1)"),
        (degree(9, 2, "add"), "C7##9"), (degree(9, -2, "add"), "C7bb9"),
        ("<degree><degree-value>11</degree-value><degree-type>add</degree-type></degree>", "C7(11)"),
    ],
)  # fmt: skip
def test_degrees_are_added_and_altered(degrees: str, found: str) -> None:
    assert symbol(SEVENTH + degrees) == found


@pytest.mark.parametrize(
    ("inside", "line"),
    [
        (SEVENTH + degree(14, 0, "add"), "a chord's degree is 'add' 14 altered by 0"),
        (SEVENTH + degree(0, 0, "add"), "a chord's degree is 'add' 0 altered by 0"),
        (SEVENTH + degree(9, 3, "add"), "a chord's degree is 'add' 9 altered by 3"),
        (SEVENTH + degree(9, -3, "add"), "a chord's degree is 'add' 9 altered by -3"),
        (SEVENTH + degree(9, 0, "swap"), "a chord's degree is '9' altered by '0'"),
        (SEVENTH + degree("x", 0, "add"), "a chord's degree is 'x' altered by '0'"),
        (tone("root", "H"), "a chord's root is 'H' altered by 0"),
        (tone("root", "C", "3"), "a chord's root is 'C' altered"),
        (tone("root", "C", "-3"), "a chord's root is 'C' altered by -3"),
        (SEVENTH + tone("bass", "X"), "a chord's bass is 'X'"), (f"{C}<kind>purple</kind>", "C with kind 'purple'"),
    ],
)  # fmt: skip
def test_what_is_no_chord_is_said(inside: str, line: str) -> None:
    with pytest.raises(ChordError) as error:
        symbol(inside)
    assert str(error.value).startswith(line)


def test_an_alteration_that_is_no_number_is_a_fault_of_the_sheet() -> None:
    for alter in ("flat", "inf", "nan"):
        with pytest.raises(ChartError, match=f"<root-alter> should be a number, not '{alter}'"):
            symbol(tone("root", "C", alter))
