"""MusicXML lead sheets as charts: what the reader makes of each thing a sheet may hold, and of garbled ones."""

# ruff: noqa: E501 (messages stand whole in the table of faults)

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable
from copy import deepcopy
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.imported import write_imported
from companion.chart.model import Form
from companion.chart.musicxml.read import read_musicxml
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.load import import_file, load
from companion.music.meter import Metre

Write = Callable[..., Path]


def heard(form: Form) -> list[tuple[float, float, str]]:
    return [(float(n.beat), float(n.length), str(n.pitch)) for n in form.melody]


def symbols(form: Form) -> list[tuple[float, str]]:
    return [(float(c.start), c.chord.symbol) for c in form.chords]


def test_a_short_first_bar_is_a_pickup(written: Write, ink: Any) -> None:
    form = load(written([ink.note("G4", 1), ink.chord("C") + ink.note("C5", 4), ink.note("D5", 3)])).unfold()
    assert heard(form) == [(-1, 1, "G4"), (0, 4, "C5"), (4, 3, "D5")]
    assert (form.length, form.bars) == (8, (0, 4))  # the last bar, short of the pickup, is filled up


def test_ties_are_joined_over_bar_lines_and_repeats(written: Write, ink: Any) -> None:
    bars = [
        ink.left(ink.repeat) + ink.note("C4", 3) + ink.note("D4", 1, ties="start"),
        ink.note("D4", 4, ties="start stop") + ink.right(ink.back),
        ink.note("D4", 2, ties="stop") + ink.note("D4", 2),
    ]
    form = load(written(bars)).unfold()
    assert heard(form) == [
        (0, 3, "C4"), (3, 5, "D4"), (8, 3, "C4"), (11, 7, "D4"), (18, 2, "D4"),
    ]  # fmt: skip


def test_triplets_keep_their_thirds_and_graces_take_no_time(written: Write, ink: Any) -> None:
    third = Fraction(1, 3)
    form = load(
        written([ink.grace("B3") + "".join(ink.note(n, third) for n in ("C4", "D4", "E4")) + ink.rest(3)])
    ).unfold()
    assert [(n.beat, n.length) for n in form.melody] == [(0, third), (third, third), (2 * third, third)]


def test_of_notes_struck_together_the_highest_is_the_melody(written: Write, ink: Any) -> None:
    form = load(written([ink.note("C4", 4) + ink.note("G4", 4, "<chord/>") + ink.note("E4", 4, "<chord/>")])).unfold()
    assert heard(form) == [(0, 4, "G4")]


def test_a_second_voice_is_not_the_melody(written: Write, ink: Any) -> None:
    lower = ink.note("C4", 4).replace("<voice>1", "<voice>2")
    form = load(written([ink.note("G4", 4) + "<backup><duration>48</duration></backup>" + lower])).unfold()
    assert heard(form) == [(0, 4, "G4")]


def test_a_rest_in_the_melody_is_not_filled_from_another_voice(written: Write, ink: Any) -> None:
    lower = "<backup><duration>48</duration></backup>" + ink.note("C4", 4).replace("<voice>1", "<voice>2")
    bars = [ink.rest(4) + lower, ink.note("G4", 2) + ink.note("A4", 2) + lower]
    assert heard(load(written(bars)).unfold()) == [(4, 2, "G4"), (6, 2, "A4")]


def test_the_pickup_after_a_da_capo_lies_over_the_bar_before(written: Write, ink: Any) -> None:
    bars = [
        ink.note("G4", 1),
        ink.note("C5", 4),
        ink.note("D5", 4) + ink.words("Fine"),
        ink.note("E5", 4) + ink.words("D.C. al Fine"),
    ]
    form = load(written(bars)).unfold()
    assert form.bars == (0, 4, 8, 12, 16)
    assert heard(form)[3:6] == [(8, 3, "E5"), (11, 1, "G4"), (12, 4, "C5")]


@pytest.mark.parametrize(
    ("mark", "feel"),
    [("Bossa Nova", "bossa"), ("Medium Swing", "swing"), ("Even eighths", "straight"), ("Shuffle", "shuffle")],
)
def test_the_feel_is_read_from_words(written: Write, ink: Any, mark: str, feel: str) -> None:
    assert load(written([ink.words(mark) + ink.note("C4", 4)])).feel == feel


def test_sections_end_at_repeats_double_bars_and_marks_and_equal_ones_share_a_name(written: Write, ink: Any) -> None:
    bars = [
        ink.note("C4", 4) + ink.right(ink.double),
        ink.note("E4", 4),
        ink.note("F4", 4) + ink.right(ink.double),
        ink.note("C4", 4),
    ]
    chart = load(written(bars))
    assert chart.form == ("A", "B", "A")
    assert [len(s.bars) for s in chart.sections] == [1, 2]


def test_two_endings_make_two_sections_of_one_letter(written: Write, ink: Any) -> None:
    bars = [
        ink.left(ink.repeat) + ink.note("C4", 4),
        ink.note("D4", 4),
        ink.left(ink.ending("1", "start")) + ink.note("E4", 4) + ink.right(ink.ending("1", "stop"), ink.back),
        ink.left(ink.ending("2", "start")) + ink.note("F4", 4) + ink.right(ink.ending("2", "stop")),
        ink.note("G4", 4),
    ]
    chart = load(written(bars))
    assert chart.form == ("A1", "A2", "B")
    assert [n for _, _, n in heard(chart.unfold())] == ["C4", "D4", "E4", "C4", "D4", "F4", "G4"]


def test_a_bracket_that_stops_short_of_its_repeat_is_read(written: Write, ink: Any) -> None:
    bars = [
        ink.left(ink.repeat) + ink.note("C4", 4),
        ink.left(ink.ending("1", "start")) + ink.note("D4", 4) + ink.right(ink.ending("1", "stop")),
        ink.note("E4", 4) + ink.right(ink.back),
        ink.left(ink.ending("2", "start")) + ink.note("F4", 4) + ink.right(ink.ending("2", "stop")),
    ]
    assert [n for _, _, n in heard(load(written(bars)).unfold())] == ["C4", "D4", "E4", "C4", "F4"]


def test_a_pickup_made_good_before_its_repeat_leaves_the_bar_lines_in_place(written: Write, ink: Any) -> None:
    bars = [ink.left(ink.repeat) + ink.note("G4", 1), ink.note("C5", 4), ink.note("D5", 3) + ink.right(ink.back)]
    chart = load(written(bars))
    form = chart.unfold()
    assert chart.form == ("A", "A")
    assert form.bars == (0, 4, 8, 12)
    assert heard(form) == [
        (-1, 1, "G4"), (0, 4, "C5"), (4, 3, "D5"), (7, 1, "G4"), (8, 4, "C5"), (12, 3, "D5"),
    ]  # fmt: skip


@pytest.mark.parametrize("words", ["D.C. al Fine", "D. C. al Fine", "DC al fine.", "Da Capo al Fine"])
def test_da_capo_in_words_alone_is_played(written: Write, ink: Any, words: str) -> None:
    bars = [ink.note("C4", 4), ink.note("D4", 4) + ink.words("Fine"), ink.note("E4", 4) + ink.words(words)]
    assert [n for _, _, n in heard(load(written(bars)).unfold())] == ["C4", "D4", "E4", "C4", "D4"]


def test_dal_segno_al_coda_in_signs_and_words_is_played(written: Write, ink: Any) -> None:
    bars = [
        ink.note("C4", 4),
        ink.sign("<segno/>") + ink.note("D4", 4),
        ink.note("E4", 4) + ink.sign("<coda/>"),
        ink.note("F4", 4) + ink.words("D.S. al Coda"),
        ink.sign("<coda/>") + ink.note("G4", 4),
    ]
    assert [n[0] for _, _, n in heard(load(written(bars)).unfold())] == list("CDEFDEG")


def test_leaps_in_sound_elements_are_played(written: Write, ink: Any) -> None:
    bars = [
        ink.note("C4", 4) + '<sound tocoda="c"/>',
        ink.note("D4", 4) + '<sound dacapo="yes"/>',
        '<sound coda="c"/>' + ink.note("E4", 4),
    ]
    assert [n[0] for _, _, n in heard(load(written(bars)).unfold())] == list("CDCE")


def test_a_chord_symbol_stands_where_its_offset_says_and_rules_until_the_next(written: Write, ink: Any) -> None:
    moved = ink.chord("F", "dominant").replace("</harmony>", "<offset>24</offset></harmony>")
    form = load(written([ink.chord("C") + moved + ink.note("C4", 4), ink.note("E4", 4)])).unfold()
    assert symbols(form) == [(0, "C"), (2, "F7")]
    assert form.chords[-1].end == 8


def test_a_chord_may_have_degrees_and_a_bass(written: Write, ink: Any) -> None:
    degree = (
        "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>"
    )
    bass = "<bass><bass-step>B</bass-step><bass-alter>-1</bass-alter></bass>"
    form = load(written([ink.chord("C", "dominant", bass, degree) + ink.note("C4", 4)])).unfold()
    assert symbols(form) == [(0, "C7b9/Bb")]


def test_an_inversion_without_a_bass_names_it(written: Write, ink: Any) -> None:
    form = load(written([ink.chord("C", "major", "<inversion>1</inversion>") + ink.note("C4", 4)])).unfold()
    assert symbols(form) == [(0, "C/E")]


def test_chord_names_in_plain_words_are_chords(written: Write, ink: Any) -> None:
    bars = [
        ink.words("Bb7") + ink.note("C4", 2) + ink.words("D7-9") + ink.note("C4", 2),
        ink.words("N.C.") + ink.note("C4", 4),
    ]
    assert symbols(load(written(bars)).unfold()) == [(0, "Bb7"), (2, "D7b9"), (4, "N.C.")]


def test_words_that_are_no_chords_are_left_alone(written: Write, ink: Any) -> None:
    bars = [ink.chord("C") + ink.words("Gently") + ink.words("Fast") + ink.note("C4", 4)]
    assert symbols(load(written(bars)).unfold()) == [(0, "C")]


def test_a_heading_names_its_section_and_what_follows_it_in_a_bar_is_its_pickup(written: Write, ink: Any) -> None:
    bars = [
        ink.words("Verse") + ink.note("C4", 4),
        ink.note("D4", 2) + ink.words("Refrain:") + ink.note("E4", 1) + ink.note("F4", 1),
        ink.note("G4", 4),
    ]
    chart = load(written(bars))
    assert chart.form == ("Verse", "Refrain")
    assert [n.beat for n in chart.sections[1].melody] == [-2, -1, 0]


def test_without_a_time_signature_the_bars_tell_the_metre(written: Write, ink: Any) -> None:
    bars = [ink.note("C4", 1), *[ink.chord("C") + ink.note("C4", 3) for _ in range(5)]]
    form = load(written(bars, ink.attributes(time=None))).unfold()
    assert (form.metre, form.pickup, len(form.bars)) == (Metre(3, 4), 1, 5)


def test_the_metre_of_most_bars_is_the_charts(written: Write, ink: Any) -> None:
    change = "<attributes><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    bars = [ink.note("C4", 2), ink.note("B3", 2), change + ink.note("D4", 4), *[ink.note("E4", 4)] * 2]
    chart = load(written(bars, ink.attributes(time="2/4")))
    assert chart.metre == Metre(4, 4)
    assert chart.unfold().bars == (0, 2, 4, 8, 12)


def test_bars_that_stand_as_repeat_signs_are_played_again(written: Write, ink: Any) -> None:
    sign = '<attributes><measure-style><measure-repeat type="{}">1</measure-repeat></measure-style></attributes>'
    two = ink.chord("D", "minor-seventh") + ink.note("F4", 2) + ink.chord("G", "dominant") + ink.note("B4", 2)
    bars = [two, sign.format("start") + ink.rest(4), sign.format("stop") + ink.chord("C") + ink.note("C5", 4)]
    form = load(written(bars)).unfold()
    assert symbols(form) == [(0, "Dm7"), (2, "G7"), (4, "Dm7"), (6, "G7"), (8, "C")]
    assert [n for _, _, n in heard(form)] == ["F4", "B4", "F4", "B4", "C5"]


def test_without_a_key_signature_the_notes_tell_the_key(written: Write, ink: Any) -> None:
    bars = [ink.chord("C", "minor") + "".join(ink.note(n, 1) for n in ("C4", "Eb4", "G4", "Ab4"))]
    chart = load(written(bars, ink.attributes(fifths=None)))
    assert (chart.fifths, chart.minor) == (-3, True)


def test_a_transposing_part_comes_out_in_concert_pitch(written: Write, ink: Any) -> None:
    shift = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    attributes = ink.attributes(fifths=2).replace("</attributes>", shift)
    chart = load(written([ink.chord("D", "dominant") + ink.note("D5", 2) + ink.note("F#5", 2)], attributes))
    assert (chart.fifths, heard(chart.unfold()), symbols(chart.unfold())) == (
        0,
        [(0, 2, "C5"), (2, 2, "E5")],
        [(0, "C7")],
    )


def test_title_composer_and_tempo_are_read(written: Write, ink: Any) -> None:
    head = (
        "<work><work-title>A sheet</work-title></work>"
        '<identification><creator type="composer">Nobody</creator></identification>'
    )
    mark = "<metronome><beat-unit>half</beat-unit><per-minute>66</per-minute></metronome>"
    chart = load(written([ink.sign(mark) + ink.note("C4", 4)], head=head))
    assert (chart.title, chart.composer, chart.tempo) == ("A sheet", "Nobody", 132)


def test_a_timewise_score_is_read_the_same(tmp_path: Path, ink: Any) -> None:
    text = ink.score([ink.note("C4", 4), ink.note("D4", 4)])
    path = tmp_path / "time.musicxml"
    text = text.replace("partwise", "timewise").replace('<part id="P1">', "", 1).replace("</part></score", "</score")
    path.write_text(text.replace('<measure number="1">', '<measure number="1"><part id="P1">')
                    .replace('<measure number="2">', '<measure number="2"><part id="P1">')
                    .replace("</measure>", "</part></measure>"))  # fmt: skip
    assert [n for _, _, n in heard(load(path).unfold())] == ["C4", "D4"]


def test_a_compressed_score_is_found_by_its_container(tmp_path: Path, ink: Any) -> None:
    path = tmp_path / "sheet.mxl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as container:
        container.writestr("other.xml", "<html/>")
        container.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="in/score.xml"/></rootfiles></container>',
        )
        container.writestr("in/score.xml", ink.score([ink.note("C4", 4)]))
    assert heard(load(path).unfold()) == [(0, 4, "C4")]


# Faults: one line, with file and measure.


@pytest.mark.parametrize(
    ("bar", "line"),
    [
        ("<note><pitch><step>H</step><octave>4</octave></pitch><duration>12</duration></note>", "bar 2: an impossible pitch H4"),
        ("<note><pitch><step>C</step><octave>x</octave></pitch><duration>12</duration></note>", "bar 2: <octave> should be a whole number, not 'x'"),
        ("<note><rest/><duration>-12</duration></note>", "bar 2: a duration of -1 quarters"),
        ("<note><rest/></note>", "bar 2: a note without a duration"),
        ('<barline location="right"><repeat direction="backward" times="999"/></barline>', "bar 2: a repeat to be played '999' times"),
        ("<harmony><root><root-step>C</root-step></root><kind>purple</kind></harmony>", "bar 2: C with kind 'purple' and text '' is not a chord; chart import keeps it as a comment, and the chord before goes on"),
        ("<attributes><time><beats>0</beats><beat-type>4</beat-type></time></attributes>", "bar 2: an impossible time signature"),
        ("<attributes><divisions>0</divisions></attributes>", "bar 2: <divisions> is 0"),
    ],
)  # fmt: skip
def test_a_fault_is_one_line_with_its_bar(written: Write, ink: Any, bar: str, line: str) -> None:
    path = written([ink.note("C4", 4), bar + ink.note("C4", 4)])
    with pytest.raises(ChartError) as error:
        load(path)
    assert str(error.value) == f"{path}: {line}"


def test_broken_xml_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "broken.musicxml"
    path.write_text("<score-partwise>\n<part></score-partwise>")
    with pytest.raises(ChartError, match=r"broken.musicxml: line 2, column \d+: isn't well-formed XML: mismatched tag"):
        load(path)


def test_an_entity_bomb_is_refused_unopened(tmp_path: Path) -> None:
    path = tmp_path / "bomb.musicxml"
    layers = "".join(f'<!ENTITY e{k} "{f"&e{k - 1};" * 10}">' for k in range(1, 12))
    path.write_text(f'<!DOCTYPE x [<!ENTITY e0 "ha">{layers}]><score-partwise>&e11;</score-partwise>')
    with pytest.raises(ChartError, match="declares XML entities"):
        load(path)


def test_a_file_outside_is_never_fetched(tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret")
    path = tmp_path / "sheet.musicxml"
    path.write_text(
        f'<!DOCTYPE x [<!ENTITY s SYSTEM "file://{tmp_path}/secret.txt">]><score-partwise>&s;</score-partwise>'
    )
    with pytest.raises(ChartError, match="declares XML entities"):
        load(path)


def packed(path: Path, score: bytes, kind: int = zipfile.ZIP_DEFLATED) -> Path:
    """An .mxl container with one score."""
    with zipfile.ZipFile(path, "w", kind) as container:
        container.writestr("score.xml", score)
    return path


def test_a_zip_bomb_is_refused_before_it_fills_the_memory(tmp_path: Path) -> None:
    path = packed(tmp_path / "bomb.mxl", b" " * 50_000_000)
    assert path.stat().st_size < 100_000
    with pytest.raises(ChartError, match=r"bomb\.mxl: score\.xml: is larger than 8 MB, too large for a lead sheet"):
        load(path)


def test_a_size_that_the_container_claims_is_not_believed(tmp_path: Path, written: Write, ink: Any) -> None:
    path = packed(tmp_path / "claims.mxl", b" " * 50_000_000)
    claimed = path.read_bytes().replace(struct.pack("<L", 50_000_000), struct.pack("<L", 2000))
    path.write_bytes(claimed)
    with pytest.raises(ChartError, match=r"claims\.mxl: "):
        load(path)


@pytest.mark.parametrize("kind", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_container_packed_as_the_standard_does_not_allow_is_refused(
    tmp_path: Path, written: Write, ink: Any, kind: int
) -> None:
    """MusicXML 4.0, "Compressed .mxl files": the zip's files are stored or deflated; others unpack at once."""
    path = packed(tmp_path / "sheet.mxl", written([ink.note("C4", 4)]).read_bytes(), kind)
    with pytest.raises(ChartError, match=r"score\.xml is packed in a way .* \(stored or deflated\); save it again"):
        load(path)


@pytest.mark.parametrize("kind", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_a_container_packed_as_the_standard_allows_is_read(tmp_path: Path, written: Write, ink: Any, kind: int) -> None:
    path = packed(tmp_path / "sheet.mxl", written([ink.note("C4", 4)]).read_bytes(), kind)
    assert load(path).unfold().length == 4


def test_a_score_of_far_too_many_elements_is_refused_with_the_limit(tmp_path: Path, ink: Any) -> None:
    score = ink.score([ink.note("C4", 4) + "<a/>" * 200_000])
    path = packed(tmp_path / "sheet.mxl", score.encode())
    with pytest.raises(ChartError, match="has more than 200000 elements, too many for a lead sheet; export the melody"):
        load(path)


def test_an_abyss_of_elements_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "deep.musicxml"
    path.write_text("<score-partwise>" + "<x>" * 50_000 + "</x>" * 50_000 + "</score-partwise>")
    with pytest.raises(ChartError, match="deep"):
        load(path)


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04nothing", b"\x00" * 50, b"MThd", "<html/>".encode("utf-16")])
def test_what_is_no_score_is_refused(tmp_path: Path, data: bytes) -> None:
    for suffix in (".mxl", ".musicxml"):
        path = tmp_path / f"sheet{suffix}"
        path.write_bytes(data)
        with pytest.raises(ChartError) as error:
            load(path)
        assert str(path) in str(error.value) and "\n" not in str(error.value)


@given(data=st.data())
def test_a_garbled_sheet_is_read_or_refused_in_one_line(tmp_path_factory: Any, data: st.DataObject) -> None:
    garbled = bytearray(sheet())
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(garbled) - 1))
        gone = data.draw(st.integers(0, 30))
        put = data.draw(
            st.sampled_from([b"", b"9", b"-1", b"<note>", b"</note>", b"1e9", b"&", b"x", b"\xff", b"/", b"0"])
        )
        garbled[place : place + gone] = put
    path = tmp_path_factory.getbasetemp() / "garbled.musicxml"
    path.write_bytes(bytes(garbled))
    try:
        load(path)
    except ChartError as error:
        assert str(error).startswith(str(path)) and "\n" not in str(error)


def sheet() -> bytes:
    """A sheet with something of everything."""
    return (Path(__file__).parents[2] / "data" / "everything.musicxml").read_bytes()


def test_the_sheet_with_everything_reads(tmp_path: Path) -> None:
    chart = read_musicxml(Path(__file__).parents[2] / "data" / "everything.musicxml")
    assert len(chart.unfold().bars) > len(chart.sections)


NONSENSE = ["", "0", "-1", "999999999999", "1e400", "1e999999999", "nan", "3.5", "x", "٣", " 4 ", "none", "0/0", "1/3"]


@settings(max_examples=50)
@given(data=st.data())
def test_a_sheet_with_elements_lost_doubled_or_filled_with_nonsense_is_read_or_refused(
    tmp_path_factory: Any, data: st.DataObject
) -> None:
    root = ElementTree.fromstring(sheet())
    for _ in range(data.draw(st.integers(1, 5))):
        parents = [element for element in root.iter() if len(element)]
        parent = parents[data.draw(st.integers(0, len(parents) - 1))]
        child = parent[data.draw(st.integers(0, len(parent) - 1))]
        match data.draw(st.sampled_from(["lose", "double", "fill", "move", "attribute"])):
            case "lose":
                parent.remove(child)
            case "double":
                parent.append(deepcopy(child))
            case "fill":
                child.text = data.draw(st.sampled_from(NONSENSE))
            case "move":
                parent.remove(child)
                root.append(child)
            case "attribute" if child.attrib:
                child.set(data.draw(st.sampled_from(sorted(child.attrib))), data.draw(st.sampled_from(NONSENSE)))
        if not len(root):
            break
    path = tmp_path_factory.getbasetemp() / "nonsense.musicxml"
    path.write_bytes(ElementTree.tostring(root))
    try:
        imported = import_file(path)
    except ChartError as error:
        assert str(error).startswith(str(path)) and "\n" not in str(error)
    else:
        form = imported.chart.unfold()
        assert parse_toml(write_imported(imported)).unfold().melody == form.melody
        assert form.chords[0].start == 0 and form.chords[-1].end == form.length > 0


@given(data=st.data())
def test_a_garbled_container_is_read_or_refused(tmp_path_factory: Any, data: st.DataObject) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as container:
        container.writestr(
            "META-INF/container.xml", '<container><rootfiles><rootfile full-path="s.xml"/></rootfiles></container>'
        )
        container.writestr("s.xml", sheet())
    garbled = bytearray(stream.getvalue())
    for _ in range(data.draw(st.integers(1, 3))):
        garbled[data.draw(st.integers(0, len(garbled) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.getbasetemp() / "garbled.mxl"
    path.write_bytes(bytes(garbled))
    try:
        load(path)
    except ChartError as error:
        assert str(error).startswith(str(path)) and "\n" not in str(error)


def test_chord_symbols_of_another_part_stand_in_its_own_divisions(written: Write, ink: Any) -> None:
    """MusicXML 4.0, divisions: each part says how many parts of a quarter its own durations count."""
    path = written([ink.note("C5", 2) + ink.note("D5", 2), ink.note("E5", 4), ink.note("F5", 4)])
    rest = "<note><rest/><duration>8</duration></note>"
    first = "<attributes><divisions>4</divisions></attributes>"
    bars = [ink.chord(root) + rest + ink.chord("G", "dominant") + rest for root in ("C", "F", "D")]
    measures = "".join(
        f'<measure number="{k}">{first if k == 1 else ""}{bar}</measure>' for k, bar in enumerate(bars, 1)
    )
    path.write_text(path.read_text().replace("</score-partwise>", f'<part id="P2">{measures}</part></score-partwise>'))
    form = load(path).unfold()
    assert heard(form) == [(0, 2, "C5"), (2, 2, "D5"), (4, 4, "E5"), (8, 4, "F5")]
    assert symbols(form) == [(0, "C"), (2, "G7"), (4, "F"), (6, "G7"), (8, "D"), (10, "G7")]


def with_parts(path: Path, ink: Any, *others: str, names: str = "") -> Path:
    """A score with more parts, each its measures."""
    parts = "".join(f'<part id="Q{k}">{measures}</part>' for k, measures in enumerate(others, 1))
    text = path.read_text().replace("</score-partwise>", f"{parts}</score-partwise>")
    path.write_text(text.replace("</part-list>", f"{names}</part-list>"))
    return path


def measures(*bars: str) -> str:
    return "".join(f"<measure>{bar}</measure>" for bar in bars)


def test_the_first_part_with_notes_has_the_melody_unless_another_is_asked_for(written: Write, ink: Any) -> None:
    head = ink.attributes()
    path = with_parts(
        written([ink.rest(4)]), ink, measures(head + ink.note("D4", 4)), measures(head + ink.note("E4", 4))
    )
    assert [name for _, _, name in heard(load(path).unfold())] == ["D4"]
    for wanted in ("q2", "Q2"):
        assert [name for _, _, name in heard(import_file(path, melody=wanted).chart.unfold())] == ["E4"]
    with pytest.raises(ChartError, match="has no part 'Q3'; there are Melody, Q1, Q2"):
        import_file(path, melody="Q3")


def test_chords_alone_are_a_tune_and_nothing_at_all_is_none(written: Write, ink: Any) -> None:
    assert symbols(load(written([ink.chord("C") + ink.rest(4), ink.rest(4)])).unfold()) == [(0, "C")]
    with pytest.raises(ChartError, match=r"sheet\.musicxml: holds neither melody nor chords; open a lead sheet"):
        load(written([ink.rest(4)]))


def test_symbols_of_another_part_are_taken_where_it_has_as_many_bars(written: Write, ink: Any) -> None:
    other = ink.attributes() + ink.chord("G") + ink.rest(4)
    path = with_parts(written([ink.note("C4", 4)] * 2), ink, measures(other, ink.rest(4)))
    assert symbols(load(path).unfold()) == [(0, "G")]
    path = with_parts(written([ink.note("C4", 4)] * 2), ink, measures(other))
    assert symbols(load(path).unfold()) == [(0, "N.C.")]
    path = with_parts(written([ink.chord("C") + ink.note("C4", 4)] * 2), ink, measures(other, ink.rest(4)))
    assert symbols(load(path).unfold()) == [(0, "C"), (4, "C")]


@pytest.mark.parametrize(("parts", "fine"), [(100, True), (101, False)])
def test_a_score_has_a_hundred_parts_at_most(written: Write, ink: Any, parts: int, fine: bool) -> None:
    path = with_parts(written([ink.note("C4", 4)]), ink, *["<measure/>"] * (parts - 1))
    if fine:
        assert len(load(path).unfold().bars) == 1
        return
    with pytest.raises(ChartError, match="has more than 100 parts; export the melody and its chords alone"):
        load(path)


def test_what_another_part_cannot_say_is_kept_as_a_remark(written: Write, ink: Any) -> None:
    odd = "<note><rest/></note>"
    path = with_parts(written([ink.note("C4", 4)] * 2), ink, measures(odd, ink.note("D4", 4)))
    assert [(r.bar, r.what, r.text) for r in import_file(path).remarks] == [
        ("1", "part Q1 can't be read", "a note without a duration"), ("2", "part Q1, voice 1", "D48"),
    ]  # fmt: skip


def test_measures_without_numbers_are_counted_from_one(written: Write, ink: Any) -> None:
    path = written([ink.chord("C") + ink.note("C4", 4), ink.words("slowly") + ink.note("D4", 4)])
    bare = path.read_text().replace(' number="1"', "").replace(' number="2"', "")
    path.write_text(bare)
    assert [(r.bar, r.text) for r in import_file(path).remarks] == [("2", "slowly")]
    path.write_text(bare.replace(ink.chord("C"), ""))
    other = measures(ink.attributes() + ink.chord("C") + ink.rest(4), ink.rest(4))
    assert [(r.bar, r.text) for r in import_file(with_parts(path, ink, other)).remarks] == [("2", "slowly")]


def test_a_score_of_another_kind_is_said_to_be_one(tmp_path: Path) -> None:
    path = tmp_path / "sheet.musicxml"
    for text, line in (
        ("<html/>", r"is not a MusicXML score \(its root is <html>\)"),
        ("<score-partwise/>", "has no part with measures"),
    ):
        path.write_text(text)
        with pytest.raises(ChartError, match=rf"sheet\.musicxml: {line}"):
            load(path)


@pytest.mark.parametrize(
    ("head", "title"),
    [
        ("<work><work-title> A  Walk </work-title></work>", "A Walk"), ("<movement-title>B</movement-title>", "B"), ("", "sheet"),
    ],
)  # fmt: skip
def test_a_score_is_called_by_its_title_or_by_its_file(written: Write, ink: Any, head: str, title: str) -> None:
    assert load(written([ink.note("C4", 4)], head=head)).title == title
