"""What a voice carries in MusicXML 4.0, and in which order: symbols, pedal, octaves, ties, stems, tuplets and holds."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from xml.etree.ElementTree import Element

import pytest

from companion.engrave.musicxml_notes import head_name, write_voice
from companion.engrave.sheet import Bar, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

C, E, G = (Pitch(step, 0, 4) for step in "CEG")


def voice(*edges: int | Fraction, staff: int = 1, number: int = 1, pitches: Sequence[Pitch] = (C,)) -> Voice:
    """Notes from edge to edge; what is left of the bar is rests."""
    spans = [VoiceSpan(Fraction(a), Fraction(b), tuple(pitches)) for a, b in pairwise(edges)]
    return Voice(staff, number, write_bar(spans, Fraction(4), Metre()))


def bar(*voices: Voice, **more: object) -> Bar:
    return Bar(1, Fraction(4), Metre(), voices, **more)  # type: ignore[arg-type]


def written(one: Bar, number: int = 0, staves: Sequence[int] = (1, 2), *, named: bool = False) -> list[Element]:
    measure = Element("measure")
    write_voice(measure, one, number, staves, 12, {}, named=named)
    return list(measure)


def row(elements: Sequence[Element]) -> str:
    """Notes as their step and duration; signs as their name, kind and offset."""
    words = []
    for one in elements:
        if one.tag == "note":
            words.append(f"{one.findtext('pitch/step') or 'r'}{one.findtext('duration')}")
            continue
        offset = one.findtext("offset")
        sign = one.find("direction-type/*")
        if sign is None:
            said = f"{one.findtext('root/root-step')}"
        else:
            said = f"{sign.tag}-{sign.get('type')}-{one.get('placement')}" + "-sign" * (sign.get("sign") == "yes")
        words.append(said + (f"+{offset}" if offset else ""))
    return " ".join(words)


def test_the_first_voice_carries_the_symbols_where_they_fall() -> None:
    chords = tuple((Fraction(beat), parse_chord(symbol)) for beat, symbol in ((0, "D7"), (1, "G7"), (3, "A7")))
    one = bar(voice(0, 2, 4), voice(0, 4, number=2), chords=chords)
    assert row(written(one)) == "D G+12 C24 A+12 C24"
    assert row(written(one, 1)) == "C48"


def test_the_last_voice_carries_the_pedal_and_a_stop_at_its_very_end() -> None:
    signs = ((0, "first"), (1, "stop"), (1, "start"), (Fraction(7, 2), "stop"))
    pedals = tuple((Fraction(beat), kind) for beat, kind in signs)
    one = bar(voice(0, 4), voice(0, 2, 4, staff=2, number=6), pedals=(*pedals, (Fraction(4), "stop")))
    assert row(written(one)) == "C48"
    down, up = "pedal-start-below", "pedal-stop-below"
    assert row(written(one, 1)) == f"{down}-sign {up}+12 {down}+12 C24 {up}+18 C24 {up}"
    assert {sign.findtext("staff") for sign in written(one, 1) if sign.tag == "direction"} == {"2"}


def test_octave_lines_begin_before_their_first_head_and_end_after_their_last() -> None:
    edges = ((Fraction(1), "start"), (Fraction(3), "stop"))
    low = bar(voice(0, 4), voice(0, 1, 2, 3, 4, staff=2, number=6), octaves=edges)
    assert row(written(low, 1)) == "C12 octave-shift-up-below C12 C12 octave-shift-stop-below C12"
    high = bar(voice(0, 1, 2, 3, 4), high=edges)
    assert row(written(high)) == "C12 octave-shift-down-above C12 C12 octave-shift-stop-above C12"
    assert row(written(bar(voice(0, 4), voice(0, 4, number=2), high=edges), 1)) == "C48", "of the melody alone"
    assert {shift.get("size") for sign in written(high) for shift in sign.iter("octave-shift")} == {"8"}


@pytest.mark.parametrize(
    ("voices", "stems"),
    [
        ([voice(0, 2, 4)], [None]),
        ([voice(0, 2, 4), voice(0, 2, 4, number=2)], ["up", "down"]),
        ([voice(0, 2, 4), voice(0, 2, 4, staff=2, number=6)], [None, None]),
        ([voice(0, 2, 4, staff=2, number=5), voice(0, 2, 4, staff=2, number=6)], ["up", "down"]),
    ],
)
def test_stems_part_two_voices_of_a_staff(voices: list[Voice], stems: list[str | None]) -> None:
    one = bar(*voices)
    for number, stem in enumerate(stems):
        assert {note.findtext("stem") for note in written(one, number)} == {stem}
    assert all(note.find("stem") is None for note in written(bar(voice(0, 4), voice(0, 4, number=2)))), (
        "of no whole note"
    )


def test_a_last_chord_is_held_once_a_staff_over_its_lowest_head() -> None:
    chord = voice(0, 2, 4, pitches=(C, E, G))
    one = bar(chord, voice(0, 4, number=2), voice(0, 4, staff=2, number=6), fermata=True)
    held = [[note.find("notations/fermata") is not None for note in written(one, number)] for number in range(3)]
    assert held == [[False, False, False, True, False, False], [False], [True]]
    assert not any(note.find("notations") is not None for note in written(bar(chord)))


def test_a_chord_is_one_note_and_others_with_it_and_has_one_name() -> None:
    one = bar(voice(0, 2, 4, pitches=(C, E, G)))
    notes = written(one, named=True)
    assert [note.find("chord") is not None for note in notes] == [False, True, True] * 2
    assert [note.get("id") for note in notes] == ["bar1voice0head0", None, None, "bar1voice0head1", None, None]
    assert head_name(one, 3, 2) == "bar1voice3head2"
    assert {note.findtext("staff") for note in notes} == {"1"}
    assert {note.findtext("staff") for note in written(one, staves=(1,))} == {None}
    alone = bar(voice(0, 4, staff=2, number=6))
    assert {note.findtext("staff") for note in written(alone, staves=(2, 1))} == {"1"}


def test_a_triplet_s_bracket_stands_where_no_beam_holds_it_together() -> None:
    thirds = [Fraction(n, 3) for n in range(4)]
    for edges, bracket in (([*thirds, 4], "no"), ([0, Fraction(2, 3), 1, 4], "yes")):
        notes = written(bar(voice(*edges)))
        marks = [(tuplet.get("type"), tuplet.get("bracket")) for note in notes for tuplet in note.iter("tuplet")]
        assert marks == [("start", bracket), ("stop", None)]
        inside = [note for note in notes if note.find("time-modification") is not None]
        assert {(n.findtext(".//actual-notes"), n.findtext(".//normal-notes")) for n in inside} == {("3", "2")}


def test_a_bar_that_is_one_triplet_begins_and_ends_its_bracket() -> None:
    """Of half notes, three in the time of two."""
    notes = written(bar(voice(0, Fraction(4, 3), Fraction(8, 3), 4)))
    assert [[t.get("type") for t in note.iter("tuplet")] for note in notes] == [["start"], [], ["stop"]]


def test_two_triplets_side_by_side_have_a_bracket_each() -> None:
    notes = written(bar(voice(*(Fraction(n, 3) for n in range(7)), 4)))
    marks = [[t.get("type") for t in note.iter("tuplet")] for note in notes[:6]]
    assert marks == [["start"], [], ["stop"]] * 2


def test_beams_are_numbered_from_the_first_on() -> None:
    """MusicXML 4.0, beam: 1 is the quavers' beam."""
    notes = written(bar(voice(0, Fraction(1, 4), Fraction(1, 2), 1, 4)))
    assert [[(beam.get("number"), beam.text) for beam in note.iter("beam")] for note in notes[:3]] == [
        [("1", "begin"), ("2", "begin")], [("1", "continue"), ("2", "end")], [("1", "end")],
    ]  # fmt: skip


def test_a_hold_stands_among_what_is_drawn_at_its_note_already() -> None:
    spans = [VoiceSpan(Fraction(0), Fraction(2), (C,)), VoiceSpan(Fraction(2), Fraction(4), (C,), tied_on=True)]
    notes = written(bar(Voice(1, 1, write_bar(spans, Fraction(4), Metre())), fermata=True))
    assert [[one.tag for one in drawn] for note in notes for drawn in note.findall("notations")] == [
        ["tied", "fermata"]
    ]


def test_ties_are_told_to_programs_and_drawn() -> None:
    spans = [VoiceSpan(Fraction(0), Fraction(4), (C, E), tied_back=True, tied_on=True, joining=(E,))]
    low, joining = written(bar(Voice(1, 1, write_bar(spans, Fraction(4), Metre()))))
    assert [tie.get("type") for tie in low.findall("tie")] == ["stop", "start"]
    assert [tie.get("type") for tie in low.findall("notations/tied")] == ["stop", "start"]
    assert [tie.get("type") for tie in joining.findall("tie")] == ["start"], "it is struck here"


def test_a_whole_bar_of_rest_says_so_and_has_no_value() -> None:
    (rest,) = written(bar(voice()))
    assert rest.find("rest[@measure='yes']") is not None and rest.find("type") is None
    assert rest.findtext("duration") == "48" and rest.findtext("voice") == "1"
