"""Any chart, written as a tune by The ABC Music Standard 2.1, comes back the same; a garbled tune gets one line.

The writer stands here, straight from the standard: P: for the form (3.1.9), bars between | (4.8), the chord symbols
(4.18) over unseen rests in an overlay (7.4), so that they may change under a held note.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.chart.abc.tune import import_abc
from companion.chart.abc.write import write_melody
from companion.chart.imported import write_imported
from companion.chart.keys import write_key
from companion.chart.model import Chart, ChordSpan, MelodyNote, Section
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

UNIT = Fraction(1, 2)
METRES = [Metre(4, 4), Metre(3, 4), Metre(2, 2), Metre(6, 8), Metre(5, 4)]
CHORDS = [parse_chord(s) for s in ("Cmaj7", "Dm7", "G7alt", "Bb13", "F#m7b5", "Ebmaj7/G", "A7sus4", "Ab6", "N.C.")]
LENGTHS = st.sampled_from(
    [Fraction(n, 2) for n in (1, 1, 2, 3, 4, 8)] + [Fraction(1, 4), Fraction(1, 3), Fraction(2, 3)]
)
PITCHES = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(3, 6))


def abc(chart: Chart) -> str:
    """The chart as a tune."""
    lines = [
        "X:1", f"T:{chart.title}", f"M:{chart.metre}", "L:1/8", f"Q:1/4={chart.tempo:g}",
        f"P:{''.join(chart.form)}", f"K:{write_key(chart.fifths, chart.minor)}",
    ]  # fmt: skip
    for section in chart.sections:
        pickup, bars, _ = write_melody(section.melody, section.bars, UNIT, chart.fifths)
        start = Fraction(0)
        written = []
        for melody, length in zip(bars, section.bars, strict=True):
            written.append(f"{melody} & {symbols(section.chords, start, length)}")
            start += length
        lines += [f"P:{section.name}", *([f"{pickup} |"] if pickup else []), " |\n".join(written) + " |]"]
    return "\n".join(lines) + "\n"


def symbols(chords: tuple[ChordSpan, ...], start: Fraction, length: Fraction) -> str:
    """The chord symbols of a bar, each over a rest as long as it lasts there."""
    inside = [span for span in chords if start <= span.start < start + length]
    stops = [*[span.start for span in inside], start + length]
    lead = [f"x{(stops[0] - start) / UNIT}"] if stops[0] > start else []
    return " ".join(
        [*lead, *[f'"{span.chord.symbol}"x{(stops[k + 1] - span.start) / UNIT}' for k, span in enumerate(inside)]]
    )


@st.composite
def melodies(draw: st.DrawFn, begin: Fraction, length: Fraction) -> tuple[MelodyNote, ...]:
    beat, notes = begin, []
    while beat < length:
        lasting = min(draw(LENGTHS), length - beat)
        if draw(st.integers(0, 3)):
            notes.append(MelodyNote(beat, lasting, draw(PITCHES)))
        beat += lasting
    return tuple(notes)


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    metre = draw(st.sampled_from(METRES))
    names = "ABC"[: draw(st.integers(1, 3))]
    form = draw(st.lists(st.sampled_from(names), min_size=1, max_size=4).map(lambda rest: names + "".join(rest)))
    sections = []
    for name in names:
        bars = (metre.bar,) * draw(st.integers(1, 4))
        length = sum(bars, Fraction(0))
        begin = draw(st.sampled_from([Fraction(0), Fraction(-1, 2), Fraction(-1)])) if len(names) == 1 else Fraction(0)
        beats = [Fraction(0), *draw(st.lists(st.integers(1, int(length * 2) - 1).map(lambda n: Fraction(n, 2))))]
        starts = sorted(set(beats))
        spans = [
            ChordSpan(a, b, draw(st.sampled_from(CHORDS))) for a, b in zip(starts, [*starts[1:], length], strict=True)
        ]
        sections.append(Section(name, bars, tuple(spans), draw(melodies(begin, length))))
    return Chart(
        title="Trial",
        sections=tuple(sections),
        form=tuple(form) if len(names) > 1 else (names,),
        metre=metre,
        fifths=draw(st.integers(-7, 7)),
        minor=draw(st.booleans()),
        tempo=float(draw(st.integers(40, 300))),
    )


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("tunes") / "trial.abc"


@settings(max_examples=40)
@given(chart=charts())
def test_any_chart_written_as_a_tune_comes_back_the_same(place: Path, chart: Chart) -> None:
    place.write_text(abc(chart), encoding="utf-8")
    imported = import_abc(place)
    back, form = imported.chart.unfold(), chart.unfold()
    assert back.melody == form.melody
    assert changes(back.chords) == changes(form.chords)
    assert (back.bars, back.length, back.metre) == (form.bars, form.length, form.metre)
    assert (back.fifths, back.minor, back.tempo) == (form.fifths, form.minor, form.tempo)
    assert parse_toml(write_imported(imported)).unfold().melody == form.melody


def changes(spans: tuple[ChordSpan, ...]) -> list[tuple[Fraction, str]]:
    """Where the harmony changes."""
    found: list[tuple[Fraction, str]] = []
    for span in spans:
        if not found or found[-1][1] != span.chord.symbol:
            found.append((span.start, span.chord.symbol))
    return found


TUNE = """%abc-2.1
X:1
T:Kettle at Six
M:4/4
L:1/8
Q:"Swing" 1/4=132
P:AAB
U:T=!trill!
V:1 name="Melody"
V:2 clef=bass
K:Gm
P:A
V:1
DF|:"Gm6"G6 zB|"C7sus4"c2 Bc "C7"{b}=e3d-|1 [Bd]6 z2:|2 (3ze2c TB2 ^F2 & x4 "D7"x4||
w: la la-la _ *
V:2
z2|:G,8|C8|1 D8:|2 D8||
P:B
[V:1][M:3/4]"F9"z2 C2 (3FBe|"_rit."[K:Bb]d6|Z2!D.C.!|]
"""


@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.integers(0, len(TUNE)),
    st.integers(0, 30),
    st.text("|:[]()\"&!{}<>-^_=,'/0123456789ZzXxyABCKLMPQVwW%\\ \n#", max_size=12),
)
def test_a_garbled_tune_is_read_or_refused_in_one_line(place: Path, at: int, gone: int, put: str) -> None:
    read_or_refused(place, (TUNE[:at] + put + TUNE[at + gone :]).encode())


@pytest.mark.parametrize("end", range(0, len(TUNE), 9))
def test_a_truncated_tune_is_read_or_refused_in_one_line(place: Path, end: int) -> None:
    read_or_refused(place, TUNE[:end].encode())


@settings(max_examples=40)
@given(st.binary(max_size=200))
def test_what_is_no_text_is_read_or_refused_in_one_line(place: Path, data: bytes) -> None:
    read_or_refused(place, data)


@pytest.mark.parametrize(
    "music",
    [
        "Z999|" * 60, "|:" * 3000 + "C8", "(" * 9000 + "C8|", '"' * 9001, "[" * 9000, "{" * 9000, "C8|" * 5100,
        "!" * 9001, "C" * 9000 + "|", "{" * 300_000,
        "&" * 5000 + "C8|", ":" * 9000, "P:A\n" * 2000 + "C8|", "[1C8:|" * 900,
    ],
    ids=lambda music: music[:8],
)  # fmt: skip
def test_a_tune_out_of_all_proportion_is_read_or_refused_without_delay(place: Path, music: str) -> None:
    read_or_refused(place, f"X:1\nM:4/4\nL:1/8\nP:(((A99)99)99)99\nK:C\n{music}\n".encode())


def read_or_refused(place: Path, data: bytes) -> None:
    place.write_bytes(data)
    try:
        imported = import_abc(place)
        imported.chart.unfold()
        text = write_imported(imported)
    except ChartError as error:
        assert str(error).startswith(str(place)) and "\n" not in str(error)
    else:
        assert replace(parse_toml(text), source=None) == replace(imported.chart, source=None)


SIGNS = (
    "C D e ^f _B =c __d ^^g c' C, C,,,, g'' z x Z z2 Z4 C2 D/ E// F3/2 G/3 A2/3 c/7 C5 C/64 d7/4 C//3 A0 C- e- - (3 (5",
    '(7 (2 (3:2:2 (9 (3:5:7 > < >> | | | | | |: :| || |] [1 [2 :: "Am7" "G7/B" "D7b9" "N.C." "^hi" "Hm" {g} [CEG]',
    "!segno! !D.C.! !fine! !coda! !D.S.alcoda! & [K:Bb] [M:2/4] [L:1/8] [M:11/8] [L:1/5] ~ . ( ) $ %c",
)
METRE_FIELDS, UNITS = ("4/4", "3/4", "6/8", "C|", "none", "5/4", "7/16"), ("1/8", "1/4", "1/3", "1/16")
KEYS = ("C", "Gm", "Db", "C#", "Ddor", "none")
HEADS = st.tuples(*map(st.sampled_from, (METRE_FIELDS, UNITS, KEYS)))


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(HEADS, st.lists(st.sampled_from([*" ".join(SIGNS).split(), "\n", "\nP:A\n", "\nK:F#m\n"]), max_size=50))
def test_whatever_is_imported_reads_back_the_same(place: Path, head: tuple[str, str, str], signs: list[str]) -> None:
    metre, unit, key = head
    text = f"X:1\nT:Kettle at Six\nM:{metre}\nL:{unit}\nK:{key}\n{''.join(signs)}\n"
    read_or_refused(place, text.encode())


@pytest.mark.parametrize(
    "tune",
    [
        "M:4/4\nL:1/8\nK:C\nZ4C/64(9D/7(7C/7(5E/3c/5|CDEF|",  # parts of a beat that no one counts
        "M:6/8\nL:1/3\nK:C\n$e-[CEG]\n^^g!D.C.!\n__d &>>Z4",  # rests of whole bars beside the bar's own notes
        "M:3/4\nL:1/4\nK:Db\nC-Z4C2Z4d7/4>(9D/!D.C.!>&Z4|]C,A0|](2\n!D.C.! ||::|D",  # and between them
    ],
)
def test_bars_that_no_one_counts_are_mended_or_refused(place: Path, tune: str) -> None:
    read_or_refused(place, f"X:1\nT:Kettle at Six\n{tune}\n".encode())
