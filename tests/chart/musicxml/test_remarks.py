"""A MusicXML sheet loses nothing on its way into a chart: what a chart can't hold is kept with its bar."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.chart.imported import write_imported
from companion.chart.musicxml.read import import_musicxml
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
