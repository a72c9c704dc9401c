"""What a lead sheet holds comes back from its MusicXML as it was."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring, tostring

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from companion.arrange.plan import arrange
from companion.chart.model import Chart, ChordSpan, Form, MelodyNote, Section
from companion.chart.musicxml.read import read_musicxml
from companion.chart.written import BarMarks
from companion.engrave.musicxml_notes import quality
from companion.engrave.musicxml_out import compressed, musicxml
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.load import load
from companion.music.chords import Chord, parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch, pitch_in_key


def and_back(chart: Chart, folder: Path) -> Chart:
    path = folder / "sheet.musicxml"
    path.write_text(musicxml(lead_sheet(chart)), encoding="utf-8")
    return read_musicxml(path)


def changes(form: Form) -> list[tuple[Fraction, Chord]]:
    """Where the harmony changes; a symbol that only says again what rules already isn't one."""
    return [next(same) for _, same in groupby(((s.start, s.chord) for s in form.chords), key=lambda pair: pair[1])]


def test_every_shipped_chart_comes_back_as_it_was(shipped: Chart, tmp_path: Path) -> None:
    again = and_back(shipped, tmp_path)
    assert (again.title, again.composer) == (shipped.title, shipped.composer)
    before, after = shipped.unfold(), again.unfold()
    for what in ("metre", "fifths", "minor", "tempo", "feel", "length", "bars", "melody"):
        assert getattr(after, what) == getattr(before, what), what
    assert changes(after) == changes(before)
    assert [place.start for place in after.sections] == [place.start for place in before.sections]


def test_the_melody_is_found_again_among_the_chords_of_an_arrangement(
    varied: Chart, arranged: Callable[[Chart], Sheet], tmp_path: Path
) -> None:
    path = tmp_path / "both-hands.musicxml"
    path.write_text(musicxml(arranged(varied)), encoding="utf-8")
    form, again = varied.unfold(), read_musicxml(path).unfold()
    played = arrange(form, "melody")
    assert [(n.beat, n.pitch) for n in again.melody] == [(n.beat, n.pitch) for n in played]
    assert changes(again) == changes(form)


def test_sections_keep_their_names_where_each_name_means_one_thing(ferry: Chart, tmp_path: Path) -> None:
    assert and_back(ferry, tmp_path).form == ferry.form


SYMBOLS = [
    "C", "Dm7", "G7", "Ebmaj7", "F#m7b5", "Bb13", "A7alt", "D7b9", "Gm6", "C7sus4", "Abmaj7#11", "E7#9", "Bdim7",
    "F9sus4", "Cm(maj7)", "G7/B", "Db6/9", "N.C.",
]  # fmt: skip


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    metre = draw(st.sampled_from([Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(5, 4)]))
    fifths, minor = draw(st.integers(-6, 6)), draw(st.booleans())
    count = draw(st.integers(1, 6))
    unit = draw(st.sampled_from([Fraction(1, 2), Fraction(1, 3), Fraction(1, 4)]))
    length = count * metre.bar
    low = -draw(st.integers(0, 2)) * unit
    cuts = sorted(draw(st.sets(st.integers(int(low / unit), int(length / unit)), min_size=2, max_size=20)))
    melody = tuple(
        MelodyNote(a * unit, (b - a) * unit, pitch_in_key(draw(st.integers(55, 84)), fifths, minor))
        for a, b in pairwise(cuts)
        if draw(st.integers(0, 3))
    )
    starts = [bar * metre.bar for bar in range(count)]
    symbols = [parse_chord(draw(st.sampled_from(SYMBOLS))) for _ in starts]
    spans = tuple(ChordSpan(a, a + metre.bar, symbol) for a, symbol in zip(starts, symbols, strict=True))
    return Chart(
        title="Kettle at the Ford",
        sections=(Section("A", (metre.bar,) * count, spans, melody),),
        form=("A",),
        metre=metre,
        fifths=fifths,
        minor=minor,
        tempo=float(draw(st.integers(40, 300))),
        feel=draw(st.sampled_from(["swing", "straight", "bossa"])),
    )


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(charts())
def test_any_lead_sheet_comes_back_as_it_was(tmp_path: Path, chart: Chart) -> None:
    before = chart.unfold()
    assume(before.melody or any(span.chord.is_chord for span in before.chords))  # a sheet with nothing on it is refused
    after = and_back(chart, tmp_path).unfold()
    for what in ("metre", "fifths", "minor", "tempo", "feel", "length", "bars", "melody"):
        assert getattr(after, what) == getattr(before, what), what
    assert changes(after) == changes(before)


def test_the_compressed_file_is_the_same_chart_and_the_same_bytes_each_time(ferry: Chart, tmp_path: Path) -> None:
    text = musicxml(lead_sheet(ferry))
    (tmp_path / "sheet.mxl").write_bytes(compressed(text))
    assert compressed(text) == compressed(text)
    assert load(tmp_path / "sheet.mxl").unfold().melody == ferry.unfold().melody


def test_a_tie_over_a_repeat_leads_nowhere_for_the_engraver_and_on_for_everybody_else(tmp_path: Path) -> None:
    early = MelodyNote(Fraction(-1, 2), Fraction(3, 2), Pitch("E", 0, 5))
    late = MelodyNote(Fraction(4), Fraction(2), Pitch("C", 0, 5))
    chart = Chart("Over the Edge", (Section("A", (Fraction(4),) * 4, (), (early, late)),), ("A", "A", "A"))
    sheet = lead_sheet(chart)
    assert any(bar.marks.repeat_end for bar in sheet.bars)
    assert "let-ring" in musicxml(sheet, for_engraver=True) and "let-ring" not in musicxml(sheet)
    assert and_back(chart, tmp_path).unfold().melody == chart.unfold().melody


def test_symbols_are_printed_with_real_flats_and_sharps() -> None:
    assert [quality(parse_chord(s)) for s in ("Am7b5", "D7#9", "Bbmaj7")] == ["m7♭5", "7♯9", "maj7"]
    assert [quality(parse_chord(s)) for s in ("C7(b9,b13)", "C7##9", "Cadd9")] == ["7(♭9,♭13)", "7♯♯9", "add9"]
    assert not any("b5" in quality(parse_chord(symbol)) for symbol in SYMBOLS)


def test_a_title_with_signs_of_xml_in_it_is_kept(ferry: Chart, tmp_path: Path) -> None:
    assert and_back(replace(ferry, title='Salt & "Tin" <2>'), tmp_path).title == 'Salt & "Tin" <2>'


@pytest.mark.parametrize(("tempo", "metre"), [(320.0, Metre(4, 4)), (120.0, Metre(12, 8))])
def test_a_swing_tune_whose_quavers_are_even_is_read_back_as_swing(
    ferry: Chart, tempo: float, metre: Metre, tmp_path: Path
) -> None:
    path = tmp_path / "sheet.musicxml"
    path.write_text(musicxml(replace(lead_sheet(ferry), tempo=tempo, metre=metre)), encoding="utf-8")
    assert read_musicxml(path).feel == "swing"


# what is said over and under the bars, and where it stands for the engraver


def plain(count: int = 4, **at: Bar) -> Sheet:
    """Bars of a quarter and rests; ``at``: one of them by its place, as in b2."""
    heads = write_bar([VoiceSpan(Fraction(0), Fraction(1), (Pitch("C", 0, 5),))], Fraction(4), Metre())
    bars = [Bar(k + 1, Fraction(4), Metre(), (Voice(1, 1, heads),)) for k in range(count)]
    for place, bar in at.items():
        k = int(place[1:])
        bars[k] = replace(bar, number=k + 1, voices=bars[k].voices)
    return Sheet("Plain", None, Metre(), 0, False, 120.0, "straight", (1,), tuple(bars))


def a_bar(**more: object) -> Bar:
    return Bar(1, Fraction(4), Metre(), (), **more)  # type: ignore[arg-type]


def words(sheet: Sheet, *, for_engraver: bool = True) -> dict[int, list[str]]:
    """Words by the number of their bar, with what they are put before the bar's end by."""
    found = {}
    for measure in fromstring(musicxml(sheet, for_engraver=for_engraver)).iter("measure"):
        said = []
        for direction in measure.iter("direction"):
            text = direction.findtext("direction-type/words")
            if text is not None and "eighths" not in text:
                offset = direction.findtext("offset")
                said.append(text.replace("\u2060", "") + (f" {offset}" if offset else ""))
        if said:
            found[int(measure.get("number") or 0)] = said
    return found


@pytest.mark.parametrize(
    ("bar", "said"),
    [
        (a_bar(words="x" * 22), {3: ["x" * 22]}),
        (a_bar(words="x" * 23), {2: ["x" * 23]}),
        (a_bar(words="x" * 23, new_line=True), {3: ["x" * 23]}),
        (a_bar(words="x", new_line=True), {3: ["x"]}),
        (a_bar(words="x" * 23, new_page=True), {3: ["x" * 23]}),
        (a_bar(words=f"{'x' * 10}; {'y' * 10}"), {3: [f"{'x' * 10}; {'y' * 10}"]}),
        (a_bar(words=f"{'x' * 10}; {'y' * 11}"), {2: [f"{'x' * 10}; {'y' * 11}"]}),
        (a_bar(words=f"{'x' * 10}; {'y' * 11}", new_line=True), {3: [f"{'x' * 10};", "y" * 11]}),
        (a_bar(words=f"{'x' * 20}; {'y' * 26}"), {2: [f"{'x' * 20}; {'y' * 26}"]}),
        (a_bar(words=f"{'x' * 20}; {'y' * 27}"), {2: [f"{'x' * 20};", "y" * 27]}),
        (a_bar(words="Solos", marks=BarMarks(jump="segno", until="coda")), {2: ["Solos; then D.S. al Coda"]}),
        (a_bar(marks=BarMarks(jump="capo")), {3: ["D.C."]}),
        (a_bar(marks=BarMarks(jump="capo", until="fine"), with_repeats=True), {2: ["D.C. al Fine; with repeats"]}),
    ],
)
def test_what_comes_next_stands_under_its_bar_or_begins_under_the_one_before(
    bar: Bar, said: dict[int, list[str]]
) -> None:
    """22 letters fit under a bar, 48 under two."""
    assert words(plain(b2=bar)) == said
    (number,) = words(plain(b2=bar), for_engraver=False)
    assert number == 3, "everybody else's stands where it belongs"


def test_words_of_the_last_bar_begin_under_the_one_before_where_they_are_long() -> None:
    assert words(plain(b3=a_bar(words="x" * 22))) == {4: ["x" * 22]}
    assert words(plain(b3=a_bar(words="x" * 23))) == {3: ["x" * 23]}


def test_words_of_the_first_bar_and_a_long_line_alone() -> None:
    assert words(plain(b0=a_bar(words="x" * 22))) == {1: ["x" * 22]}
    assert words(plain(b0=a_bar(words="x" * 23))) == {}, "no bar stands before it"
    assert words(plain(1, b0=a_bar(words="x"))) == {1: ["x"]}


@pytest.mark.parametrize(
    ("remark", "said"),
    [
        ("x" * 40, ["x" * 40]),
        (f"{'x' * 15}; {'y' * 15}", [f"{'x' * 15}; {'y' * 15}"]),  # 32 letters
        (f"{'x' * 15}; {'y' * 16}", ["y" * 16, f"{'x' * 15};"]),  # the last line first: each is set above the others
        ("late; early; late", ["late; early; late"]),
        ("", None),
    ],
)
def test_a_remark_stands_over_its_bar_in_lines_of_32_letters(remark: str, said: list[str] | None) -> None:
    assert words(plain(b1=a_bar(remark=remark))).get(2) == said
    assert words(plain(b1=a_bar(remark=remark)), for_engraver=False).get(2) == ([remark] if remark else None)


def test_signs_at_the_end_begin_in_mid_bar_for_the_engraver() -> None:
    """Two quarters before the end, in the divisions of the file, which are two a quarter."""
    marks = BarMarks(repeat_end=3, to_coda=True, fine=True)
    assert words(plain(b1=a_bar(marks=marks)))[2] == ["3× -4", "To Coda -4", "Fine -4"]
    assert words(plain(b1=a_bar(marks=marks)), for_engraver=False)[2] == ["3×", "To Coda", "Fine"]
    for once in (BarMarks(repeat_end=2), BarMarks(repeat_end=3, ending_stops=True, ending=(1, 2))):
        assert words(plain(b1=a_bar(marks=once))) == {}


def test_leaps_say_what_they_mean_to_programs_and_segno_and_coda_what_they_are() -> None:
    # MusicXML 4.0, element sound: dacapo and fine are yes, dalsegno, tocoda, segno and coda carry a name
    bars = {
        "b0": a_bar(marks=BarMarks(segno=True)), "b1": a_bar(marks=BarMarks(to_coda=True)),
        "b2": a_bar(marks=BarMarks(jump="segno", until="coda")), "b3": a_bar(marks=BarMarks(coda=True)),
        "b4": a_bar(marks=BarMarks(fine=True)), "b5": a_bar(marks=BarMarks(jump="capo")),
    }  # fmt: skip
    root = fromstring(musicxml(plain(6, **bars)))
    told = [sound.attrib for sound in root.iter("sound") if "tempo" not in sound.attrib]
    assert told == [
        {"segno": "segno1"}, {"tocoda": "coda1"}, {"dalsegno": "segno1"}, {"coda": "coda1"}, {"fine": "yes"},
        {"dacapo": "yes"},
    ]  # fmt: skip


def test_clefs_are_treble_and_bass_also_where_one_staff_stands_alone() -> None:
    for staff, clef in ((1, ("G", "2")), (2, ("F", "4"))):
        sheet = plain(1)
        voice = replace(sheet.bars[0].voices[0], staff=staff)
        root = fromstring(musicxml(replace(sheet, staves=(staff,), bars=(replace(sheet.bars[0], voices=(voice,)),))))
        assert [(c.findtext("sign"), c.findtext("line"), c.get("number")) for c in root.iter("clef")] == [(*clef, None)]
        assert root.find(".//staves") is None and root.find(".//note/staff") is None


@pytest.mark.parametrize(
    ("ends", "divisions"),
    [((4,), 2), ((Fraction(4, 3), 4), 6), ((Fraction(1, 4), 4), 4), ((Fraction(1, 6), Fraction(1, 4), 4), 12)],
)
def test_a_quarter_has_as_many_parts_as_its_lengths_need(ends: tuple[Fraction, ...], divisions: int) -> None:
    cuts = [Fraction(0), *map(Fraction, ends)]
    heads = write_bar([VoiceSpan(a, b, (Pitch("C", 0, 5),)) for a, b in pairwise(cuts)], Fraction(4), Metre())
    sheet = plain(1)
    sheet = replace(sheet, bars=(replace(sheet.bars[0], voices=(Voice(1, 1, heads),)),))
    assert fromstring(musicxml(sheet)).findtext(".//divisions") == str(divisions)


@pytest.mark.parametrize(
    ("metre", "fifths", "slashes"),
    [
        (Metre(4, 4), 0, "B 0 quarter;" * 4),
        (Metre(4, 4), -1, "B -1 quarter;" * 4),
        (Metre(3, 4), 2, "B 0 quarter;" * 3),
        (Metre(6, 8), 0, "B 0 quarter .;" * 2),
        (Metre(12, 8), 0, "B 0 quarter .;" * 4),
    ],
)
def test_a_sheet_of_symbols_alone_has_a_slash_for_each_beat(metre: Metre, fifths: int, slashes: str) -> None:
    """On the middle line; MusicXML 4.0: notehead slash. A flat in the key changes the B, which would get a natural."""
    sheet = plain(1)
    bar = replace(sheet.bars[0], metre=metre, length=metre.bar)
    written = musicxml(replace(sheet, fifths=fifths, slashes=True, bars=(bar,)), for_engraver=True)
    said = ""
    for note in fromstring(written).iter("note"):
        assert [note.findtext(what) for what in ("pitch/octave", "notehead", "stem")] == ["4", "slash", "none"]
        assert note.find("beam") is None and note.find("accidental") is None
        dots = " ." * (note.find("dot") is not None)
        said += f"{note.findtext('pitch/step')} {note.findtext('pitch/alter') or 0} {note.findtext('type')}{dots};"
    assert said == slashes


def test_the_first_letter_stands_over_the_pickup_for_the_engraver_alone() -> None:
    sheet = plain(3, b1=a_bar(heading="A"))

    def headed(sheet: Sheet, *, for_engraver: bool) -> list[str | None]:
        root = fromstring(musicxml(sheet, for_engraver=for_engraver))
        assert [measure.get("number") for measure in root.iter("measure")] == [str(bar.number) for bar in sheet.bars]
        return [measure.findtext("direction/direction-type/rehearsal") for measure in root.iter("measure")]

    assert headed(sheet, for_engraver=True) == ["A", None, None]
    assert headed(sheet, for_engraver=False) == [None, "A", None]
    two = plain(3, b0=a_bar(heading="A"), b1=a_bar(heading="B"))
    assert headed(two, for_engraver=True) == ["A", "B", None] and headed(plain(1), for_engraver=True) == [None]


def test_a_compressed_file_names_its_kind_first_and_unpacked() -> None:
    """MusicXML 4.0, compressed .mxl files: mimetype comes first and is stored, the container names the score."""
    with zipfile.ZipFile(io.BytesIO(compressed("<score-partwise/>", "folder/tune.musicxml"))) as archive:
        kinds = {one.filename: one.compress_type for one in archive.infolist()}
        assert list(kinds) == ["mimetype", "META-INF/container.xml", "tune.musicxml"]
        assert list(kinds.values()) == [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED]
        assert {one.date_time for one in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert archive.read("mimetype") == b"application/vnd.recordare.musicxml"
        root = fromstring(archive.read("META-INF/container.xml"))
        assert [one.get("full-path") for one in root.iter("rootfile")] == ["tune.musicxml"]


@pytest.mark.parametrize(("tempo", "said"), [(120.0, "120"), (132.5, "132.5"), (66.25, "66.25"), (100.0, "100")])
def test_a_tempo_is_said_with_no_more_digits_than_it_has(tempo: float, said: str) -> None:
    (sound,) = fromstring(musicxml(replace(plain(1), tempo=tempo))).iter("sound")
    assert sound.get("tempo") == said


# bar lines, numbers, and what stands at the head of a measure


def measures(sheet: Sheet, *, for_engraver: bool = False) -> list[Element]:
    return list(fromstring(musicxml(sheet, for_engraver=for_engraver)).iter("measure"))


def line(measure: Element, side: str) -> str:
    """What stands at one side of a bar, without the tags of the bar line itself."""
    there = measure.find(f"barline[@location='{side}']")
    return "" if there is None else "".join(tostring(one, encoding="unicode").strip() for one in there)


STYLE = "<bar-style>{}</bar-style>"


@pytest.mark.parametrize(
    ("bar", "left", "right"),
    [
        (a_bar(), "", ""),
        (a_bar(double=True), "", STYLE.format("light-light")),
        (a_bar(marks=BarMarks(repeat_start=True)), STYLE.format("heavy-light") + '<repeat direction="forward" />', ""),
        (a_bar(marks=BarMarks(repeat_end=2)), "", STYLE.format("light-heavy") + '<repeat direction="backward" />'),
        (
            a_bar(marks=BarMarks(repeat_end=3, repeat_after_jump=True)),
            "",
            STYLE.format("light-heavy") + '<repeat direction="backward" times="3" after-jump="yes" />',
        ),
        (
            a_bar(marks=BarMarks(ending=(1, 2), ending_stops=True, repeat_end=2)),
            '<ending number="1, 2" type="start">1, 2.</ending>',
            STYLE.format("light-heavy") + '<ending number="1, 2" type="stop" /><repeat direction="backward" />',
        ),
        (
            a_bar(marks=BarMarks(ending=(3,), ending_stops=True)),
            '<ending number="3" type="start">3.</ending>',
            '<ending number="3" type="discontinue" />',
        ),
        (
            a_bar(marks=BarMarks(repeat_start=True, ending=(1,))),
            STYLE.format("heavy-light") + '<ending number="1" type="start">1.</ending><repeat direction="forward" />',
            "",
        ),
    ],
)
def test_bar_lines_say_where_repeats_and_endings_begin_and_end(bar: Bar, left: str, right: str) -> None:
    """MusicXML 4.0, barline: its style, then the ending, then the repeat."""
    _, here, after = measures(plain(3, b1=bar))
    assert (line(here, "left"), line(here, "right")) == (left, right)
    assert line(after, "right") == STYLE.format("light-heavy"), "the end"


def test_an_ending_of_several_bars_is_told_by_its_numbers_where_it_stops() -> None:
    first, last = a_bar(marks=BarMarks(ending=(1,))), a_bar(marks=BarMarks(ending_stops=True, repeat_end=2))
    found = measures(plain(4, b1=first, b2=last))
    assert [line(one, "left") for one in found[1:3]] == ['<ending number="1" type="start">1.</ending>', ""]
    assert '<ending number="1" type="stop" />' in line(found[2], "right") and line(found[1], "right") == ""


def test_bars_before_the_first_have_numbers_that_are_not_printed() -> None:
    sheet = plain(4)
    bars = tuple(replace(bar, number=number) for bar, number in zip(sheet.bars, (-2, -1, 0, 1), strict=True))
    for for_engraver in (False, True):
        found = [
            (one.get("number"), one.get("implicit"))
            for one in measures(replace(sheet, bars=bars), for_engraver=for_engraver)
        ]
        assert found == [("X2", "yes"), ("X1", "yes"), ("0", "yes"), ("1", "yes" if for_engraver else None)]


def test_lines_and_pages_begin_where_they_are_told_to() -> None:
    found = measures(plain(3, b1=a_bar(new_line=True), b2=a_bar(new_line=True, new_page=True)))
    assert [one.attrib if (one := measure.find("print")) is not None else {} for measure in found] == [
        {}, {"new-system": "yes"}, {"new-page": "yes"},
    ]  # fmt: skip


def test_the_head_of_the_first_bar_says_all_and_later_ones_only_another_time_signature() -> None:
    sheet = replace(plain(3, b1=replace(a_bar(), metre=Metre(3, 4))), fifths=-3, minor=True)
    for staves, number in (((1,), [None]), ((1, 2), ["1", "2"])):
        first, second, third = measures(replace(sheet, staves=staves))
        told = first.find("attributes")
        assert told is not None and [one.tag for one in told] == [
            "divisions", "key", "time", *["staves"] * (len(staves) > 1), *["clef"] * len(staves),
        ]  # fmt: skip
        assert (told.findtext("key/fifths"), told.findtext("key/mode")) == ("-3", "minor")
        assert told.findtext("staves") == (None if len(staves) == 1 else "2")
        assert [clef.get("number") for clef in told.iter("clef")] == number
        for measure, beats in ((second, "3"), (third, "4")):
            told = measure.find("attributes")
            assert told is not None and [one.tag for one in told] == ["time"] and told.findtext("time/beats") == beats
    assert [measure.find("attributes") is None for measure in measures(plain(3))] == [False, True, True]
    slashed = measures(replace(plain(1), slashes=True))[0].find("attributes/measure-style/slash")
    assert slashed is not None and slashed.attrib == {"type": "start", "use-stems": "no"}


def test_for_the_engraver_a_symbol_is_its_text_with_a_space_that_keeps_the_next_one_off() -> None:
    symbols = ((Fraction(0), parse_chord("C7b9")), (Fraction(2), parse_chord("D7b9/F#")))
    sheet = plain(1)
    sheet = replace(sheet, bars=(replace(sheet.bars[0], chords=symbols),))
    for for_engraver, texts, degrees in ((True, ["7♭9\u00a0", "7♭9"], 0), (False, ["7♭9", "7♭9"], 2)):
        (measure,) = measures(sheet, for_engraver=for_engraver)
        assert [kind.get("text") for kind in measure.iter("kind")] == texts
        assert len(list(measure.iter("degree"))) == degrees


@pytest.mark.parametrize(
    ("next_voice", "tied_back", "away"), [(1, True, False), (1, False, True), (2, True, True), (None, False, True)]
)
def test_for_the_engraver_a_tie_leads_on_only_to_the_same_voice_of_the_next_bar(
    next_voice: int | None, tied_back: bool, away: bool
) -> None:
    note = (Pitch("C", 0, 5),)
    spans = [VoiceSpan(Fraction(0), Fraction(1), note), VoiceSpan(Fraction(1), Fraction(4), note, tied_on=True)]
    sheet, four = plain(2 if next_voice else 1), Fraction(4)
    bars = [replace(sheet.bars[0], voices=(Voice(1, 1, write_bar(spans, four, Metre())),))]
    if next_voice:
        after = write_bar([VoiceSpan(Fraction(0), Fraction(1), note, tied_back=tied_back)], four, Metre())
        bars.append(replace(sheet.bars[1], voices=(Voice(1, next_voice, after),)))
    first = measures(replace(sheet, bars=tuple(bars)), for_engraver=True)[0]
    drawn = [[tied.get("type") for tied in one.iter("tied")] for one in first.iter("note")]
    assert drawn == [[], ["start"], ["stop", "let-ring" if away else "start"]]
    assert "".join(one.findtext("type") or "" for one in first.iter("note")) == "quarterquarterhalf"
