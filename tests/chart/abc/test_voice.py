"""One voice of ABC, bar by bar: bar lines, endings, symbols, decorations, overlays, rests (ABC 2.1, 4.5 to 4.19)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.chart.abc.voice import VoiceReader
from companion.chart.written import BarMarks
from companion.errors import ChartError
from companion.music.meter import Metre

METRE = Metre(4, 4)


def voice(music: str, metre: Metre | None = METRE) -> VoiceReader:
    made = VoiceReader("1", Fraction(1), metre, {})
    made.begin_line()
    made.read(music)
    made.finish()
    return made


def marks(music: str) -> list[BarMarks]:
    return [bar.marks for bar in voice(music).bars]


def notes(made: VoiceReader) -> list[str]:
    """Of each bar, the notes with their lengths; a tie before or after is a hyphen."""
    return [
        " ".join(f"{'-' * n.tied_back}{n.pitch.step}{float(n.length):g}{'-' * n.tied_on}" for n in bar.notes)
        for bar in made.bars
    ]


END, DOUBLE, BACK = BarMarks(), BarMarks(double_bar=True), BarMarks(repeat_end=2, double_bar=True)


@pytest.mark.parametrize(
    ("music", "found"),
    [
        ("C4|D4|", [END, END]), ("C4||D4|]", [DOUBLE, DOUBLE]), ("C4[|D4|", [DOUBLE, END]), ("C4.|D4", [END, END]),
        ("C4|]D4|]", [DOUBLE, DOUBLE]), ("C4:|D4|", [BACK, END]), ("C4::D4|", [BACK, BarMarks(repeat_start=True)]),
        ("C4::|D4|", [BarMarks(repeat_end=3, double_bar=True), END]),
        ("|:C4:|", [BarMarks(repeat_start=True, repeat_end=2, double_bar=True)]),
        ("C4:|:D4|", [BACK, BarMarks(repeat_start=True)]), ("C4|:|D4|", [END, BarMarks(repeat_start=True)]),
        ("C4:::D4|", [BACK, BarMarks(repeat_start=True)]), ("C4|\n:|D4|", [BarMarks(repeat_end=2), END]),
        ("C4|||D4|", [DOUBLE, END]), ("C4| ||D4|", [DOUBLE, END]),
        ("C4|1D4:|2E4|]", [END, BarMarks(ending=(1,), ending_stops=True, repeat_end=2, double_bar=True),
                           BarMarks(ending=(2,), ending_stops=True, double_bar=True)]),
        ('C4["last"D4|', [END, BarMarks(ending=(1,), ending_stops=True)]),
        ("C4[1,3D4|E4|]", [END, BarMarks(ending=(1, 3)), BarMarks(ending_stops=True, double_bar=True)]),
        ("C4[1D4|[2E4|F4", [END, BarMarks(ending=(1,), ending_stops=True), BarMarks(ending=(2,)),
                            BarMarks(ending_stops=True)]),
        ("C4[1D4:|E4|F4", [END, BarMarks(ending=(1,), ending_stops=True, repeat_end=2, double_bar=True), END, END]),
        ("C4[1D4||E4|F4|", [END, BarMarks(ending=(1,), ending_stops=True, double_bar=True), END, END]),
        ("C4[1D4|\n:|E4|", [END, BarMarks(ending=(1,), ending_stops=True, repeat_end=2), END]),
    ],
)  # fmt: skip
def test_sections_4_8_to_4_10_bar_lines_and_endings(music: str, found: list[BarMarks]) -> None:
    assert marks(music) == found


@pytest.mark.parametrize(
    ("music", "found"),
    [
        ("!segno!C4|SC4|", [BarMarks(segno=True)] * 2), ("!coda!C4|OC4|", [BarMarks(coda=True)] * 2),
        ("C4!dacoda!|", [BarMarks(to_coda=True)]), ("C4!fine!|", [BarMarks(fine=True)]),
        ("C4!D.C.!|", [BarMarks(jump="capo")]), ("C4!D.S.!|", [BarMarks(jump="segno")]),
        ("C4!dacapo!|", [BarMarks(jump="capo")]), ("C4!D.C.alcoda!|", [BarMarks(jump="capo", until="coda")]),
        ("C4!D.C.alfine!|", [BarMarks(jump="capo", until="fine")]),
        ("C4!D.S.alcoda!|", [BarMarks(jump="segno", until="coda")]),
        ("C4!D.S.alfine!|", [BarMarks(jump="segno", until="fine")]), ("C4+fine+|", [BarMarks(fine=True)]),
        ("C4|!D.C.alfine!", [BarMarks(jump="capo", until="fine")]), ("C4|!fine!", [BarMarks(fine=True)]),
        ('C4"^D.C. al Fine"|', [BarMarks(jump="capo", until="fine")]),
        ('"^B"C4|', [BarMarks(heading="B")]), ('"^B2"C4|', [BarMarks(heading="B2")]), ('"Bb"C4|', [END]),
        ('"^H\'"C4|"^I"C4|', [BarMarks(heading="H'"), END]),
    ],
)  # fmt: skip
def test_section_4_14_signs_and_words_that_steer_the_playing(music: str, found: list[BarMarks]) -> None:
    assert marks(music) == found


@pytest.mark.parametrize(
    ("music", "found"),
    [
        (".C4|", ["a decoration: staccato"]), ("~C4|", ["a decoration: roll"]), ("HC4|", ["a decoration: fermata"]),
        ("LC4|", ["a decoration: accent"]), ("MC4|", ["a decoration: lowermordent"]),
        ("PC4|", ["a decoration: uppermordent"]),
        ("TC4|", ["a decoration: trill"]), ("uC4|", ["a decoration: upbow"]), ("vC4|", ["a decoration: downbow"]),
        ("!mf!C4|", ["dynamics: mf"]), ("!crescendo(!C4|", ["dynamics: crescendo("]),
        ("!<(!C4|", ["dynamics: <("]),
        ("!ppppp!C4|", ["a decoration: ppppp"]), ("!nil!C4|", []), ("(C2D2)|", ["a slur"]),
        ("{ab}C4|", ["grace notes: {ab}"]),
        ("[CE]4|", ["notes struck together, the top one is the melody: [CE]4"]),
        ('"^gently"C4|', ["words: gently"]), ('"@-1,3 gently"C4|', ["words: gently"]), ('"<up"C4|', ["words: up"]),
        ('"Hm"C4|', ["a chord symbol that isn't understood: Hm"]), ('"^Dm7"C4|', ["words: Dm7"]),
        ('"C7;loud"C4|', ["words: loud"]), ('"C7\\nloud"C4|', ["words: loud"]),
        ('"C(Am)"C4|', ["another chord for the same place: Am"]), ('"C7(b9)"C4|', []),
        ('"Hm(soft)"C4|', ["a chord symbol that isn't understood: Hm(soft)"]),
        ('"C""Am"C4|', ["another chord over the same note: C"]),
        ("[0C4|", ["an ending that isn't understood: 0"]), ("C4#|", ["not understood: #"]),
    ],
)  # fmt: skip
def test_what_a_chart_cannot_hold_is_kept_with_its_bar(music: str, found: list[str]) -> None:
    assert [str(remark) for remark in voice(music).bars[0].remarks] == found


def test_section_4_18_chord_symbols_have_the_beat_of_the_note_that_follows() -> None:
    bars = voice('"C"C2"Am7"D"N.C."E|"F"z4|"C""F""G""C"x4|"A"z"B"z"C"z2|').bars
    assert [[(float(beat), chord.symbol) for beat, chord in bar.chords] for bar in bars] == [
        [(0, "C"), (2, "Am7"), (3, "N.C.")], [(0, "F")], [(0, "C")], [(0, "A"), (1, "B"), (2, "C")],
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("music", "lengths", "last"),
    [
        ("C4|Z2|D4|", [4, 4, 4, 4], END), ("C4|Z3:|", [4, 4, 4, 4], BACK), ("Z|", [4], END), ("Z1||", [4], DOUBLE),
        ("C4|[1Z2:|[2D4|", [4, 4, 4, 4], BarMarks(ending=(2,), ending_stops=True)),
    ],
)  # fmt: skip
def test_section_4_5_rests_of_several_bars(music: str, lengths: list[int], last: BarMarks) -> None:
    made = voice(music)
    assert [bar.length for bar in made.bars] == lengths and made.bars[-1].marks == last
    assert len(made.raw) == len(made.metres) == len(made.bars)
    assert notes(voice("C4|Z2|D4|")) == ["C4", "", "", "D4"]


def test_notes_have_the_beats_of_their_bar() -> None:
    assert [[float(n.beat) for n in bar.notes] for bar in voice("C2D2|zEF2|").bars] == [[0, 2], [1, 2]]


def test_a_repeat_after_a_rest_of_several_bars_ends_with_the_last_of_them() -> None:
    assert marks("|:C4|[1Z2:|[2D4|]") == [
        BarMarks(repeat_start=True), BarMarks(ending=(1,)),
        BarMarks(repeat_end=2, double_bar=True, ending_stops=True),
        BarMarks(ending=(2,), ending_stops=True, double_bar=True),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("music", "found"),
    [
        ("C4-|C4|", ["C4-", "-C4"]), ("C2-C2-|D4|", ["C2- -C2-", "D4"]), ("C4-|z2C2|", ["C4-", "C2"]),
        ("C4-|1C4:|2C2D2|", ["C4-", "-C4", "-C2 D2"]), ("C4-|1D4:|2C4|", ["C4-", "D4", "-C4"]),
        ("C4|1D4-:|2D4|", ["C4", "D4-", "D4"]), ("C4&E4|D4", ["C4", "D4"]), ("C4-&E4|C4", ["C4-", "-C4"]),
        ("^C4&C4|C4|", ["C4", "C4"]),
    ],
)  # fmt: skip
def test_section_4_11_ties_over_bar_lines_into_endings_and_past_overlays(music: str, found: list[str]) -> None:
    assert notes(voice(music)) == found


def test_section_7_4_an_overlay_begins_where_its_bar_does_and_is_kept() -> None:
    made = voice('"C"C4&x2"F"E2|D4|')
    assert [[(float(b), c.symbol) for b, c in bar.chords] for bar in made.bars] == [[(0, "C"), (2, "F")], []]
    assert [str(remark) for remark in made.bars[0].remarks] == ['a second voice: x2"F"E2']
    assert [bar.length for bar in made.bars] == [4, 4] and made.raw == ['"C"C4&x2"F"E2', "D4"]
    assert made.sung == [(0, 0), (1, 0)]


@pytest.mark.parametrize(
    ("signs", "laid", "found"),
    [
        ('"C" * "F"', True, [[(0, "C"), (3, "F")], []]), ('"C"|"G7"', True, [[(0, "C")], [(0, "G7")]]),
        ('* "F"', True, [[(2, "F")], []]), ('|"G7"', True, [[(0, "G7")], []]),
        ('"C"||"F"', True, [[(0, "C")], [(0, "F")]]),
        ('* * * * "F"', False, [[], []]), ("!p!", False, [[], []]), ('"Hm"', False, [[], []]),
        ('* * * "G7" ', True, [[], [(0, "G7")]]), ("", True, [[], []]),
    ],
)  # fmt: skip
def test_section_5_a_symbol_line_counts_notes_and_bar_lines_between_symbols_go_on_to_the_next_bar(
    signs: str, laid: bool, found: list[list[tuple[float, str]]]
) -> None:
    made = VoiceReader("1", Fraction(1), METRE, {})
    made.begin_line()
    made.read("C2DE|F4|")
    assert made.lay_symbols(signs) is laid
    assert [[(float(beat), chord.symbol) for beat, chord in bar.chords] for bar in made.bars] == found


def test_a_symbol_line_has_no_place_in_a_bar_that_is_still_open() -> None:
    made = VoiceReader("1", Fraction(1), METRE, {})
    made.read("C4|D4")
    assert not made.lay_symbols('"C"|"F"')


def test_a_section_that_begins_beside_an_overlay_begins_where_the_bars_own_notes_have_come_to() -> None:
    made = VoiceReader("1", Fraction(1), METRE, {})
    made.read("C2D&E")
    made.head("B")
    made.read("F3|")
    assert made.bars[0].marks.heading_beat == 3


@pytest.mark.parametrize(("signs", "fine"), [(4000, True), (4001, False)])
def test_a_bar_has_four_thousand_signs_at_most(signs: int, fine: bool) -> None:
    music = "C4|" + " ".join("C" * 1000) + "y" * (signs - 1999)
    if fine:
        assert len(voice(music).bars) == 2
        return
    with pytest.raises(ChartError, match="bar 2: has more than 4000 signs; look for bar lines that are missing"):
        voice(music)


@pytest.mark.parametrize(("bars", "fine"), [(2000, True), (2001, False)])
def test_a_voice_has_two_thousand_bars_at_most(bars: int, fine: bool) -> None:
    music = "C4|" * (bars - 1998) + "Z999|" * 2
    if fine:
        assert len(voice(music).bars) == 2000
        return
    with pytest.raises(ChartError, match="has more than 2000 bars; look for a rest of far too many bars"):
        voice(music)


def test_without_a_metre_a_bar_asks_for_nothing() -> None:
    made = voice("C3|z|", None)
    assert [(bar.length, bar.nominal) for bar in made.bars] == [(3, 0), (1, 0)] and made.metres == []
    assert [(float(bar.length), bar.nominal) for bar in voice('"C"|C4|').bars] == [(4, 4), (4, 4)]


@pytest.mark.parametrize(("metre", "length"), [("6/8", 3), ("4/4", 2), (None, 2)])
def test_section_4_13_five_notes_go_in_the_time_of_three_in_compound_metres(metre: str | None, length: int) -> None:
    beats, _, kind = (metre or "").partition("/")
    made = voice("(5CDEFG|", Metre(int(beats), int(kind)) if metre else None)
    assert sum(n.length for n in made.bars[0].notes) == length
    later = VoiceReader("1", Fraction(1), None, {})
    later.set_metre(Metre(6, 8))
    later.read("(5CDEFG|")
    later.set_metre(Metre(4, 4))
    later.read("(5CDEFG|")
    assert [bar.length for bar in later.bars] == [3, 2]
