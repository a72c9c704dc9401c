"""A lesson's text says which bars, and starts the drills that it means; whatever else stands in it is one line."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.model import Chart
from companion.cli.commands import build_parser
from companion.errors import LessonError, UseError
from companion.load import load
from companion.practice.lesson import (
    BarRemark,
    Lesson,
    LessonDrill,
    check_against,
    drill_command,
    fit_to_print,
    names_of_ones_own,
    read_bars,
    read_lesson,
    read_words,
    said_remark,
    unknown_here,
    write_lesson,
)
from companion.resources import chart_path

HEAD = 'format = 1\ntitle = "Lightly"\n'
FULL = LessonDrill(
    what="the left hand alone", bars="9-12", kind="notes", you="bass", parts="melody,click", start=60.0, to=102.5,
    step=2.0, ladder="slow", rounds=12, time="patient", click="2,4", divide=2, swap=2, keys="F, Bb", each=2,
    memory=True, anywhere=True, treatment="walking", seed=7, key="Eb",
)  # fmt: skip


@pytest.fixture(scope="module")
def chart() -> Chart:
    return load(chart_path("ferry-without-lights"))


texts = st.text(max_size=40).map(str.strip)
drills = st.builds(
    LessonDrill,
    what=texts,
    section=texts,
    start=st.none() | st.floats(10, 600),
    swap=st.none() | st.integers(0, 9),
    memory=st.booleans(),
    time=st.sampled_from([None, "patient", "steady"]),
)


@given(
    st.builds(
        Lesson,
        title=texts,
        by=texts,
        remarks=st.lists(st.builds(BarRemark, texts, st.sampled_from(["", "9", "9-12"])), max_size=3).map(tuple),
        kinds=st.dictionaries(st.sampled_from(["hands", "the left hand", "é.\"'"]), drills),
    )
)
def test_what_is_written_reads_back_equal(lesson: Lesson) -> None:
    lesson = fit_to_print(lesson)
    assert read_lesson(write_lesson(lesson).encode()) == lesson


@pytest.mark.parametrize(
    ("text", "bars"),
    [("9-12", (9, 12)), ("9–12", (9, 12)), (" 9 - 12 ", (9, 12)), ("9", (9, 9)), ("1000", (1000, 1000))],
)
def test_bars_are_written_as_a_musician_writes_them(text: str, bars: tuple[int, int]) -> None:
    assert read_bars(text) == bars


@pytest.mark.parametrize("text", ["", "0", "12-9", "nine", "9-", "-9", "9-12-14", "99999", "٩"])
def test_what_names_no_bars_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="names no bars"):
        read_bars(text)


@pytest.mark.parametrize(
    ("said", "remark"),
    [
        ("9-12: keep the left hand light", BarRemark("keep the left hand light", "9-12")),
        ("9–10 :2 against 3: count", BarRemark("2 against 3: count", "9-10")),
        ("b: louder", BarRemark("louder", "17-24")),
        ("sing it first", BarRemark("sing it first")),
        ("note: sing it first", BarRemark("note: sing it first")),
    ],
)
def test_a_remark_is_about_bars_a_section_or_the_whole_tune(chart: Chart, said: str, remark: BarRemark) -> None:
    assert said_remark(said, chart) == remark


def test_a_remark_that_says_nothing_is_refused(chart: Chart) -> None:
    with pytest.raises(UseError, match="says nothing"):
        said_remark("9-12: \x07", chart)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"\xff", "line 1: is not UTF-8 text"),
        (b"format = ", "isn't TOML"),
        (b'title = "x"', "says no format"),
        (b"format = 2", "newer than this companion reads (1)"),
        (b"format = true", "is no format"),
        (b"format = 1\na = " + b"9" * 5000, "isn't TOML"),
        (b"format = 1\na = " + b"[" * 20000, "brackets"),
        (b"format = 1\n" + b"a." * 60 + b"b = 1", "more parts"),
        (b"format = 1\ntitel = 'x'", "did you mean 'title'?"),
        (b"format = 1\n'\\u001b[2J' = 1", "is no key here"),
        (b'format = 1\n"\\u001b[2J" = 1', "is no key here"),
        (b"format = 1\ntitle = 5", "is not a text"),
        (b"format = 1\ntitle = '" + b"x" * 201 + b"'", "200 letters"),
        (b"format = 1\nremarks = 'x'", "is not a list"),
        (b"format = 1\n[[remarks]]\nbars = '9-12'", "'text' is missing"),
        (b"format = 1\n[[remarks]]\ntext = 'x'\nbars = '12-9'", "'12-9' names no bars"),
        (b"format = 1\n" + b"[[remarks]]\ntext = 'x'\n" * 501, "more than 500 remarks"),
        (b"format = 1\n[kinds.a]\nfrom = 5", "from = 5 is not a number from 10 to 600"),
        (b"format = 1\n[kinds.a]\nfrom = nan", "is not a number"),
        (b"format = 1\n[kinds.a]\nfrom = 120\nto = 119", "a ladder climbs: to = 119 lies below from = 120"),
        (b"format = 1\n[kinds.a]\ntime = 'patiemt'", "did you mean 'patient'?"),
        (b"format = 1\n[kinds.a]\nrounds = 1e9", "is not"),
        (b"format = 1\n[kinds.a]\nbars = '9'\nsection = 'A'", "say one of them"),
        (b'format = 1\n[kinds."\\u202e"]\nbars = "9"', "is no name for a drill"),
        (b"format = 1\n" + b"".join(b"[kinds.n%d]\n" % n for n in range(101)), "more than 100 drills"),
    ],
)
def test_whatever_else_stands_in_it_is_one_line_that_can_be_printed(text: bytes, said: str) -> None:
    with pytest.raises(LessonError) as refused:
        read_lesson(text)
    assert said in str(refused.value)
    assert str(refused.value).isprintable()


def test_texts_are_fit_to_print() -> None:
    """No text moves the cursor, turns the line around or breaks it."""
    lesson = read_lesson((HEAD + r'by = "a\u001b[2Jb"' + '\n[[remarks]]\ntext = "c\\u202e\\nd"\n').encode())
    assert (lesson.by, lesson.remarks[0].text) == ("a[2Jb", "c d")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[remarks]]\ntext = 'a'\n[[remarks]]\nbars = '30-40'\ntext = 'b'", "remark 2: there is no bar 40"),
        ("[kinds.a]\nbars = '31-40'", "[kinds.a]: there is no bar 40"),
        ("[kinds.a]\nsection = 'Q'", "there is no section 'Q'"),
        ("[kinds.a]\nclick = '7'", "a bar has beats 1 to 4"),
        ("[kinds.a]\nkeys = 'H'", "'H' is not a key"),
        ("[kinds.a]\nkey = 'H'", "'H' is not a key"),
        ("[kinds.a]\nyou = 'drums'", "'drums' is not a part"),
        ("[kinds.a]\nyou = 'melody,solo'", "can't be played by one"),
        ("[kinds.a]\nyou = 'melody,bass'\nswap = 2", "both hands are yours"),
    ],
)
def test_what_the_chart_does_not_have_is_named_with_its_place(chart: Chart, text: str, said: str) -> None:
    with pytest.raises(LessonError) as refused:
        check_against(read_lesson((HEAD + text).encode()), chart)
    assert said in str(refused.value)


def test_every_drill_starts_by_its_command(chart: Chart) -> None:
    """The words are read by the command itself, and say what the lesson says."""
    check_against(Lesson(kinds={"a": FULL}), chart)
    args = build_parser().parse_args(shlex.split(drill_command("ferry-without-lights", FULL))[1:])
    assert (args.chart, args.bars, args.kind, args.you) == ("ferry-without-lights", (9, 12), "notes", {"bass"})
    assert (args.start, args.goal, args.step, args.rounds) == (60.0, 102.5, 2.0, 12)
    assert (args.time, args.click, args.divide, args.swap, args.keys) == ("patient", "2,4", 2, 2, "F, Bb")
    assert (args.each, args.memory, args.anywhere, args.treatment) == (2, True, True, "walking")
    assert (args.parts, args.seed, args.key, args.ladder) == (("melody", "click"), 7, "Eb", "slow")


@pytest.mark.parametrize("name", ["$(touch x)", "`x`", "A; x", "-B", "--data", "A 'B'", 'a"b', "a|b > c", "\\"])
def test_no_name_in_a_lesson_is_a_command_of_the_shell(name: str) -> None:
    words = shlex.split(drill_command("tune", LessonDrill(section=name)))
    assert build_parser().parse_args(words[1:]).section == name
    assert words[:3] == ["companion", "drill", "tune"] and len(words) in (4, 5)


def test_hands_that_are_not_to_be_swapped_are_not() -> None:
    """Though the kind of drill swaps them."""
    words = shlex.split(drill_command("ferry-without-lights", LessonDrill(kind="hands", swap=0)))
    assert build_parser().parse_args(words[1:]).swap == 0


def test_a_drill_goes_without_what_is_not_known_here() -> None:
    drill = LessonDrill(kind="my-own", ladder="mine", treatment="stilts", bars="9")
    assert (
        unknown_here(drill) == {"kind": "my-own", "ladder": "mine", "treatment": "stilts"} == names_of_ones_own(drill)
    )
    assert drill_command("tune", drill) == "companion drill tune --bars 9"
    assert not names_of_ones_own(FULL)


# As much as a lesson may hold

TEXT = "[[remarks]]\ntext = 'x'\n"


@pytest.mark.parametrize(
    ("text", "fits"),
    [
        (f"title = '{'x' * 200}'", True),
        (f"title = '{'x' * 201}'", False),
        (f"[[remarks]]\ntext = '{'x' * 2000}'", True),
        (f"[[remarks]]\ntext = '{'x' * 2001}'", False),
        (TEXT * 500, True),
        (TEXT * 501, False),
        ("".join(f"[kinds.n{n}]\n" for n in range(100)), True),
        ("".join(f"[kinds.n{n}]\n" for n in range(101)), False),
        (f"[kinds.{'n' * 60}]", True),
        (f"[kinds.{'n' * 61}]", False),
        ("[kinds.' ']", False),
        ("[kinds.a]\nfrom = 120\nto = 120", True),
        ("[kinds.a]\nseed = 0", True),
        ("[kinds.a]\nseed = -1", False),
        (f"[kinds.a]\nseed = {2**53}", True),
        (f"[kinds.a]\nseed = {2**53 + 1}", False),
    ],
)
def test_a_lesson_holds_so_much_and_no_more(text: str, fits: bool) -> None:
    data = f"format = 1\n{text}".encode()
    if fits:
        assert read_lesson(data).format == 1
    else:
        with pytest.raises(LessonError):
            read_lesson(data)


@pytest.mark.parametrize(("letters", "fits"), [(2000, True), (2001, False)])
def test_a_remark_has_two_thousand_letters_at_most(chart: Chart, letters: int, fits: bool) -> None:
    if fits:
        assert len(said_remark("9: " + "x" * letters, chart).text) == letters
    else:
        with pytest.raises(UseError, match="longer than 2000"):
            said_remark("9: " + "x" * letters, chart)


@pytest.mark.parametrize(("before", "line"), [(b"", 1), (b"format = 1\n", 2), (b"format = 1\n\ntitle = 'x'\n", 4)])
def test_a_byte_that_is_no_text_is_found_in_its_line(before: bytes, line: int) -> None:
    with pytest.raises(LessonError, match=f"line {line}: is not UTF-8 text"):
        read_lesson(before + b"\xff\n")


def test_a_file_of_words_may_have_half_a_megabyte(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    head = b"format = 1\n#"
    for size, fits in ((1 << 19, True), ((1 << 19) + 1, False)):
        file.write_bytes(head + b"x" * (size - len(head)))
        if fits:
            assert read_words(file) == Lesson()
        else:
            with pytest.raises(LessonError, match=r"words\.toml"):
                read_words(file)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("[[remarks]]\ntext = 'a'\nbars = '32'", True),
        ("[[remarks]]\ntext = 'a'\nbars = '33'", False),
        ("[[remarks]]\ntext = 'a'\nbars = '32-33'", False),
        ("[kinds.a]\nbars = '32'", True),
        ("[kinds.a]\nbars = '33'", False),
        ("[kinds.a]\nyou = 'melody,click'", False),
        ("[kinds.a]\nyou = 'solo'", True),
        ("[kinds.a]\nyou = ' Bass , chords'", True),
        ("[kinds.a]\nclick = '4'\nkey = 'Eb minor'\nkeys = 'F minor, Bb minor'", True),
    ],
)
def test_a_lesson_fits_the_chart_that_has_what_it_names(chart: Chart, text: str, found: bool) -> None:
    lesson = read_lesson((HEAD + text).encode())
    if found:
        check_against(lesson, chart)
    else:
        with pytest.raises(LessonError):
            check_against(lesson, chart)


@pytest.mark.parametrize(
    ("drill", "words"),
    [
        (LessonDrill(bars="5"), "--bars 5"),
        (LessonDrill(bars=" 5 – 8"), "--bars 5-8"),
        (LessonDrill(what="slowly", section="B"), "--section B"),
        (LessonDrill(swap=0, seed=0), "--swap 0 --seed 0"),
        (LessonDrill(start=60.0, to=62.5, step=0.5), "--from 60 --to 62.5 --step 0.5"),
        (LessonDrill(memory=True, anywhere=False), "--memory"),
        (LessonDrill(section="-B"), "--section=-B"),
    ],
)
def test_a_drills_command_says_what_is_said_and_nothing_else(drill: LessonDrill, words: str) -> None:
    assert drill_command("tune", drill) == f"companion drill tune {words}"


@pytest.mark.parametrize(
    ("drill", "rows"),
    [
        (LessonDrill(start=60.0, to=62.5, memory=True), ["from = 60", "to = 62.5", "memory = true"]),
        (LessonDrill(swap=0, bars="5"), ['bars = "5"', "swap = 0"]),
    ],
)
def test_a_drill_is_written_as_a_teacher_would(drill: LessonDrill, rows: list[str]) -> None:
    assert write_lesson(Lesson(title="x", kinds={"a": drill})).splitlines()[-len(rows) :] == rows
