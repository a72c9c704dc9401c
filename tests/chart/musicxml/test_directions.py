"""Bar lines, signs and words over the bars (MusicXML 4.0: barline, repeat, ending, direction, sound, metronome)."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import fromstring

import pytest

from companion.chart.musicxml.directions import (
    barline,
    feel_of_direction,
    metronome,
    read_signs,
    settle_codas,
    sound_marks,
)
from companion.chart.written import BarMarks, WrittenBar
from companion.errors import ChartError
from companion.music.chords import Chord

START, STOP = '<ending number="1, 2" type="start"/>', '<ending number="2" type="stop"/>'


@dataclass
class Bar:
    """A bar being read."""

    marks: BarMarks = field(default_factory=BarMarks)
    chords: list[tuple[Fraction, Chord]] = field(default_factory=list)
    words: list[tuple[Fraction, str, bool]] = field(default_factory=list)


@pytest.mark.parametrize(
    ("location", "inside", "marks"),
    [
        ("right", "<bar-style>regular</bar-style>", BarMarks()),
        ("right", "<bar-style>light-light</bar-style>", BarMarks(double_bar=True)),
        ("right", "<bar-style>light-heavy</bar-style>", BarMarks(double_bar=True)),
        ("right", "<bar-style>heavy-light</bar-style>", BarMarks(double_bar=True)),
        ("right", "<bar-style>heavy-heavy</bar-style>", BarMarks(double_bar=True)),
        ("left", "<bar-style>light-light</bar-style>", BarMarks()),
        ("left", '<repeat direction="forward"/>', BarMarks(repeat_start=True)),
        ("right", '<repeat direction="backward"/>', BarMarks(repeat_end=2)),
        ("right", '<repeat direction="backward" times="1"/>', BarMarks(repeat_end=2)),
        ("right", '<repeat direction="backward" times="3" after-jump="yes"/>',
         BarMarks(repeat_end=3, repeat_after_jump=True)),
        ("right", '<repeat direction="backward" times="16" after-jump="no"/>', BarMarks(repeat_end=16)),
        ("left", START, BarMarks(ending=(1, 2))), ("right", STOP, BarMarks(ending_stops=True)),
        ("right", '<ending number="2" type="discontinue"/>', BarMarks(ending_stops=True)),
        ("left", '<ending type="start"/>', BarMarks(ending=(1,))),
        ("left", "<segno/><coda/>", BarMarks(segno=True, coda=True)), ("left", "<segno/>", BarMarks(segno=True)),
        ("right", "<segno/><coda/>", BarMarks()),
    ],
)  # fmt: skip
def test_what_a_bar_line_says(location: str, inside: str, marks: BarMarks) -> None:
    assert barline(fromstring(f'<barline location="{location}">{inside}</barline>'), BarMarks()) == marks


def test_a_bar_line_stands_right_where_it_says_nothing_and_adds_to_what_is_known() -> None:
    known = BarMarks(segno=True, coda=True, fine=True)
    ended = barline(fromstring("<barline><bar-style> light-heavy </bar-style></barline>"), known)
    assert ended == BarMarks(segno=True, coda=True, fine=True, double_bar=True)
    assert barline(fromstring('<barline location="left"/>'), known) == known


@pytest.mark.parametrize(
    ("repeat", "line"),
    [
        ('direction="backward" times="17"', "a repeat to be played '17' times"),
        ('direction="backward" times="0"', "a repeat to be played '0' times"),
        ('direction="backward" times="x"', "a repeat to be played 'x' times"),
        ('direction="up"', "a repeat with direction 'up'"),
    ],
)
def test_a_repeat_that_makes_no_sense_is_refused(repeat: str, line: str) -> None:
    with pytest.raises(ChartError, match=line):
        barline(fromstring(f"<barline><repeat {repeat}/></barline>"), BarMarks())


@pytest.mark.parametrize(
    ("signs", "marks", "words"),
    [
        ("<rehearsal> B </rehearsal>", BarMarks(heading="B", heading_beat=Fraction(1)), []),
        ("<rehearsal> </rehearsal>", BarMarks(), []),
        ("<segno/>", BarMarks(segno=True), []), ("<coda/>", BarMarks(coda=True), []),
        ("<words>slow</words><words> down</words>", BarMarks(), [(1, "slow down", False)]),
        ("<words enclosure='square'>Q</words>", BarMarks(), [(1, "Q", True)]),
        ("<words enclosure='none'>Q</words>", BarMarks(), [(1, "Q", False)]), ("<words/>", BarMarks(), []),
        ("<words>D.S.</words><segno/>", BarMarks(), [(1, "D.S.", False)]),
        ("<words>To Coda</words><coda/>", BarMarks(), [(1, "To Coda", False)]),
        ("<words>loud</words><segno/>", BarMarks(segno=True), [(1, "loud", False)]),
    ],
)  # fmt: skip
def test_signs_over_a_bar_and_words_that_say_what_a_sign_beside_them_means(
    signs: str, marks: BarMarks, words: list[tuple[int, str, bool]]
) -> None:
    bar = Bar()
    read_signs(fromstring(f"<direction><direction-type>{signs}</direction-type></direction>"), bar, Fraction(1))
    assert (bar.marks, bar.words) == (marks, words)


@pytest.mark.parametrize(
    ("sound", "marks"),
    [
        ('segno="s"', BarMarks(segno=True)), ('coda="c"', BarMarks(coda=True)), ('tocoda="c"', BarMarks(to_coda=True)),
        ('coda="c" tocoda="c"', BarMarks(to_coda=True)), ('fine="yes"', BarMarks(fine=True)),
        ('dacapo="yes"', BarMarks(jump="capo")), ('dacapo="no"', BarMarks()), ('dalsegno="s"', BarMarks(jump="segno")),
        ("", BarMarks()),
    ],
)  # fmt: skip
def test_what_a_sound_says_of_the_order_of_playing(sound: str, marks: BarMarks) -> None:
    assert sound_marks(fromstring(f"<sound {sound}/>"), BarMarks()) == marks


@pytest.mark.parametrize(
    ("signs", "settled"),
    [
        ("..c.c", "..t.c"), ("c", "c"), (".c.t.c", ".c.t.c"), ("c.c.c", "t.t.c"), ("...", "..."), ("tcc", "tcc"),
    ],
)  # fmt: skip
def test_of_coda_signs_that_nothing_tells_apart_the_last_is_the_coda(signs: str, settled: str) -> None:
    marks = {".": BarMarks(), "c": BarMarks(coda=True), "t": BarMarks(to_coda=True)}
    bars = [WrittenBar("1", Fraction(4), Fraction(4), marks=marks[sign]) for sign in signs]
    assert [bar.marks for bar in settle_codas(bars)] == [marks[sign] for sign in settled]


@pytest.mark.parametrize(
    ("inside", "tempo"),
    [
        ("<per-minute>120</per-minute>", 120), ("<beat-unit>half</beat-unit><per-minute>60.5</per-minute>", 121),
        ("<beat-unit>eighth</beat-unit><per-minute>c. 180</per-minute>", 90),
        ("<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>80</per-minute>", 120),
        ("<beat-unit>half</beat-unit><beat-unit-dot/><per-minute>40</per-minute>", 120),
        ("<beat-unit>longa</beat-unit><per-minute>80</per-minute>", 80), ("<beat-unit>half</beat-unit>", None),
        ("<per-minute>fast</per-minute>", None), ("<per-minute>19</per-minute>", None),
    ],
)  # fmt: skip
def test_a_metronome_mark_in_quarters_a_minute(inside: str, tempo: float | None) -> None:
    mark = f"<direction><direction-type><metronome>{inside}</metronome></direction-type></direction>"
    assert metronome(fromstring(mark)) == tempo
    assert metronome(fromstring("<direction/>")) is None


@pytest.mark.parametrize(
    ("inside", "feel"),
    [
        ("<words>Medium</words><words>Swing</words>", "swing"), ("<words>slow</words>", None),
        ("<metronome><metronome-note/></metronome>", "swing"),
        ("<metronome><per-minute>9</per-minute></metronome>", None),
    ],
)  # fmt: skip
def test_a_feel_in_words_or_by_two_eighths_that_are_a_long_and_a_short(inside: str, feel: str | None) -> None:
    found = f"<direction><direction-type>{inside}</direction-type></direction>"
    assert feel_of_direction(fromstring(found)) == feel
