"""A MusicXML sheet loses nothing on its way into a chart: what a chart can't hold is kept with its bar."""

# ruff: noqa: E501 (remarks stand whole in the tables)

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, fromstring

import pytest

from companion.chart.imported import write_imported
from companion.chart.musicxml.read import import_musicxml
from companion.chart.musicxml.remarks import (
    barline_remarks,
    direction_remarks,
    line_text,
    lyric_remarks,
    note_remarks,
    pitch_text,
    style_remarks,
    tune_remarks,
    words_sung,
)
from companion.chart.remarks import Remark
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.load import load

Write = Callable[..., Path]


def kept(path: Path) -> list[tuple[str, str, str]]:
    return [(remark.bar, remark.what, remark.text) for remark in import_musicxml(path).remarks]


def test_a_bare_sheet_leaves_nothing_to_say(written: Write, ink: Any) -> None:
    assert kept(written([ink.chord("C") + ink.note("C4", 4), ink.note("D4", 4)])) == []


@pytest.mark.parametrize(
    ("inside", "what", "text"),
    [
        ("<notations><articulations><staccato/></articulations></notations>", "a decoration", "staccato"),
        ("<notations><ornaments><trill-mark/></ornaments></notations>", "a decoration", "trill-mark"),
        ("<notations><technical><fingering>3</fingering></technical></notations>", "a decoration", "fingering 3"),
        ("<notations><fermata/></notations>", "a decoration", "fermata"),
        ('<notations><slur type="start"/></notations>', "a slur", ""),
        ("<notations><dynamics><sf/></dynamics></notations>", "dynamics", "sf"),
    ],
)
def test_what_stands_at_a_note_is_kept(written: Write, ink: Any, inside: str, what: str, text: str) -> None:
    noted = ink.note("D4", 4).replace("</note>", f"{inside}</note>")
    assert kept(written([ink.note("C4", 4), noted])) == [("2", what, text)]


@pytest.mark.parametrize(
    ("direction", "what", "text"),
    [
        ("<dynamics><mf/></dynamics>", "dynamics", "mf"),
        ('<wedge type="crescendo"/>', "dynamics", "crescendo"),
        ('<pedal type="start"/>', "pedal", "start"),
        ("<words>rit.</words>", "words", "rit."),
        (
            "<metronome><beat-unit>quarter</beat-unit><per-minute>80</per-minute></metronome>",
            "a change of tempo", "80 quarters a minute",
        ),
    ],
)  # fmt: skip
def test_what_stands_over_the_notes_is_kept(written: Write, ink: Any, direction: str, what: str, text: str) -> None:
    tempo = ink.sign("<metronome><beat-unit>quarter</beat-unit><per-minute>120</per-minute></metronome>")
    assert kept(written([tempo + ink.note("C4", 4), ink.sign(direction) + ink.note("D4", 4)])) == [("2", what, text)]


@pytest.mark.parametrize("sign", [
    "symbol", "harp-pedals", "damp", "damp-all", "eyeglasses", "string-mute", "scordatura", "image", "principal-voice",
    "percussion", "accordion-registration", "staff-divide", "other-direction",
])  # fmt: skip
def test_every_kind_of_direction_in_musicxml_is_kept(written: Write, ink: Any, sign: str) -> None:
    # The kinds of MusicXML 4.0's direction-type that a chart has no use for (from memory).
    assert kept(written([ink.sign(f"<{sign}/>") + ink.note("C4", 4)])) == [("1", "a direction", sign)]


def test_signs_on_and_instead_of_notes_are_kept(written: Write, ink: Any) -> None:
    slashes = '<attributes><measure-style><slash type="start"/></measure-style></attributes>'
    bars = [slashes + ink.note("C4", 4), ink.note("D4", 4) + ink.right("<fermata/>")]
    assert kept(written(bars)) == [("1", "signs instead of notes", "slash"), ("2", "on the bar line", "fermata")]


def test_a_segno_on_a_bar_line_is_where_one_goes_back_to(written: Write, ink: Any) -> None:
    bars = [ink.note("C4", 4), ink.left("<segno/>") + ink.note("D4", 4), ink.note("E4", 4) + ink.words("D.S.")]
    assert [note.pitch.step for note in load(written(bars)).unfold().melody] == ["C", "D", "E", "D", "E"]


def test_words_that_are_understood_are_not_repeated(written: Write, ink: Any) -> None:
    bars = [ink.words("Medium Swing") + ink.words("Verse") + ink.note("C4", 4), ink.note("D4", 4) + ink.words("Fine")]
    assert kept(written(bars)) == []


def test_words_to_sing_are_kept_by_verse_four_bars_together(written: Write, ink: Any) -> None:
    def sung(first: str, second: str, syllabic: str = "single") -> str:
        lyrics = "".join(
            f'<lyric number="{k}"><syllabic>{syllabic}</syllabic><text>{text}</text></lyric>'
            for k, text in enumerate((first, second), 1)
        )
        return ink.note("C4", 4).replace("</note>", f"{lyrics}</note>")

    bars = [sung("la", "lu", "begin"), *[sung("li", "lo", "end")] * 4]
    assert kept(written(bars)) == [
        ("1", "words to sing", "la-li li li"), ("1", "words to sing, verse 2", "lu-lo lo lo"),
        ("5", "words to sing", "li"), ("5", "words to sing, verse 2", "lo"),
    ]  # fmt: skip


def test_a_second_voice_and_the_lower_notes_of_a_chord_are_kept(written: Write, ink: Any) -> None:
    chord = ink.note("E4", 2) + ink.note("G4", 2, "<chord/>") + ink.note("C5", 2)
    second = "<backup><duration>48</duration></backup>" + ink.note("C3", 4).replace("<voice>1", "<voice>2")
    path = written([chord + second, ink.note("C4", 4)])
    assert kept(path) == [
        ("1", "notes struck together, the top one is the melody", "[EG]2"), ("1", "voice 2", "C,4"),
    ]  # fmt: skip
    assert [str(note.pitch) for note in load(path).unfold().melody] == ["G4", "C5", "C4"]


def test_another_part_is_kept_and_may_be_chosen_instead(written: Write, ink: Any) -> None:
    path = written([ink.note("C5", 4), ink.note("D5", 4)])
    other = f'<part id="P2"><measure number="1">{ink.attributes()}{ink.note("C3", 4)}</measure></part>'
    text = path.read_text().replace("</score-partwise>", f"{other}</score-partwise>")
    named = '<score-part id="P2"><part-name>Bass</part-name></score-part>'
    path.write_text(text.replace("</part-list>", f"{named}</part-list>"))
    assert kept(path) == [("1", "part Bass, voice 1", "C,4")]
    assert [str(n.pitch) for n in import_musicxml(path, melody="bass").chart.unfold().melody] == ["C3"]
    with pytest.raises(ChartError, match="has no part 'Flute'; there are Melody, Bass"):
        import_musicxml(path, melody="Flute")


def test_a_chord_that_isnt_one_is_kept_on_import_and_refused_in_playing(written: Write, ink: Any) -> None:
    odd = "<harmony><root><root-step>C</root-step></root><kind>purple</kind></harmony>"
    path = written([ink.chord("G") + ink.note("C4", 4), odd + ink.note("D4", 4)])
    imported = import_musicxml(path)
    assert [span.chord.symbol for span in imported.chart.unfold().chords] == ["G"]
    assert [(remark.bar, remark.what) for remark in imported.remarks] == [("2", "a chord symbol that isn't understood")]
    with pytest.raises(ChartError, match=r"bar 2: C with kind 'purple'"):
        load(path)


def test_of_a_kind_that_has_no_name_the_root_is_kept_and_what_was_written_is_said(written: Write, ink: Any) -> None:
    odd = '<harmony><root><root-step>C</root-step></root><kind text="weird">other</kind></harmony>'
    path = written([ink.chord("G") + ink.note("C4", 4), odd + ink.note("D4", 4)])
    assert kept(path) == [("2", "of a chord symbol only the root is understood", "Cweird")]
    text = write_imported(import_musicxml(path))
    assert [span.chord.pitch_classes for span in parse_toml(text).unfold().chords][1:] == [(0,)]


def test_two_chords_on_one_beat_leave_the_last_and_a_remark(written: Write, ink: Any) -> None:
    path = written([ink.chord("C") + ink.chord("F") + ink.note("C4", 4)])
    assert kept(path) == [("1", "another chord on the same beat", "C")]
    assert [span.chord.symbol for span in load(path).unfold().chords] == ["F"]


def test_a_change_of_key_is_kept_and_the_notes_sound_as_written(written: Write, ink: Any) -> None:
    change = "<attributes><key><fifths>-3</fifths><mode>major</mode></key></attributes>"
    assert kept(written([ink.note("C4", 4), change + ink.note("Eb4", 4)])) == [("2", "the key changes", "Eb major")]


def test_a_dorian_tune_is_in_minor_on_its_own_tonic(written: Write, ink: Any) -> None:
    imported = import_musicxml(written([ink.note("D4", 4)], ink.attributes(mode="dorian")))
    assert (imported.chart.fifths, imported.chart.minor) == (-1, True)
    assert [remark.text for remark in imported.remarks] == ["D dorian"]


def test_the_head_of_the_page_is_kept(written: Write, ink: Any) -> None:
    head = (
        "<work><work-title>Trial</work-title></work><identification><creator type='composer'>One</creator>"
        "<creator type='lyricist'>Two</creator><rights>Free</rights></identification>"
        "<credit><credit-words>Trial</credit-words></credit><credit><credit-words>For Three</credit-words></credit>"
    )
    assert kept(written([ink.note("C4", 4)], head=head)) == [
        ("", "lyricist", "Two"), ("", "rights", "Free"), ("", "words on the page", "For Three"),
    ]  # fmt: skip


def test_a_bar_that_doesnt_fill_its_metre_is_reported(written: Write, ink: Any) -> None:
    bars = [ink.note("C4", 4), ink.note("D4", 3), ink.note("E4", 4)]
    assert kept(written(bars)) == [("2", "lasts 3 quarters where its metre has 4", "")]


@pytest.mark.parametrize("bar_line", ["right", "left"])
@pytest.mark.parametrize("inside", ["<bar-style>light-light</bar-style>", "<bar-style>light-heavy</bar-style>"])
def test_a_double_bar_line_leaves_nothing_to_say(written: Write, ink: Any, bar_line: str, inside: str) -> None:
    second = ink.note("D4", 4)
    bar = ink.left(inside) + second if bar_line == "left" else second + ink.right(inside)
    assert kept(written([ink.note("C4", 4), bar])) == []


def test_a_coda_at_the_end_of_a_bar_is_kept_with_it(written: Write, ink: Any) -> None:
    assert ("1", "on the bar line", "coda") in kept(
        written([ink.note("C4", 4) + ink.right("<coda/>"), ink.note("D4", 4)])
    )


# each function by itself


def said(remarks: Iterable[Remark]) -> list[str]:
    return [str(remark) for remark in remarks]


@pytest.mark.parametrize(
    ("note", "found"),
    [
        ("<grace/><pitch><step>c</step><alter>1</alter><octave>5</octave></pitch>", ["grace notes: ^c"]),
        ("<cue/><pitch><step>C</step><octave>4</octave></pitch>", ["cue notes: C"]), ("<unpitched/>", ["a note without a pitch"]),
        ("<notations><tied/><tuplet/><accidental-mark/></notations>", []),
        ('<notations><slur type="start"/><slide type="continue"/><glissando/></notations>', ["a slur", "a slide", "a glissando"]),
        ('<notations><slur type="stop"/></notations>', []),
        ("<notations><articulations><staccato/></articulations><ornaments><tremolo>3</tremolo></ornaments><technical><fingering> 2 </fingering></technical></notations>",
         ["a decoration: staccato", "a decoration: tremolo 3", "a decoration: fingering 2"]),
        ("<notations><dynamics><mf/><other-dynamics> loud </other-dynamics></dynamics></notations>", ["dynamics: mf", "dynamics: loud"]),
        ("<notations><fermata/></notations>", ["a decoration: fermata"]),
    ],
)  # fmt: skip
def test_what_stands_at_a_note(note: str, found: list[str]) -> None:
    assert said(note_remarks(fromstring(f"<note>{note}</note>"))) == found


@pytest.mark.parametrize(
    ("signs", "found"),
    [
        ("<dynamics><p/></dynamics>", ["dynamics: p"]), ('<wedge type="diminuendo"/>', ["dynamics: diminuendo"]),
        ('<wedge type="stop"/>', []), ('<pedal type="stop"/>', ["pedal: stop"]), ("<words>x</words><segno/><dashes/>", []),
        ("<damp>yes</damp>", ["a direction: damp yes"]), ("<octave-shift/><bracket/><metronome/><coda/><rehearsal/>", []),
    ],
)  # fmt: skip
def test_what_stands_over_or_under_the_notes(signs: str, found: list[str]) -> None:
    assert (
        said(direction_remarks(fromstring(f"<direction><direction-type>{signs}</direction-type></direction>"))) == found
    )


@pytest.mark.parametrize(
    ("location", "inside", "found"),
    [
        ("right", "<fermata/><wavy-line/><repeat/>", ["on the bar line: fermata", "on the bar line: wavy-line"]),
        ("right", "<segno/><coda/>", ["on the bar line: segno", "on the bar line: coda"]), ("left", "<segno/><coda/>", []),
        ("left", "<fermata/>", ["on the bar line: fermata"]),
    ],
)  # fmt: skip
def test_what_stands_on_a_bar_line(location: str, inside: str, found: list[str]) -> None:
    assert said(barline_remarks(fromstring(f'<barline location="{location}">{inside}</barline>'))) == found


def test_signs_that_stand_for_beats_are_kept_where_they_begin() -> None:
    styles = "".join(f"<measure-style>{sign}</measure-style>" for sign in (
        '<slash type="start"/>', '<slash type="stop"/>', '<beat-repeat type="start"/>', "<multiple-rest>2</multiple-rest>",
    ))  # fmt: skip
    assert said(style_remarks(fromstring(f"<attributes>{styles}</attributes>"))) == [
        "signs instead of notes: slash", "signs instead of notes: beat-repeat",
    ]  # fmt: skip


def test_words_are_joined_by_hyphens_and_elisions_and_kept_by_verse() -> None:
    def note(*lyrics: str) -> Element:
        return fromstring(f"<note>{''.join(lyrics)}</note>")

    begun = "<lyric><syllabic>begin</syllabic><text>ket</text></lyric>"
    middle = "<lyric><syllabic>middle</syllabic><text>tle</text><elision>_</elision><text>at</text></lyric>"
    ended = '<lyric><syllabic>end</syllabic><text> six </text></lyric><lyric number="2"><text>la</text></lyric>'
    assert words_sung([note(begun), note(middle), note(ended), note("<lyric><text/></lyric>")]) == {
        "1": "ket-tle_at-six", "2": "la",
    }  # fmt: skip


def test_a_line_of_words_has_four_bars_from_the_first_that_is_sung() -> None:
    a, b = {"1": "a"}, {"1": "b", "2": "c"}
    told = {index: said(remarks) for index, remarks in lyric_remarks([{}, a, {}, b, a, a, {}]).items()}
    assert told == {
        1: ["words to sing: a b a", "words to sing, verse 2: c"], 5: ["words to sing: a"],
    }  # fmt: skip
    assert {k: said(v) for k, v in lyric_remarks([{"1": "ket-"}, {"1": "tle"}]).items()} == {
        0: ["words to sing: ket-tle"]
    }
    assert lyric_remarks([{}, {}]) == lyric_remarks([]) == {}
    assert list(lyric_remarks([a] * 9)) == [0, 4, 8]


@pytest.mark.parametrize(
    ("step", "alter", "octave", "text"),
    [
        ("C", "0", "4", "C"), ("C", "0", "5", "c"), ("C", "0", "6", "c'"), ("C", "0", "3", "C,"), ("C", "0", "2", "C,,"),
        ("b", "-1", "4", "_B"), ("F", "2", "5", "^^f"), ("F", "-2", "5", "__f"), ("F", "1.0", "4", "^F"), ("H", "0", "4", ""),
        ("C", "x", "4", ""), ("C", "0", "99", "c" + "'" * 9), ("C", "0", "-99", "C" + "," * 9), ("C", "3", "4", "C"),
    ],
)  # fmt: skip
def test_a_pitch_in_abc(step: str, alter: str, octave: str, text: str) -> None:
    """The ABC Music Standard 2.1, sections 4.1 and 4.2."""
    pitch = f"<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
    assert pitch_text(fromstring(f"<note>{pitch}</note>")) == text
    assert pitch_text(fromstring("<note><pitch><step>C</step></pitch></note>")) == "C"
    assert pitch_text(fromstring("<note><rest/></note>")) == ""


def test_a_voice_is_written_in_quarters_with_chords_in_brackets() -> None:
    def note(inside: str) -> Element:
        return fromstring(f"<note>{inside}</note>")

    c, e, rest = (f"<pitch><step>{step}</step><octave>4</octave></pitch>" for step in "CEH")
    line = [
        (Fraction(1), note(c)), (Fraction(2), note(e)), (Fraction(2), note(f"<chord/>{c}")), (Fraction(1, 2), note(rest)),
        (Fraction(3, 2), note(f"<chord/>{c}")),
    ]  # fmt: skip
    assert line_text(line) == "C [EC]2 [zC]3/2"
    assert line_text([(Fraction(2), note(f"<chord/>{c}"))]) == "C2"


def test_the_head_of_a_score_is_told_once() -> None:
    root = fromstring(
        "<score-partwise><work><work-number>Op. 1</work-number><work-title>Trial</work-title></work>"
        "<movement-number>2</movement-number><movement-title> A  Walk </movement-title><identification>"
        "<creator>One</creator><creator type='composer'>Other</creator><creator type='arranger'>Two</creator>"
        "<creator type='poet'> </creator><rights>Free</rights><rights/></identification>"
        + "".join(
            f"<credit><credit-words>{text}</credit-words></credit>" for text in ("Trial", "Two", "Page", "Page", "")
        )
        + "</score-partwise>"
    )
    alike = fromstring("<score-partwise><movement-title>One</movement-title></score-partwise>")
    assert said(tune_remarks(alike, "Trial", "One")) == [], "the composer's name again says nothing new"
    assert said(tune_remarks(root, "Trial", "One")) == [
        "composer: Other", "arranger: Two", "rights: Free", "work number: Op. 1", "movement number: 2",
        "movement title: A Walk", "words on the page: Page",
    ]  # fmt: skip
