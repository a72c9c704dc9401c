"""Single measures against MusicXML 4.0: durations, keys, time signatures, transposition, voices, tempi, and limits."""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element, fromstring

import pytest

from companion.chart.musicxml.measures import MOST_DIVISIONS, MOST_ELEMENTS, MeasureReader, melody_voice_id
from companion.chart.remarks import Remark
from companion.chart.written import WrittenBar
from companion.errors import ChartError
from companion.music.meter import Metre

DIVISIONS = 12
"""To the quarter."""


def reader(*, lenient: bool = False) -> MeasureReader:
    made = MeasureReader("sheet.musicxml", ("1", "1"), lenient=lenient)
    made.divisions = DIVISIONS
    return made


def elements(xml: str) -> list[Element]:
    return list(fromstring(f"<measure>{xml}</measure>"))


def bar(xml: str, by: MeasureReader | None = None) -> WrittenBar:
    return (by or reader()).bar("7", elements(xml))


def note(name: str = "C5", quarters: float = 1, inside: str = "", voice: str = "1", staff: str = "1") -> str:
    step, alter, octave = name[0], name.count("#") - name.count("b"), name[1:].lstrip("#b")
    return (
        f"<note>{inside}<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
        f"<duration>{round(quarters * DIVISIONS)}</duration><voice>{voice}</voice><staff>{staff}</staff></note>"
    )


def heads(made: WrittenBar) -> list[tuple[float, float, str]]:
    return [(float(n.beat), float(n.length), str(n.pitch)) for n in made.notes]


def refused(xml: str, line: str) -> None:
    with pytest.raises(ChartError) as error:
        bar(xml)
    assert str(error.value).startswith(f"sheet.musicxml: bar 7: {line}")


# lengths


@pytest.mark.parametrize(
    ("kind", "length"),
    [
        ("1024th", Fraction(1, 256)), ("512th", Fraction(1, 128)), ("256th", Fraction(1, 64)),
        ("128th", Fraction(1, 32)), ("64th", Fraction(1, 16)), ("32nd", Fraction(1, 8)), ("16th", Fraction(1, 4)),
        ("eighth", Fraction(1, 2)), ("quarter", Fraction(1)), ("half", Fraction(2)), ("whole", Fraction(4)),
        ("breve", Fraction(8)), ("long", Fraction(16)), ("maxima", Fraction(32)),
    ],
)  # fmt: skip
def test_a_note_without_a_duration_is_as_long_as_its_type_dots_and_tuplet_say(kind: str, length: Fraction) -> None:
    """MusicXML 4.0, note-type-value; each dot adds half of what is there (common practice)."""
    for more, times in (
        ("", 1), ("<dot/>", Fraction(3, 2)), ("<dot/><dot/>", Fraction(7, 4)),
        ("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>",
         Fraction(2, 3)),
    ):  # fmt: skip
        made = bar(f"<note><pitch><step>C</step><octave>4</octave></pitch><type>{kind}</type>{more}</note>")
        assert made.length == made.notes[0].length == length * times


def test_a_duration_counts_in_divisions() -> None:
    def rest(divisions: int) -> str:
        return f"<attributes><divisions>{divisions}</divisions></attributes><note><rest/><duration>3</duration></note>"

    assert [float(bar(rest(divisions)).length) for divisions in (1, 4, 480)] == [3, 0.75, 3 / 480]
    assert bar(rest(MOST_DIVISIONS)).length == 0 and MOST_DIVISIONS == 10**7
    for divisions in (MOST_DIVISIONS + 1, 0, -1):
        refused(rest(divisions), f"<divisions> is {divisions}")


def test_where_no_divisions_are_said_durations_count_quarters() -> None:
    assert bar("<note><rest/><duration>3</duration></note>", MeasureReader("x", ("1", "1"))).length == 3


@pytest.mark.parametrize(("quarters", "fine"), [(1000, True), (1000.5, False)])
def test_no_note_lasts_more_than_a_thousand_quarters(quarters: float, fine: bool) -> None:
    if fine:
        assert bar(note(quarters=quarters)).length == quarters
    else:
        refused(note(quarters=quarters), "a duration of 1000.5 quarters")


@pytest.mark.parametrize(
    ("duration", "length"), [("6", 0.5), (" 18 ", 1.5), ("3.0", 0.25), ("+12", 1), ("1e9", None), ("9" * 13, None)]
)
def test_a_duration_is_a_plain_number(duration: str, length: float | None) -> None:
    xml = f"<note><rest/><duration>{duration}</duration></note>"
    if length is None:
        refused(xml, f"<duration> should be a number, not '{duration}'")
    else:
        assert bar(xml).length == length


def test_backup_forward_and_rewind_move_the_place_and_only_forward_makes_the_bar_longer() -> None:
    def move(what: str, quarters: int) -> str:
        return f"<{what}><duration>{quarters * DIVISIONS}</duration></{what}>"

    assert bar(note("C5", 1) + move("forward", 2)).length == 3
    assert heads(bar(note("C5", 1) + move("forward", 2) + note("D5", 1))) == [(0, 1, "C5"), (3, 1, "D5")]
    back = bar(note("C5", 1) + note("D5", 1) + move("backup", 1) + note("E5", 1))
    assert (heads(back), back.length) == ([(0, 1, "C5"), (1, 1, "E5")], 2)
    assert heads(bar(note("C5", 1) + move("backup", 5) + note("E5", 2))) == [(0, 2, "E5")]
    assert heads(bar(note("C5", 1) + "<rewind/>" + note("E5", 2))) == [(0, 2, "E5")]


def test_a_bar_has_as_many_elements_as_it_may() -> None:
    assert MOST_ELEMENTS == 2000
    assert bar("<print/>" * MOST_ELEMENTS).length == 0
    refused("<print/>" * (MOST_ELEMENTS + 1), "has more than 2000 notes and signs; look for bar lines")


# pitches and lines


@pytest.mark.parametrize("name", ["C-1", "G9", "B4", "Fbb4", "Ebb4", "G##4"])
def test_a_pitch_lies_where_midi_has_a_number_for_it(name: str) -> None:
    assert str(bar(note(name)).notes[0].pitch) == name


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("G#9", "G#9 is beyond every keyboard"), ("Cb-1", "Cb-1 is beyond every keyboard"),
        ("C10", "an impossible pitch C10"), ("C-2", "an impossible pitch C-2"), ("C###4", "an impossible pitch C4"),
        ("Cbbb4", "an impossible pitch C4"), ("H4", "an impossible pitch H4"),
    ],
)  # fmt: skip
def test_a_pitch_beyond_is_refused(name: str, line: str) -> None:
    refused(note(name), line)


def test_the_melody_is_one_note_at_a_time_the_highest_of_those_struck_together() -> None:
    chord = note("C5", 2) + note("G5", 2, "<chord/>") + note("E5", 2, "<chord/>") + note("D5", 2)
    assert heads(bar(chord)) == [(0, 2, "G5"), (2, 2, "D5")]
    assert [r.what for r in bar(chord).remarks] == ["notes struck together, the top one is the melody"]
    overlapping = note("C5", 4) + "<backup><duration>24</duration></backup>" + note("D5", 2)
    assert heads(bar(overlapping)) == [(0, 2, "C5"), (2, 2, "D5")]
    later = note("B4", 1) + note("C5", 3) + "<backup><duration>24</duration></backup>" + note("D5", 2)
    assert heads(bar(later)) == [(0, 1, "B4"), (1, 1, "C5"), (2, 2, "D5")]
    grace = note("B4", 0, "<grace/>") + note("C5", 1, "<cue/>") + note("D5", 1)
    assert heads(bar(grace)) == [(1, 1, "D5")]


def test_ties_are_read_from_what_sounds_and_from_what_is_drawn() -> None:
    tied = note("C5", 1, '<tie type="start"/>') + note("C5", 1, '<tie type="stop"/><tie type="start"/>')
    drawn = note("C5", 1).replace("</note>", '<notations><tied type="stop"/></notations></note>')
    assert [(n.tied_back, n.tied_on) for n in bar(tied + drawn).notes] == [(False, True), (True, True), (True, False)]


def test_where_the_melodys_voice_is_missing_another_of_its_staff_sings_and_the_others_are_told() -> None:
    other = note("E5", 1, voice="2") + "<backup><duration>12</duration></backup>"
    bass = "<backup><duration>12</duration></backup>" + note("C3", 1, voice="5", staff="2")
    assert heads(bar(other + note("G5", 1) + bass)) == [(0, 1, "G5")]
    assert [str(r) for r in bar(other + note("G5", 1) + bass).remarks] == ["voice 2: e", "staff 2, voice 5: C,"]
    left = MeasureReader("x", ("2", "5"))
    left.divisions = DIVISIONS
    both = note("C3", 1, voice="5", staff="2") + note("E3", 1, voice="6", staff="2")
    assert [r.what for r in bar(both, left).remarks] == ["voice 6"], "of the melody's own staff"
    assert heads(bar(note("C3", 1, voice="5", staff="2") + note("E5", 1, voice="3"))) == [(1, 1, "E5")]
    assert heads(bar(note("C3", 1, voice="5", staff="2"))) == []
    lower = MeasureReader("x", ("2", "1"))
    lower.divisions = DIVISIONS
    assert heads(bar(note("C5", 1) + note("C3", 1, voice="5", staff="2"), lower)) == [(1, 1, "C3")]


@pytest.mark.parametrize(
    ("notes", "voice"),
    [
        (note() * 2 + note(voice="2"), ("1", "1")),
        (note() + note(voice="2") * 2, ("1", "2")),
        (note(voice="2") + note(voice="1"), ("1", "1")),
        (note(staff="2") * 3 + note(), ("1", "1")),
        (note(staff="2") * 3 + "<note><rest/><duration>1</duration></note>", ("2", "1")),
        (note(inside="") + note(inside="<chord/>") + note(voice="2"), ("1", "2")),  # a chord is less than one note
        ((note() + note(inside="<chord/>")) * 2 + note(voice="2"), ("1", "1")),
        ((note() + note(inside="<chord/>") * 9) * 2 + note(voice="2"), ("1", "1")),  # however full it is
        ((note(voice="2") + note(inside="<chord/>", voice="2")) * 3 + note() * 2, ("1", "2")),  # three for two notes
        ("", ("1", "1")),
    ],
)
def test_the_voice_with_most_single_notes_of_the_first_staff_has_the_melody(notes: str, voice: tuple[str, str]) -> None:
    assert melody_voice_id(elements(notes)) == voice


# keys, time signatures, transposition


def attributes(inside: str) -> str:
    return f"<attributes>{inside}</attributes>"


def key(fifths: int, mode: str = "") -> str:
    return f"<key><fifths>{fifths}</fifths>{f'<mode>{mode}</mode>' if mode else ''}</key>"


@pytest.mark.parametrize(
    ("fifths", "mode", "found", "minor", "said"),
    [
        (-7, "", -7, None, ""), (7, "major", 7, False, ""), (-3, "minor", -3, True, ""),
        (0, "dorian", -1, True, "D dorian"), (0, "Mixolydian", 1, False, "G mixolydian"), (2, "aeolian", 2, True, ""),
        (0, "none", 0, None, ""),
    ],
)  # fmt: skip
def test_the_first_key_is_the_tunes(fifths: int, mode: str, found: int, minor: bool | None, said: str) -> None:
    by = reader()
    made = bar(attributes(key(fifths, mode)) + note(), by)
    assert (by.fifths, by.first_fifths, by.minor) == (fifths, found, minor)
    assert [r.text for r in made.remarks] == ([said] if said else [])


def test_a_later_key_is_a_remark_where_it_is_another() -> None:
    by = reader()
    bar(attributes(key(1, "major")) + note(), by)
    assert bar(attributes(key(1, "minor")) + note(), by).remarks == ()
    made = bar(attributes(key(-2, "minor")) + note(), by)
    assert made.remarks == (Remark("the key changes", "G minor"),)
    assert (by.fifths, by.first_fifths, by.minor) == (-2, 1, False)
    assert bar(attributes(key(0)) + note(), by).remarks == (Remark("the key changes", "C major"),)


@pytest.mark.parametrize("fifths", [-8, 8])
def test_a_key_has_seven_signs_at_most(fifths: int) -> None:
    refused(attributes(key(fifths)), f"a key signature of {fifths} fifths")


def time(*pairs: tuple[str, int]) -> str:
    return f"<time>{''.join(f'<beats>{b}</beats><beat-type>{t}</beat-type>' for b, t in pairs)}</time>"


@pytest.mark.parametrize(
    ("pairs", "metre", "bar_length"),
    [
        ([("3", 4)], "3/4", 3), ([("3+2", 8)], "5/8", 2.5), ([("3", 8), ("2", 4)], "7/8", 3.5), ([("2", 2)], "2/2", 4),
        ([("64", 64)], "64/64", 4), ([("1", 1)], "1/1", 4), ([("5", 16)], "5/16", 1.25), ([("3", 32)], "3/32", 0.375),
    ],
)  # fmt: skip
def test_time_signatures_simple_and_composed(pairs: list[tuple[str, int]], metre: str, bar_length: float) -> None:
    by = reader()
    made = bar(attributes(time(*pairs)), by)
    assert (str(by.metre), made.nominal, made.length) == (metre, bar_length, bar_length)
    assert by.metres == {by.metre: 1} and by.bars == 1


@pytest.mark.parametrize("pairs", [[("0", 4)], [("65", 4)], [("4", 3)], [("4", 0)], [("4", 4), ("0", 4)]])
def test_an_impossible_time_signature_is_refused(pairs: list[tuple[str, int]]) -> None:
    refused(attributes(time(*pairs)), "an impossible time signature")


def test_free_time_changes_no_metre() -> None:
    by = reader()
    bar(attributes(time(("3", 4))), by)
    bar(attributes("<time><senza-misura/></time>"), by)
    bar(attributes("<time><symbol/></time>"), by)
    assert by.metre == Metre(3, 4) and by.metres == {Metre(3, 4): 3}


@pytest.mark.parametrize(
    ("chromatic", "diatonic", "octaves", "sounds", "fifths"),
    [
        (-2, -1, 0, "Bb4", -2),  # a clarinet in B flat
        (-9, -5, 0, "Eb4", -3),  # an alto saxophone
        (-2, -1, -1, "Bb3", -2),  # a tenor saxophone
        (-7, -4, 0, "F4", -1),  # a horn in F
        (-3, -2, 0, "A4", 3),  # a clarinet in A
        (0, 0, 1, "C6", 0),  # a piccolo
        (-12, -7, 0, "C4", 0),  # a double bass
        (0, 0, 0, "C5", 0),
        (2, 1, 0, "D5", 2),
    ],
)
def test_a_transposing_instruments_written_c_sounds_as_its_name_says(
    chromatic: int, diatonic: int, octaves: int, sounds: str, fifths: int
) -> None:
    """Common practice; MusicXML 4.0, transpose. Where the letters aren't said, the semitones tell."""
    for letters in (f"<diatonic>{diatonic}</diatonic>", ""):
        by = reader()
        shift = f"<transpose>{letters}<chromatic>{chromatic}</chromatic><octave-change>{octaves}</octave-change>"
        chord = "<harmony><root><root-step>C</root-step></root><kind>minor</kind></harmony>"
        made = bar(attributes(f"{key(0)}{shift}</transpose>") + chord + note("C5"), by)
        assert (str(made.notes[0].pitch), by.first_fifths) == (sounds, fifths)
        assert made.chords[0][1].symbol == sounds[:-1] + "m"


@pytest.mark.parametrize(("written", "sounds"), [(-7, 4), (-6, -7), (7, 6)])
def test_a_transposed_key_has_no_more_than_seven_signs(written: int, sounds: int) -> None:
    by = reader()
    horn = "<transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose>"
    bar(attributes(key(written) + horn), by)
    assert by.first_fifths == sounds
    by = reader()
    bar(attributes(key(7) + "<transpose><diatonic>4</diatonic><chromatic>7</chromatic></transpose>"), by)
    assert by.first_fifths == -4
    by = reader()
    bar(attributes(horn), by)
    assert by.first_fifths is None


# chord symbols, tempi, feels


def harmony(inside: str, more: str = "") -> str:
    return f"<harmony>{inside}{more}</harmony>"


C7 = "<root><root-step>C</root-step></root><kind>dominant</kind>"


def test_a_chord_stands_at_its_place_and_offset_and_never_before_the_bar() -> None:
    made = bar(harmony(C7) + note() + harmony(C7, "<offset>6</offset>") + note())
    assert [beat for beat, _ in made.chords] == [0, 1.5]
    assert [beat for beat, _ in bar(harmony(C7, "<offset>-6</offset>") + note()).chords] == [0]
    finest = "<attributes><divisions>10080</divisions></attributes>" + harmony(C7, "<offset>1</offset>") + note()
    assert [beat for beat, _ in bar(finest).chords] == [Fraction(1, 10080)]


@pytest.mark.parametrize("divisions", [10080, 10081])
def test_lengths_are_parts_of_ten_thousand_and_eighty_at_the_finest(divisions: int) -> None:
    """Which has all that a triplet, a quintuplet or a septuplet of 128ths needs."""
    head = f"<attributes><divisions>{divisions}</divisions></attributes>"
    assert bar(f"{head}<note><rest/><duration>1</duration></note>").length == Fraction(1, 10080)
    assert [r.what for r in bar(harmony(C7, "<frame/>") + note()).remarks] == ["a chord diagram"]


def test_where_no_key_is_said_a_numeral_is_a_degree_of_c() -> None:
    numeral = "<numeral><numeral-root>5</numeral-root></numeral><kind>dominant</kind>"
    assert bar(harmony(numeral) + note(), MeasureReader("x", ("1", "1"))).chords[0][1].symbol == "G7"


def test_of_two_chords_on_one_beat_the_last_rules() -> None:
    made = bar(harmony(C7) + harmony(C7.replace("dominant", "minor")) + note())
    assert [chord.symbol for _, chord in made.chords] == ["Cm"]
    assert made.remarks == (Remark("another chord on the same beat", "C7"),)


def test_a_symbol_that_is_none_is_kept_when_one_imports_and_refused_when_one_plays() -> None:
    wrong = harmony(C7.replace("dominant", "purple"))
    refused(wrong + note(), "C with kind 'purple' and text '' is not a chord; chart import keeps it as a comment")
    made = bar(wrong + note(), reader(lenient=True))
    assert [r.what for r in made.remarks] == ["a chord symbol that isn't understood"] and made.chords == ()


def test_a_function_alone_and_a_pedal_point_that_was_meant_otherwise_are_told() -> None:
    assert bar(harmony("<function>V7</function><kind>dominant</kind>") + note()).remarks == (
        Remark("a chord named by its function alone", "V7"),
    )
    assert bar(harmony(C7.replace("dominant", "pedal")) + note()).remarks == ()


BOSSA = "<direction><direction-type><words>Bossa</words></direction-type></direction>"


def metronome(per_minute: float, unit: str = "quarter", dots: int = 0) -> str:
    mark = f"<beat-unit>{unit}</beat-unit>{'<beat-unit-dot/>' * dots}<per-minute>{per_minute}</per-minute>"
    return f"<direction><direction-type><metronome>{mark}</metronome></direction-type></direction>"


@pytest.mark.parametrize(
    ("mark", "tempo"),
    [
        (metronome(120), 120), (metronome(60, "half"), 120), (metronome(30, "whole"), 120),
        (metronome(240, "eighth"), 120), (metronome(400, "16th"), 100), (metronome(80, "quarter", 1), 120),
        (metronome(4), None), ('<sound tempo="84"/>', 84), ('<direction><sound tempo="84"/></direction>', 84),
    ],
)  # fmt: skip
def test_a_tempo_is_in_quarters_whatever_note_it_is_given_for(mark: str, tempo: float | None) -> None:
    by = reader()
    bar(mark + note(), by)
    assert by.tempo == tempo


def test_the_first_tempo_is_the_tunes_and_another_that_can_be_heard_is_told() -> None:
    by = reader()
    changes = "".join(metronome(tempo) for tempo in (100, 100, 100.5, 101.05, 90))
    made = bar(changes + note(), by)
    assert bar(metronome(4) + note(), by).remarks == (), "no tempo at all"
    assert (by.tempo, [r.text for r in made.remarks]) == (100, ["101.05 quarters a minute", "90 quarters a minute"])


@pytest.mark.parametrize(
    ("marks", "feel"),
    [
        ("<sound><swing><straight/></swing></sound>", "straight"),
        ("<sound><swing><first>2</first><second>1</second></swing></sound>", "swing"),
        (f"{BOSSA}<sound><swing><straight/></swing></sound>", "bossa"),
        (f"<sound><swing><straight/></swing></sound>{BOSSA}", "straight"),
        ("", None),
    ],
)  # fmt: skip
def test_the_first_feel_that_is_said_is_the_tunes(marks: str, feel: str | None) -> None:
    by = reader()
    bar(marks + note(), by)
    assert by.feel == feel


def test_words_that_say_the_feel_are_no_remark_and_those_of_another_are() -> None:
    by = reader()
    assert bar(BOSSA + note(), by).remarks == bar(BOSSA + note(), by).remarks == ()
    assert bar(BOSSA.replace("Bossa", "Swing") + note(), by).remarks == (Remark("words", "Swing"),)


def test_bars_that_stand_as_a_repeat_sign_say_how_far_back_they_look() -> None:
    def sign(kind: str, bars: int) -> str:
        return attributes(f'<measure-style><measure-repeat type="{kind}">{bars}</measure-repeat></measure-style>')

    by = reader()
    for xml in (note(), note(), sign("start", 2) + note(), note(), sign("stop", 2) + note(), sign("start", 1)):
        bar(xml, by)
    assert by.again == {2: 2, 3: 2, 5: 1}
