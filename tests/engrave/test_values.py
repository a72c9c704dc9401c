"""Note values against what engravers' handbooks ask for (Gould, Behind Bars, 2011, from memory; common practice)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.chart.musicxml.measures import TYPES
from companion.engrave.values import Head, VoiceSpan, write_bar
from companion.music.meter import Metre, parse_metre
from companion.music.pitch import Pitch
from tests.wrapping import lines, wrapped

C = (Pitch("C", 0, 5),)
LETTERS = {
    "breve": "b",
    "whole": "w",
    "half": "h",
    "quarter": "q",
    "eighth": "e",
    "16th": "s",
    "32nd": "t",
    "64th": "x",
}


def written(text: str, metre: str = "4/4") -> str:
    """A bar in a line: ``a-b`` sounds from a to b; out come values, dots, ``r`` for rests and ``~`` for ties."""
    sounding = [VoiceSpan(Fraction(a), Fraction(b), C) for a, b in (word.split("-") for word in text.split())]
    time = parse_metre(metre)
    return " ".join(map(letter, write_bar(sounding, time.bar, time)))


def letter(head: Head) -> str:
    value = LETTERS[head.value] + "." * head.dots + ("" if head.pitches else "r") + ("~" if head.tied_on else "")
    return value if not head.tuplet else f"{value}{head.tuplet.actual}"


@pytest.mark.parametrize(
    ("sounding", "metre", "values"),
    [
        ("0-4", "4/4", "w"),
        ("0-3/2 3/2-4", "4/4", "q. e~ h"),
        ("1/2-3/2 3/2-4", "4/4", "er q e~ h"),
        ("0-1 1-3 3-4", "4/4", "q h q"),
        ("0-1 1-4", "4/4", "q q~ h"),
        ("0-7/8 7/8-1", "2/4", "e.. t qr"),
        ("1-5/2", "4/4", "qr q~ e er qr"),
        ("0-7/2", "4/4", "h~ q. er"),
        ("2-4", "4/4", "hr h"),
        ("3-4", "4/4", "hr qr q"),
        ("0-3", "3/4", "h."),
        ("1/2-3", "3/4", "er e~ h"),
        ("2-3", "3/4", "qr qr q"),
        ("0-3/2 3/2-3", "6/8", "q. q."),
        ("0-1/2 1-3/2", "6/8", "e er e q.r"),
        ("1-2 2-3", "6/8", "qr e~ e q"),
        ("0-5", "5/4", "h.~ h"),
        ("0-6", "6/4", "w."),
        ("1-5", "3/2", "qr q~ h. qr"),
    ],
)
def test_the_middle_of_the_bar_and_the_beats_stay_visible(sounding: str, metre: str, values: str) -> None:
    assert written(sounding, metre) == values


def test_a_whole_bar_of_rest_is_one_rest_and_a_short_bar_says_what_it_lasts() -> None:
    (rest,) = write_bar([], Fraction(3), Metre(3, 4))
    assert (rest.whole_bar, rest.value, rest.dots) == (True, "whole", 0)
    (rest,) = write_bar([], Fraction(1), Metre(4, 4))
    assert (rest.whole_bar, rest.value) == (False, "quarter")


@pytest.mark.parametrize(
    ("sounding", "values"),
    [
        ("0-1/3 1/3-2/3 2/3-1", "e3 e3 e3 qr hr"),
        ("0-2/3 2/3-1", "q3 e3 qr hr"),
        ("0-2/3 2/3-4/3 4/3-2", "q3 q3 q3 hr"),
        ("0-4/3 4/3-8/3 8/3-4", "h3 h3 h3"),
        ("0-1/6 1/6-1/3 1/3-1/2 1/2-1", "s3 s3 s3 e qr hr"),
        ("3/2-7/3 7/3-3", "qr er e~ e3 q3 qr"),
        ("0-1/5 1/5-2/5 2/5-1", "s5 s5 e.5 qr hr"),
        ("0-3/5 3/5-1", "e.5 e5 qr hr"),
        ("0-4/5 4/5-1", "q5 s5 qr hr"),
        ("0-2/7 2/7-1", "e7 q~7 s7 qr hr"),
        ("0-5/7 5/7-1", "q~7 s7 e7 qr hr"),
        ("0-6/7 6/7-1", "q.7 s7 qr hr"),
        ("0-7/9 7/9-1", "e.~9 t9 s9 qr hr"),
        ("0-8/9 8/9-1", "q9 t9 qr hr"),
        ("0-6/13 6/13-1", "e.13 e.~13 t13 qr hr"),  # twelve parts of a half, and its last with six of the other
        ("0-8/17 8/17-1", "e17 e~17 x17 qr hr"),
        ("0-12/25 12/25-1", "e.25 e.~25 x25 qr hr"),
        ("0-12/13 12/13-1", "q.13 t13 qr hr"),
        ("0-16/17 16/17-1", "q17 x17 qr hr"),
        ("0-24/25 24/25-1", "q.25 x25 qr hr"),
        ("0-2/3 2/3-5/3 5/3-2", "q6 q.6 e6 hr"),
        ("0-1/2 1/2-5/6 5/6-7/6 7/6-3/2", "e e3 s~3 s3 e3 er hr"),  # over the beat: a tie
    ],
)
def test_triplets_stand_in_the_shortest_stretch_that_holds_them(sounding: str, values: str) -> None:
    assert written(sounding) == values


def test_quavers_are_beamed_by_the_half_bar_others_by_the_beat_and_rests_break_the_beam() -> None:
    def beams(text: str) -> list[tuple[str, ...]]:
        sounding = [VoiceSpan(Fraction(a), Fraction(b), C) for a, b in (word.split("-") for word in text.split())]
        return [head.beams for head in write_bar(sounding, Fraction(4), Metre()) if head.pitches]

    assert beams("0-1/2 1/2-1 1-3/2 3/2-2 5/2-3") == [("begin",), ("continue",), ("continue",), ("end",), ()]
    assert beams("1-3/2 3/2-2 2-5/2 5/2-3") == [("begin",), ("end",)] * 2
    assert beams("0-1/2 1/2-1 1-5/4 5/4-3/2 3/2-2")[:2] == [("begin",), ("end",)]
    assert beams("0-1/2 3/2-2") == [(), ()]
    assert beams("0-3/4 3/4-1") == [("begin",), ("end", "backward hook")]
    assert beams("0-1/4 1/4-3/4 3/4-1") == [("begin", "forward hook"), ("continue",), ("end", "backward hook")]


@pytest.mark.parametrize(("parts", "beams"), [(2, 1), (4, 2), (8, 3), (16, 4), (32, 5)])
def test_each_halving_of_a_quarter_has_a_beam_more(parts: int, beams: int) -> None:
    """Common practice: quavers have one, the 128th notes of MusicXML 4.0 five."""
    spans = [VoiceSpan(Fraction(n, parts), Fraction(n + 1, parts), C) for n in range(parts)]
    first, *_, last = write_bar(spans, Fraction(1), Metre(1, 4))
    assert (first.beams, last.beams) == (("begin",) * beams, ("end",) * beams)


def test_a_pickup_is_written_as_the_end_of_its_bar() -> None:
    sounding = [VoiceSpan(Fraction(a, 2), Fraction(b, 2), C) for a, b in ((0, 1), (1, 3))]
    heads = write_bar(sounding, Fraction(3, 2), Metre(), Fraction(5, 2))
    assert " ".join(map(letter, heads)) == "e q" and heads[0].start == 0
    heads = write_bar([VoiceSpan(Fraction(0), Fraction(1), C)], Fraction(3, 2), Metre(), Fraction(5, 2))
    assert " ".join(map(letter, heads)) == "q er"


@st.composite
def _bars(draw: st.DrawFn) -> tuple[list[VoiceSpan], Metre]:
    metre = draw(st.sampled_from([Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(5, 4), Metre(7, 8), Metre(2, 2)]))
    unit = draw(st.sampled_from([Fraction(1, 2), Fraction(1, 3), Fraction(1, 4), Fraction(1, 6)]))
    cells = int(metre.bar // unit)
    cuts = sorted(draw(st.sets(st.integers(0, cells), min_size=2)))
    kept = [pair for pair in pairwise(cuts) if draw(st.booleans())]
    return [VoiceSpan(a * unit, b * unit, C) for a, b in kept], metre


@given(_bars())
def test_what_is_written_lasts_what_it_should_and_sounds_when_it_should(bar: tuple[list[VoiceSpan], Metre]) -> None:
    sounding, metre = bar
    heads = write_bar(sounding, metre.bar, metre)
    assert heads[0].start == 0 and heads[-1].end == metre.bar
    assert all(a.end == b.start for a, b in pairwise(heads))
    for head in heads:
        if not head.whole_bar:
            share = Fraction(head.tuplet.normal, head.tuplet.actual) if head.tuplet else 1
            assert head.length == TYPES[head.value] * (2 - Fraction(1, 2**head.dots)) * share
    joined: list[list[Fraction]] = []
    tied = False
    for head in heads:
        if head.pitches and tied:
            joined[-1][1] = head.end
        elif head.pitches:
            joined.append([head.start, head.end])
        tied = head.tied_on
    assert joined == [[stretch.start, stretch.end] for stretch in sounding]


@pytest.mark.parametrize(
    ("metre", "groups"),
    [
        ("2/4", [4]),
        ("3/4", [6]),
        ("4/4", [4, 4]),
        ("5/4", [2, 2, 2, 2, 2]),
        ("6/8", [3, 3]),
        ("9/8", [3, 3, 3]),
        ("12/8", [3, 3, 3, 3]),
        ("5/8", [3, 2]),
        ("7/8", [2, 2, 3]),
        ("3/8", [3]),
    ],
)
def test_a_bar_of_quavers_is_beamed_as_its_metre_is_felt(metre: str, groups: list[int]) -> None:
    """Common practice: fives as 3 + 2 and sevens as 2 + 2 + 3 unless a chart says otherwise."""
    time = parse_metre(metre)
    count = int(time.bar * 2)
    heads = write_bar([VoiceSpan(Fraction(n, 2), Fraction(n + 1, 2), C) for n in range(count)], time.bar, time)
    wanted = [
        ("begin",) if n == 0 else ("end",) if n == size - 1 else ("continue",) for size in groups for n in range(size)
    ]
    assert [head.beams for head in heads] == wanted


@pytest.mark.parametrize(("metre", "groups"), [("5/16", [3, 2]), ("7/16", [2, 2, 3])])
def test_a_bar_of_semiquavers_of_five_and_seven_is_beamed_in_twos_and_threes(metre: str, groups: list[int]) -> None:
    time = parse_metre(metre)
    count = int(time.bar * 4)
    heads = write_bar([VoiceSpan(Fraction(n, 4), Fraction(n + 1, 4), C) for n in range(count)], time.bar, time)
    assert [head.beams[0] for head in heads].count("begin") == len(groups)
    assert [n for n, head in enumerate(heads) if head.beams[0] == "begin"] == [
        sum(groups[:k]) for k in range(len(groups))
    ]


@pytest.mark.parametrize(
    ("sounding", "metre", "values"),
    [
        ("0-7", "7/4", "w~ h."),  # 4 + 3
        ("2-4", "5/4", "qr qr h qr"),  # as in the middle of four
        ("0-2 2-4", "4/4", "h h"),
        ("0-3 3-4", "4/4", "h. q"),
        ("1-4", "4/4", "qr q~ h"),
        ("1/2-2", "4/4", "er q. hr"),
        ("1/2-5/2", "4/4", "er q.~ e er qr"),
        ("0-1/4", "4/4", "s sr er qr hr"),
        ("1/4-1/2", "4/4", "sr s er qr hr"),
        ("0-1/8", "2/4", "t tr sr er qr"),
        ("0-3/4", "4/4", "e. sr qr hr"),
        ("1/2-1", "6/8", "er e er q.r"),
        ("0-1", "6/8", "q er q.r"),
        ("0-2", "2/2", "h hr"),
        ("0-1/2", "3/4", "e er qr qr"),
        ("0-1/12 1/12-1/4", "1/16", "t3 s3"),
        ("1-13/12 13/12-5/4", "5/16", "qr t3 s3"),  # in the last semiquaver
        ("0-1 1-13/12 13/12-7/6 7/6-5/4", "5/16", "q t3 t3 t3"),
    ],
)  # fmt: skip
def test_notes_and_rests_at_the_edges_of_beats_and_bars(sounding: str, metre: str, values: str) -> None:
    assert written(sounding, metre) == values


def test_a_chord_that_is_joined_by_a_note_is_joined_where_it_begins_and_not_at_each_tie() -> None:
    both = (Pitch("C", 0, 5), Pitch("E", 0, 5))
    span = VoiceSpan(Fraction(0), Fraction(5, 2), both, tied_back=True, tied_on=True, joining=both[1:])
    first, second = write_bar([span, VoiceSpan(Fraction(5, 2), Fraction(4), C)], Fraction(4), Metre())[:2]
    assert (first.tied_back, first.tied_on, second.tied_back, second.tied_on) == (True, True, True, True)
    assert (first.held_over(both[0]), first.held_over(both[1])) == (True, False)
    assert (second.held_over(both[0]), second.held_over(both[1])) == (True, True)
    (rest,) = write_bar([VoiceSpan(Fraction(0), Fraction(4), both)], Fraction(4), Metre())
    assert not rest.tied_back and not rest.tied_on and not rest.held_over(both[0])


SPANS = [
    ("4/4", 2, """
e,q,q.,h,he,h.,hq.,w e,q,q.,q.e,q.q,q.q.,q.h e,q,qe,h,qq.,qh e,ee,eq,eq.,eh e,q,q.,h e,q,q. e,q e
""", """
e,q,qe,h,he,hq,hqe,w e,ee,eq,eqe,eqq,eqqe,eqh e,q,qe,qq,qqe,qh e,ee,eq,eqe,eh e,q,qe,h e,ee,eq e,q e
"""),
    ("3/4", 2, """
e,q,q.,h,qq.,h. e,q,q.,eq.,eh e,q,q.,h e,q,q. e,q e
""", """
e,q,qe,qq,qqe,w e,ee,eq,eqe,eqq e,q,qe,qq e,ee,eq e,q e
"""),
    ("2/4", 4, """
s,e,e.,q,qs,q.,qe.,h s,e,e.,e.s,e.e,e.e.,e.q s,e,es,q,ee.,q. s,ss,se,se.,sq s,e,e.,q s,e,e. s,e s
""", """
s,e,es,q,qs,qe,qes,w s,ss,se,ses,see,sees,seq s,e,es,ee,ees,eq s,ss,se,ses,sq s,e,es,q s,ss,se s,e s
"""),
    ("5/4", 1, """
q,h,h.,w,h.h q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,w q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("6/4", 1, """
q,h,h.,w,h.h,w. q,h,h.,w,hh. q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,qqqqq,w q,qq,qqq,qqqq,qqqqq q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("7/4", 1, """
q,h,h.,w,wq,w.,wh. q,h,h.,w,h.h,w. q,h,h.,w,hh. q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,qqqqq,qqqqqq,w q,qq,qqq,qqqq,qqqqq,qqqqqq q,qq,qqq,qqqq,qqqqq q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("8/4", 1, """
q,h,h.,w,wq,w.,wh.,b q,h,h.,w,h.h,w.,h.w q,h,h.,w,hh.,w. q,h,h.,w,qw q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,qqqqq,qqqqqq,qqqqqqq,w q,qq,qqq,qqqq,qqqqq,qqqqqq,qqqqqqq q,qq,qqq,qqqq,qqqqq,qqqqqq
q,qq,qqq,qqqq,qqqqq q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("3/2", 1, """
q,h,h.,w,hh.,w. q,h,h.,qh.,qw q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,qqqqq,w q,qq,qqq,qqqq,qqqqq q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("4/2", 1, """
q,h,h.,w,hh.,w.,hhh.,b q,h,h.,qh.,qw,qhh.,qhw q,h,h.,w,hh.,hw q,h,h.,qh.,qw q,h,h.,w q,h,h. q,h q
""", """
q,qq,qqq,qqqq,qqqqq,qqqqqq,qqqqqqq,w q,qq,qqq,qqqq,qqqqq,qqqqqq,qqqqqqq q,qq,qqq,qqqq,qqqqq,qqqqqq
q,qq,qqq,qqqq,qqqqq q,qq,qqq,qqqq q,qq,qqq q,qq q
"""),
    ("2/2", 2, """
e,q,q.,h,he,h.,hq.,w e,q,q.,q.e,q.q,q.q.,q.h e,q,qe,h,qq.,qh e,ee,eq,eq.,eh e,q,q.,h e,q,q. e,q e
""", """
e,q,qe,h,he,hq,hqe,w e,ee,eq,eqe,eqq,eqqe,eqh e,q,qe,qq,qqe,qh e,ee,eq,eqe,eh e,q,qe,h e,ee,eq e,q e
"""),
    ("6/8", 4, """
s,e,e.,q,ee.,q.,q.s,q.e,q.e.,q.q,q.ee.,h. s,e,e.,q,sq,sqs,sqe,sqe.,sqq,sqee.,sqq. s,e,e.,q,qs,qe,qe.,qq,qee.,qq.
s,e,e.,e.s,e.e,e.e.,e.q,e.ee.,e.q. s,e,es,ee,ee.,eq,eee.,eq. s,ss,se,se.,sq,see.,sq. s,e,e.,q,ee.,q. s,e,e.,q,sq
s,e,e.,q s,e,e. s,e s
""", """
s,e,es,q,ees,q.,q.s,q.e,q.es,q.q,q.ees,w s,ss,se,ses,see,sees,seee,seees,seeq,seeees,seeq.
s,e,es,ee,ees,eee,eees,eeq,eeees,eeq. s,ss,se,ses,see,sees,seq,seees,seq. s,e,es,ee,ees,eq,eees,eq.
s,ss,se,ses,sq,sees,sq. s,e,es,q,ees,q. s,ss,se,ses,sq s,e,es,q s,ss,se s,e s
"""),
    ("12/8", 2, """
e,q,q.,q.e,q.q,h.,q.q.e,q.q.q,q.h.,q.q.q.e,q.q.q.q,w. e,q,qe,qq,qq.,qq.e,qq.q,qh.,qq.q.e,qq.q.q,qq.h.
e,ee,eq,eq.,eq.e,eq.q,eh.,eq.q.e,eq.q.q,eq.h. e,q,q.,q.e,q.q,h.,q.q.e,q.q.q,q.h. e,q,qe,qq,qq.,qq.e,qq.q,qh.
e,ee,eq,eq.,eq.e,eq.q,eh. e,q,q.,q.e,q.q,h. e,q,qe,qq,qq. e,ee,eq,eq. e,q,q. e,q e
""", """
e,q,q.,q.e,q.q,q.q.,q.q.e,q.q.q,q.q.q.,q.q.q.e,q.q.q.q,w
e,ee,eee,eeq,eeq.,eeq.e,eeq.q,eeq.q.,eeq.q.e,eeq.q.q,eeq.q.q. e,ee,eq,eq.,eq.e,eq.q,eq.q.,eq.q.e,eq.q.q,eq.q.q.
e,q,q.,q.e,q.q,q.q.,q.q.e,q.q.q,q.q.q. e,q,qe,qq,qq.,qq.e,qq.q,qq.q. e,ee,eq,eq.,eq.e,eq.q,eq.q. e,q,q.,q.e,q.q,q.q.
e,ee,eee,eeq,eeq. e,ee,eq,eq. e,q,q. e,q e
"""),
    ("5/8", 4, """
s,e,e.,q,qs,q.,qe.,h,qqs,qq. s,e,e.,e.s,e.e,e.e.,e.q,e.qs,e.q. s,e,es,q,ee.,q.,eqs,eq. s,ss,se,se.,sq,sqs,sq.
s,e,e.,q,qs,q. s,e,e.,e.s,e.e s,e,es,q s,ss,se s,e s
""", """
s,e,es,q,qs,qe,qes,qq,qqs,w s,ss,se,ses,see,sees,seq,seqs,seqe s,e,es,ee,ees,eq,eqs,eqe s,ss,se,ses,sq,sqs,sqe
s,e,es,q,qs,qe s,ss,se,ses,see s,e,es,ee s,ss,se s,e s
"""),
    ("7/8", 2, """
e,q,q.,h,qq.,h.,qqq. e,q,q.,eq.,eh,eqq. e,q,q.,h,qq. e,q,q.,eq. e,q,q. e,q e
""", """
e,q,qe,qq,qqe,qqq,w e,ee,eq,eqe,eqq,eqqe e,q,qe,qq,qqe e,ee,eq,eqe e,q,qe e,ee e
"""),
]  # fmt: skip


@pytest.mark.parametrize(("metre", "parts", "notes", "rests"), SPANS, ids=[metre for metre, *_ in SPANS])
def test_every_span_of_a_bar_is_written_with_its_beats_and_its_middle_visible(
    metre: str, parts: int, notes: str, rests: str
) -> None:
    """What it is today: of a quarter in so many parts, the heads of each span from each place on, from short to long.

    A word is a place, from the first of the bar on; it has the heads of a note, or of a rest between two notes.
    """
    time, unit = parse_metre(metre), Fraction(1, parts)
    places = range(int(time.bar / unit))

    def heads(start: Fraction, end: Fraction, rest: bool) -> str:
        around = [(Fraction(0), start), (end, time.bar)] if rest else [(start, end)]
        bar = write_bar([VoiceSpan(a, b, C) for a, b in around if a < b], time.bar, time)
        return "".join(LETTERS[head.value] + "." * head.dots for head in bar if start <= head.start < end)

    for rest, kept in ((False, notes), (True, rests)):
        words = (",".join(heads(a * unit, (b + 1) * unit, rest) for b in places[a:]) for a in places)
        assert wrapped(words) == lines(kept)
