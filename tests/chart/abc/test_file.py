"""Books of tunes in ABC: which tunes there are, their headers, texts and encodings (The ABC Music Standard 2.1)."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.abc.file import MOST_BYTES, MOST_NAMED, MOST_SIGNS, MOST_TUNES, AbcTune, read_tune, text
from companion.errors import ChartError


def tune(data: str | bytes, tmp_path: Path, number: int | None = None) -> AbcTune:
    path = tmp_path / "book.abc"
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_tune(path, number)


def lines(found: AbcTune) -> tuple[list[str], list[str]]:
    """Header and body, each line with its field."""
    header, body = ([f"{line.field}:{line.text}" for line in some] for some in (found.header, found.body))
    return header, body


def test_a_tune_is_its_fields_up_to_the_key_and_what_follows_with_those_of_the_file_first(tmp_path: Path) -> None:
    top = "%abc-2.1\nM:3/4\n%%newpage\n\nX: 12\nT:\nT:Lid\n K :C % in C\n"
    found = tune(f"{top}% a remark\nCDE|\n%%text on\nI:linebreak !\nV:1\n", tmp_path)
    assert (found.reference, found.title) == ("12", "Lid")
    assert lines(found) == (
        ["M:3/4", "%:newpage", "X:12", "T:", "T:Lid", "K:C"], [":CDE|", "%:text on", "%:linebreak !", "V:1", ":"],
    )  # fmt: skip


def test_a_tune_without_a_number_begins_with_its_title_or_key_after_a_blank_line(tmp_path: Path) -> None:
    assert lines(tune("T:Lid\nK:C\nCDE|", tmp_path)) == (["T:Lid", "K:C"], [":CDE|"])
    assert tune("K:C\nCDE|", tmp_path).reference == "1"
    assert lines(tune("M:3/4\nT:Lid\n\nT:Pan\nK:C\nCDE|", tmp_path))[0] == ["M:3/4", "T:Lid", "T:Pan", "K:C"]
    assert lines(tune("A word first\nT:Lid\n\nT:Pan\nK:C\nCDE|", tmp_path))[0] == ["T:Lid", "T:Pan", "K:C"]
    assert lines(tune("N:\nT:Lid\n\nT:Pan\nK:C\nCDE|", tmp_path))[0] == ["N:", "T:Lid", "T:Pan", "K:C"]


def test_without_a_key_the_notes_begin_where_the_fields_end(tmp_path: Path) -> None:
    assert lines(tune("X:1\nT:Lid\nCDE|\nM:4/4\nC4|", tmp_path)) == (["X:1", "T:Lid"], [":CDE|", "M:4/4", ":C4|"])
    with pytest.raises(ChartError, match="holds no tune; a tune in ABC begins with X:"):
        tune("X:1\nT:Lid\n", tmp_path)
    with pytest.raises(ChartError, match="holds no tune"):
        tune("", tmp_path)


def test_a_field_goes_on_with_a_plus_and_remarks_between_them_are_passed_over(tmp_path: Path) -> None:
    found = tune("X:1\nH:One\n% no\n+:two\n+:three\nK:C\nC4|\n+:no\n", tmp_path)
    assert lines(found) == (["X:1", "H:One two three", "K:C"], [":C4|", "+:no", ":"])
    assert lines(tune("X:1\nH:One\n+:two\nK:C\nC4|", tmp_path))[0] == ["X:1", "H:One two", "K:C"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_end_as_they_do_anywhere(tmp_path: Path, end: str) -> None:
    assert lines(tune(f"X:1{end}K:C{end}CDE|", tmp_path)) == (["X:1", "K:C"], [":CDE|"])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16-le", "utf-16-be", "latin-1"])
def test_a_file_is_utf_8_or_what_its_mark_says_or_latin_1(tmp_path: Path, encoding: str) -> None:
    mark = "\ufeff" if encoding.startswith("utf-16") else ""
    assert tune(f"{mark}X:1\nT:Été\nK:C\nC4|".encode(encoding), tmp_path).title == "Été"


def book(*numbers: object) -> str:
    return "\n".join(f"X:{number}\nT:Tune {k}\nK:C\nC4|\n" for k, number in enumerate(numbers, 1))


def test_a_tune_of_a_book_is_taken_by_its_number_or_its_place_where_numbers_are_given_twice(tmp_path: Path) -> None:
    assert [tune(book(7, "0011x"), tmp_path, number).title for number in (7, 11)] == ["Tune 1", "Tune 2"]
    assert tune(book(3, 3, 8), tmp_path, 2).title == "Tune 2"
    with pytest.raises(ChartError, match="holds no tune 8, but 1 'Tune 1', 2 'Tune 2', 3 'Tune 3'; name one of them"):
        tune(book(3, 3, 8), tmp_path, 8)
    assert tune(book(7), tmp_path).title == "Tune 1"
    assert tune(book("1234567890"), tmp_path).reference == "123456789", "nine digits count"
    assert tune("X:1\nK:C\nC4|\n\nX:2\nT:no music\nK:C\n", tmp_path).reference == "1"


@pytest.mark.parametrize(
    ("count", "named"),
    [(2, "2 'Tune 2';"), (MOST_NAMED, "8 'Tune 8';"), (MOST_NAMED + 1, "8 'Tune 8' and 1 more;")],
)
def test_of_several_tunes_the_first_are_named_to_choose_from(tmp_path: Path, count: int, named: str) -> None:
    with pytest.raises(ChartError, match=f"holds {count} tunes: 1 'Tune 1', .*{named} chart import --tune N takes one"):
        tune(book(*range(1, count + 1)), tmp_path)
    with pytest.raises(ChartError, match="holds 2 tunes: 1, 2;"):
        tune("X:1\nK:C\nC4|\n\nX:2\nK:C\nC4|", tmp_path)


def test_a_tune_has_so_many_signs_at_most(tmp_path: Path) -> None:
    assert (MOST_SIGNS, MOST_BYTES, MOST_TUNES) == (100_000, 4 * 1024 * 1024, 10_000)
    body = "C" * 49_999 + "\n" + "C" * 50_001
    assert tune(f"X:1\nK:C\n{body}", tmp_path)
    with pytest.raises(ChartError, match="has more than 100000 signs, too many for a tune; leave out what isn't"):
        tune(f"X:1\nK:C\n{body}C", tmp_path)


@pytest.mark.parametrize(
    ("raw", "meant"),
    [
        (r"\`a \'e \^i \~n \"o \oa \cc \vs \ug", "à é î ñ ö å ç š ğ"),
        (r"\/O \/o \AE \ae \OE \oe \ss \aa", "Ø ø Æ æ Œ œ ß å"),
        ("&eacute; &amp; AT&amp;T", "é & AT&T"), (r"5\% \& more", "5% & more"), (r"\u00e9 \U0001F3B9", "é 🎹"),
        (r"\ud7ff \ud800 \udfff \ue000", "\ud7ff ? ? \ue000"), (r"\U0010FFFF \U00110000", "\U0010ffff ?"),
        ("  two \t spoons ", "two spoons"),
    ],
)  # fmt: skip
def test_section_8_2_accents_entities_and_numbers_of_signs(raw: str, meant: str) -> None:
    assert text(raw) == meant
