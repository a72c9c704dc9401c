"""A chart's TOML, key by key: what may stand there, to its limits, and the line that is said of anything else."""

# ruff: noqa: E501 (messages stand whole in the tables)

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.model import Chart, Event
from companion.chart.toml.read import (
    MOST_BYTES,
    MOST_PLACES,
    check_not_newer,
    check_tempo,
    parse_toml,
    read_table,
    read_text,
    read_toml,
    unit_of,
)
from companion.errors import ChartError
from companion.music.meter import Metre

SECTION = '[section.A]\nchords = "| C | F |"\n'


def top(line: str) -> Chart:
    return parse_toml(f"format = 1\n{line}\n{SECTION}")


def fault(text: str) -> str:
    with pytest.raises(ChartError) as error:
        parse_toml(text)
    return str(error.value)


def test_what_a_chart_leaves_out_is_the_usual() -> None:
    chart = top("")
    assert (chart.title, chart.composer, chart.fifths, chart.minor) == ("Untitled", None, 0, False)
    assert (str(chart.metre), chart.tempo, chart.feel, chart.form) == ("4/4", 120.0, "swing", ("A",))
    assert (chart.events, chart.written, chart.source) == ((), (), None)
    assert top('metre = "6/8"').feel == "straight"
    assert top('order = [{ play = "head" }]').events == (Event("head", 1, None, None, None),)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("tempo = 20", None), ("tempo = 400", None), ("tempo = 132.5", None),
        ("tempo = 19.9", "tempo: 19.9 is no tempo; give quarters a minute, from 20 to 400"),
        ("tempo = 401", "tempo: 401 is no tempo"), ("tempo = true", "tempo: True is no tempo"),
        ('metre = "32/4"', None), ('metre = "33/4"', "metre: '33/4' has too many beats"),
        ('unit = "1/1"', None), ('unit = "1/32"', None), ('unit = "1/64"', "unit: '1/64' is no length of a plain note"),
        ("title = 3", "title: title should be a text in quotes, not 3"),
        (f'title = [{", ".join("1" * 13)}]', f"title: title should be a text in quotes, not [{', '.join('1' * 13)}]"),
        (f'title = ["{"x" * 37}"]', f"title: title should be a text in quotes, not ['{'x' * 35}..."),
        (f'title = ["{"x" * 36}"]', f"title: title should be a text in quotes, not ['{'x' * 36}']"),
        ('form = "A A"', None), ('form = ["A", "A"]', None),
        ('form = ["A", 1]', "form: form should name sections in the order of playing; as in"),
        ("form = []", "form: names no section; write it like"), ('form = "a"', "form: there is no section 'a'"),
        (f'form = "{"A " * MOST_PLACES}"', None),
        (f'form = "{"A " * (MOST_PLACES + 1)}"', "form: has more than 1000 places"),
        ('feeling = "swing"', "the chart: 'feeling' has no meaning here; did you mean feel?"),
        ('x = "swing"', "the chart: 'x' has no meaning here; it may hold format, title"),
        ('order = [{ play = "head", choruses = 100 }]', None),
        ('order = [{ play = "head", choruses = 101 }]', "order, event 1: choruses should be a whole number from 1 to 100"),
        ('order = [{ play = "head", choruses = true }]', "order, event 1: choruses should be a whole number"),
        ('order = [{ play = "introduction", bars = 64 }]', None), ('order = [{ play = "head", bars = 1 }]', None),
        ('order = [{ play = "head" }, { play = "ending", bars = 65 }]', "order, event 2: bars should be a whole number"),
        ("order = [1]", "order: should be a list of events"),
        ('order = [{ play = "head", chorus = 2 }]', "order, event 1: 'chorus' has no meaning here; did you mean choruses?"),
        ('order = [{ play = "head", how = 2 }]', "order, event 1: how should be a text in quotes, not 2"),
        ("arrangement = 3", "arrangement: should be a table for each place of the form"),
    ],
)  # fmt: skip
def test_the_top_of_a_chart(line: str, said: str | None) -> None:
    if said is None:
        assert top(line).sections
        return
    assert fault(f"format = 1\n{line}\n{SECTION}").startswith(said)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("format = 0", "format: 0 is no format; write format = 1"), ("format = true", "format: True is no format"),
        ("format = 1.0", "format: 1.0 is no format"),
        ("format = 2", "is of format 2, newer than this companion reads (1)"),
        ("", "says no format; write format = 1 in its first line"),
        ("a = " + "[" * 3000, "brackets lie too deep in each other; take them out"),
        ("a = " + "1" * 5000, "isn't TOML: "), ("a = ]", "line 1, column 5: isn't TOML: invalid value"),
        ("a = [", "end of document: isn't TOML: "), ("\n" + "a." * 50 + "a = 1", "line 2: holds a key of more parts"),
    ],
)  # fmt: skip
def test_a_table_of_a_format_that_is_ours(line: str, said: str) -> None:
    assert fault(line).startswith(said)
    assert read_table("format = 3", 3) == {"format": 3}
    with pytest.raises(ChartError, match=r"newer than this companion reads \(3\)"):
        read_table("format = 4", 3)
    assert read_table("format = 1\n" + "a." * 49 + "a = 1")


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ("[section]", "has no section; begin one with [section.A]"), ("section = 1", "has no section"),
        ("[section]\nA = 1", "has no section"), ("", "has no section"),
        ("[section.A]", "section A: has neither chords nor"),
        ('[section." "]\nchords = "| C |"', "section : a section without a name"),
        ('[section."a\\u0007"]\nchords = "| C |"', "section a"),
        ('[section.A]\nchord = "| C |"', "section A, its table: 'chord' has no meaning here; did you mean chords?"),
        ('[section.A]\nmelody = ""', "section A: has no bar"),
        ('[section.A]\nchords = ""', "section A: there is no bar of chords"),
        ("[section.A]\nchords = 1", "section A, chords: chords should be a text"),
        (f'{SECTION}melody = "| c8 | d4 | e8 |"\nbar_metres = {{ 2 = "2/4" }}', "section A: the melody has 3 bars, the chords have 2"),
        ('[section.A]\nchords = "| C |"\nbar_metres = 3', "section A, bar_metres: should name bars and their metres"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 2 = "2/4" }', "section A, bar_metres: there is no bar 2"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 0 = "2/4" }', "section A, bar_metres: there is no bar 0"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { x = "2/4" }', "section A, bar_metres: there is no bar x"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 1 = "0/4" }', "section A, bar_metres, bar 1: '0/4' is no metre"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 1 = "2/0" }', "section A, bar_metres, bar 1: '2/0' is no metre"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 1 = "65/4" }', "section A, bar_metres, bar 1: '65/4' is no metre"),
        ('[section.A]\nchords = "| C |"\nbar_metres = { 1 = 2 }', "section A, bar_metres, bar 1: '2' is no metre"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_section(section: str, said: str) -> None:
    assert fault(f"format = 1\n{section}\n").replace("\\x07", "").startswith(said)


@pytest.mark.parametrize(
    ("metres", "bars"),
    [('{ 1 = "2/4" }', (2, 4)), ('{ 2 = "64/4" }', (4, 64)), ('{ 1 = "1/3", 2 = "7/8" }', (Fraction(4, 3), 3.5))],
)
def test_bars_may_have_metres_of_their_own(metres: str, bars: tuple[Fraction, ...]) -> None:
    assert parse_toml(f"format = 1\n{SECTION}bar_metres = {metres}").sections[0].bars == bars
    alone = parse_toml(f'format = 1\n[section.A]\nmelody = "| Z | Z |"\nbar_metres = {metres}').sections[0]
    assert alone.bars == bars and alone.chords == ()


@pytest.mark.parametrize(("bars", "fine"), [(2000, True), (2001, False)])
@pytest.mark.parametrize(("name", "bar"), [("chords", "C | "), ("melody", "Z | ")])
def test_a_section_has_two_thousand_bars_at_most(bars: int, fine: bool, name: str, bar: str) -> None:
    text = f'format = 1\n[section.A]\n{name} = "| {bar * bars}"'
    if fine:
        assert len(parse_toml(text).sections[0].bars) == bars
    else:
        assert fault(text) == "section A: has more than 2000 bars; look for bar lines that aren't meant"


def test_a_thousand_sections_are_read_and_no_more() -> None:
    def sections(count: int) -> str:
        return "format = 1\n" + "".join(f'[section.s{k}]\nchords = "| C |"\n' for k in range(count))

    assert len(parse_toml(sections(1000)).sections) == 1000
    assert fault(sections(1001)) == "has more than 1000 sections"


def test_faults_are_told_in_the_order_of_the_bars_and_the_rest_is_read() -> None:
    text = 'format = 1\n[section.A]\nchords = "| C | H | F | H |"\nmelody = "| c9 | d8 | e9 | f8 |"'
    faults: list[ChartError] = []
    chart = parse_toml(text, faults.append)
    assert [error.where for error in faults] == [f"section A, bar {k}" for k in (1, 2, 3, 4)]
    assert [str(note.pitch)[0] for note in chart.sections[0].melody] == ["D", "F"]
    lost: list[ChartError] = []
    chart = parse_toml('format = 1\n[section.A]\nx = 1\n[section.B]\nchords = "| C |"', lost.append)
    assert [error.where for error in lost] == ["section A, its table"] and chart.sections[0].bars == (4,)


@pytest.mark.parametrize(
    ("text", "metre", "unit"),
    [(None, "4/4", "1/2"), (None, "3/4", "1/2"), (None, "2/4", "1/4"), ("1/1", "4/4", "4"), ("1/16", "4/4", "1/4")],
)
def test_a_plain_note_is_as_the_chart_says_or_as_is_usual_in_the_metre(text: str | None, metre: str, unit: str) -> None:
    beats, _, kind = metre.partition("/")
    assert unit_of(text, Metre(int(beats), int(kind))) == Fraction(unit)


def test_a_tempo_is_refused_as_it_was_given() -> None:
    check_tempo(20), check_tempo(400)
    for tempo, said in ((19.5, "19.5 is no tempo"), (500.0, "500 is no tempo"), (400.5, "400.5 is no tempo")):
        with pytest.raises(ChartError, match=said):
            check_tempo(tempo)


def test_a_file_is_read_with_its_name_up_to_a_megabyte(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    text = f"format = 1\n{SECTION}"
    path.write_text("\ufeff" + text, encoding="utf-8")
    assert read_toml(path).source == str(path) and read_text(path) == text
    path.write_text(text + "#" * (MOST_BYTES - len(text)))
    assert read_toml(path).form == ("A",) and MOST_BYTES == 1024 * 1024
    path.write_text(text + "#" * (MOST_BYTES - len(text) + 1))
    with pytest.raises(ChartError, match="is larger than 1 MB, too large for a chart"):
        read_toml(path)
    path.write_bytes(b"a\nb\n\xff")
    with pytest.raises(ChartError, match=r"tune\.toml: line 3: is not UTF-8 text; save it as UTF-8"):
        read_toml(path)


def test_a_file_of_a_newer_format_is_not_replaced_and_any_other_may_be(tmp_path: Path) -> None:
    path = tmp_path / "tune.toml"
    check_not_newer(path)
    for text in ("format = 1", "format = 'x'", "no chart", "a = " + "[" * 3000, ""):
        path.write_text(text)
        check_not_newer(path)
    path.write_text("format = 2")
    with pytest.raises(ChartError, match=r"tune\.toml: is of format 2, newer than this companion reads \(1\)"):
        check_not_newer(path)
