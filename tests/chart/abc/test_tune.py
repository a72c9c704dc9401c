"""Tunes in ABC as charts: headers, changes on the way, voices, parts, and what is kept as a remark (ABC 2.1)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from companion.chart.abc.tune import read_abc
from companion.chart.imported import Imported
from companion.errors import ChartError

Read = Callable[..., Imported]
HEAD = "X:1\nT:Trial\nM:4/4\nL:1/8\nK:C\n"


def pitches(imported: Imported) -> str:
    return " ".join(str(note.pitch) for note in imported.chart.unfold().melody)


def said(imported: Imported) -> list[tuple[str, str, str]]:
    return [(remark.bar, remark.what, remark.text) for remark in imported.remarks]


def test_a_tune_is_read_as_a_chart_that_knows_its_file(tmp_path: Path) -> None:
    path = tmp_path / "kettle.abc"
    path.write_text("X:1\nM:4/4\nK:C\nC8|]")
    chart = read_abc(path)
    assert (chart.title, chart.composer, chart.source) == ("kettle", None, str(path))


def test_what_the_header_says_is_in_the_chart_or_kept(from_abc: Read) -> None:
    imported = from_abc(
        "X:1\nT:Lid\nT:Pan\nT:\nC:One\nC:Two\nM:3/4\nM:7/5\nL:1/4\nL:x\nQ:\"Briskly\" 1/4=90\nQ:\"Slow\" 1/4=60\n"
        "R:waltz\nR:a bossa\nZ:me\nH:\nG:x\nE:y\nU:T=!fermata!\n%%pagewidth 3\n%%odd 4\nK:D dor\nTD3|]\n"
    )  # fmt: skip
    chart = imported.chart
    assert (chart.title, chart.composer, chart.tempo, chart.feel) == ("Lid", "One, Two", 90, "bossa")
    assert (str(chart.metre), chart.fifths, chart.minor) == ("3/4", -1, True)
    assert said(imported) == [
        ("", "another title", "Pan"), ("", "a metre that isn't understood", "7/5"),
        ("", "a unit note length that isn't understood", "x"), ("", "tempo", "Briskly"), ("", "tempo", '"Slow" 1/4=60'),
        ("", "rhythm", "waltz"), ("", "transcription", "me"), ("", "group", "x"), ("", "a field", "E:y"),
        ("", "a directive", "%%odd 4"), ("", "a key that a chart names only by its tonic", "D dor"),
        ("1", "a decoration", "fermata"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("header", "music", "tempo", "feel", "remarks"),
    [
        ('Q:"Medium Swing" 1/4=126', "C8|]", 126, "swing", []),
        ('Q:"Gently"', "C8|]", 120, "swing", [("", "tempo", '"Gently"')]),
        ('Q:"Latin"\nQ:"Swing"', "C8|]", 120, "latin", []),
        ("Q:60", "C8|]", 30, "swing", []),
        ("", "[Q:1/4=80]C8|D8|]", 80, "swing", []),
        ("", "C8|[Q:1/4=80]D8|]", 120, "swing", [("2", "a change of tempo", "1/4=80")]),
        ("Q:1/4=80", "C8|[Q:1/4=80]D8|]", 80, "swing", []),
        ("Q:1/4=80", 'C8|[Q:"Fast" 1/4=160]D8|]', 80, "swing", [("2", "a change of tempo", '"Fast" 1/4=160')]),
        ("Q:1/4=80", 'C8|[Q:"Broadly"]D8|]', 80, "swing", [("2", "tempo", '"Broadly"')]),
        ("R:shuffle", "C8|\nR:latin\nD8|]", 120, "shuffle", []),
        ("", "C8|\nR:reel\nD8|]", 120, "swing", [("", "rhythm", "reel")]),
    ],
)
def test_tempo_and_feel_are_the_first_that_are_said(
    from_abc: Read, header: str, music: str, tempo: float, feel: str, remarks: list[tuple[str, str, str]]
) -> None:
    imported = from_abc(f"X:1\nM:4/4\nL:1/8\n{header}\nK:C\n{music}")
    assert (imported.chart.tempo, imported.chart.feel, said(imported)) == (tempo, feel, remarks)


@pytest.mark.parametrize(
    ("music", "notes", "remarks"),
    [
        ("F4[K:G]F4|]", "F4 F#4", [("1", "the key changes", "G")]),
        ("[K:G]F8|]", "F#4", []),
        ("F8|[K:G]F8|]", "F4 F#4", [("2", "the key changes", "G")]),
        ("F8|[K:Zzz]F8|]", "F4 F4", [("2", "a key that isn't understood", "Zzz")]),
        ("F8|[K:octave=1]F8|]", "F4 F5", []),
        ("F8|[K:clef=bass]F8|]", "F4 F4", []),
        ("F8|[L:1/4]F4|]", "F4 F4", []),
        ("F8|[L:x]F8|]", "F4 F4", [("", "a unit note length that isn't understood", "x")]),
        ("F8|\nT:Trio\nF8|]", "F4 F4", [("2", "a title", "Trio")]),
        ("F8|\nT:\nF8|]", "F4 F4", []),
        ("F8|\nN:softly\nF8|]", "F4 F4", [("2", "a note", "softly")]),
        ("F8|\nX:9\nF8|]\n", "F4", []),
    ],
)
def test_fields_in_the_music(from_abc: Read, music: str, notes: str, remarks: list[tuple[str, str, str]]) -> None:
    if "X:9" in music:
        with pytest.raises(ChartError, match="holds 2 tunes"):
            from_abc(HEAD + music)
        return
    imported = from_abc(HEAD + music)
    assert (pitches(imported), said(imported)) == (notes, remarks)


def test_a_key_said_before_the_first_note_is_the_tunes(from_abc: Read) -> None:
    assert from_abc(f"{HEAD}[K:G]F8|]").chart.fifths == 1
    assert from_abc(f"{HEAD}F4[K:G]F4|]").chart.fifths == 0
    assert from_abc(f"{HEAD}F8|[K:G]F8|]").chart.fifths == 0
    assert from_abc(f"{HEAD}[K:none]F8|]").chart.fifths == 0
    assert from_abc("X:1\nM:4/4\nK:none\n[K:G]F8|]").chart.fifths == 1
    assert from_abc("X:1\nM:4/4\nK:Zzz\nF8|]").chart.fifths == 0
    assert from_abc("X:1\nM:4/4\nL:1/8\nF8|]").chart.fifths == 0


@pytest.mark.parametrize(
    ("reach", "notes"),
    [("not", "F#4 F4 F5"), ("octave", "F#4 F#4 F5"), ("pitch", "F#4 F#4 F#5"), ("so", "F#4 F#4 F#5")],
)
def test_section_11_3_a_directive_says_how_far_an_accidental_reaches(from_abc: Read, reach: str, notes: str) -> None:
    assert pitches(from_abc(f"X:1\nM:4/4\nL:1/8\n%%propagate-accidentals {reach}\nK:C\n^F4F2f2|]")) == notes
    assert pitches(from_abc(f"{HEAD}I:propagate-accidentals {reach}\n^F4F2f2|]")) == notes


def test_octaves_and_transposition_of_key_and_voice(from_abc: Read) -> None:
    assert pitches(from_abc("X:1\nM:4/4\nL:1/8\nK:C octave=1\nC8|]")) == "C5"
    assert pitches(from_abc("X:1\nM:4/4\nL:1/8\nK:C\nV:1 octave=-1\nC8|]")) == "C3"
    assert pitches(from_abc("X:1\nM:4/4\nL:1/8\nK:C octave=1\nV:1 octave=-1\nC8|]")) == "C3"
    clarinet = from_abc('X:1\nM:4/4\nL:1/8\nK:D\nV:1 transpose=-2\n"D7"D8|]')
    assert (pitches(clarinet), clarinet.chart.fifths) == ("C4", 0)
    assert ("", "written for a transposing instrument; here it stands as it sounds", "") in said(clarinet)


@pytest.mark.parametrize(
    ("semitones", "notes", "fifths"),
    [
        (-2, "Bb3", -2), (-9, "Eb3", -3), (3, "Eb4", -3), (-3, "A3", 3), (7, "G4", 1), (12, "C5", 0), (5, "F4", -1),
        (-36, "C1", 0), (36, "C7", 0), (6, "Gb4", -6), (1, "Db4", -5), (-1, "B3", 5), (10, "Bb4", -2), (11, "B4", 5),
    ],
)  # fmt: skip
def test_a_transposed_c_sounds_under_the_name_players_know(
    from_abc: Read, semitones: int, notes: str, fifths: int
) -> None:
    imported = from_abc(f'X:1\nM:4/4\nL:1/8\nK:C transpose={semitones}\n"C"C8|]')
    assert (pitches(imported), imported.chart.fifths) == (notes, fifths)
    assert [span.chord.symbol for span in imported.chart.unfold().chords] == [notes[:-1]]


def test_a_transposed_key_has_no_more_than_seven_signs(from_abc: Read) -> None:
    assert from_abc("X:1\nM:4/4\nL:1/8\nK:C# transpose=7\nC8|]").chart.fifths == -4
    assert from_abc("X:1\nM:4/4\nL:1/8\nK:Cb transpose=-7\nC8|]").chart.fifths == 4
    assert from_abc("X:1\nM:4/4\nL:1/8\nK:Gb transpose=-7\nC8|]").chart.fifths == -7


TWO = '[V:1] "C"C8|"G7"D8|]\n[V:2] c8|d8|]\n'


@pytest.mark.parametrize(
    ("voices", "notes"),
    [
        ("V:1\nV:2\n", "C4 D4"), ("V:1 clef=bass\nV:2\n", "C5 D5"), ("V:1 clef=bass\nV:2 clef=bass\n", "C4 D4"),
        ("V:1\nV:2 name=Lead\n", "C5 D5"), ('V:1\nV:2 nm="Soprano sax"\n', "C5 D5"),
        ("V:1\nV:2 name=Misleading\n", "C4 D4"),
    ],
)  # fmt: skip
def test_the_melodys_voice_is_called_so_or_is_the_first_that_is_no_bass(
    from_abc: Read, voices: str, notes: str
) -> None:
    imported = from_abc(f"X:1\nM:4/4\nL:1/8\n{voices}K:C\n{TWO}")
    assert pitches(imported) == notes
    assert [span.chord.symbol for span in imported.chart.unfold().chords] == ["C", "G7"], (
        "from whichever voice has them"
    )


def test_a_voice_is_asked_for_by_its_id_or_its_name_in_any_case(from_abc: Read) -> None:
    book = f"X:1\nM:4/4\nL:1/8\nV:1 name=Lead\nV:2 name=Flute\nV:3\nK:C\n{TWO}"
    assert pitches(from_abc(book, melody="2")) == pitches(from_abc(book, melody="FLUTE")) == "C5 D5"
    with pytest.raises(ChartError, match="has no voice '3'; there are 1 'Lead', 2 'Flute'"):
        from_abc(book, melody="3")


def test_where_nothing_is_sung_the_chords_are_the_tune_and_without_them_there_is_none(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}[V:1] z8|z8|]\n[V:2] "C"z8|"F"z8|]\n')
    assert [span.chord.symbol for span in imported.chart.unfold().chords] == ["C", "F"]
    with pytest.raises(ChartError, match="holds neither melody nor chords; give a tune in ABC notation"):
        from_abc(f"{HEAD}z8|z8|]")


def test_chords_of_another_voice_are_taken_only_where_the_melody_has_none(from_abc: Read) -> None:
    other = '[V:2] "F"c8|"F"d8|"F"e8|]\n'
    assert [s.chord.symbol for s in from_abc(f'{HEAD}[V:1] "C"C8|D8|]\n{other}').chart.unfold().chords] == ["C"]
    longer = from_abc(f"{HEAD}[V:1] C8|D8|]\n{other}")
    assert [s.chord.symbol for s in longer.chart.unfold().chords] == ["F", "F"]
    assert said(longer) == [("1", "voice 2", '"F"c8'), ("2", "voice 2", '"F"d8'), ("2", "voice 2", '"F"e8')]


@pytest.mark.parametrize(
    ("order", "music", "form", "remarks"),
    [
        ("AABA", "P:A\nC8|]\nP:B\nD8|]", "A A B A", []),
        ("AXB", "P:A\nC8|]\nP:B\nD8|]", "A B", []),
        ("XY", "P:A\nC8|]\nP:B\nD8|]", "A B", [("", "an order of parts that the tune doesn't name", "XY")]),
        ("BA", "E8|\nP:A\nC8|]\nP:B\nD8|]", "C B A", []),  # what stands before the parts is played first
        ("BA", "P:A\nC4\nP:B\nC4|D8|]", "B A", []),  # a part that is named in mid-bar begins with the next
        ("A2", "P:A\n|:C8:|D8|]", "A A B A A B", []),
    ],
)  # fmt: skip
def test_section_3_1_9_parts_in_their_order(
    from_abc: Read, order: str, music: str, form: str, remarks: list[tuple[str, str, str]]
) -> None:
    imported = from_abc(f"X:1\nM:4/4\nL:1/8\nP:{order}\nK:C\n{music}")
    assert (" ".join(imported.chart.form), said(imported)) == (form, remarks)


def test_parts_are_those_of_the_first_voice_whatever_the_others_name(from_abc: Read) -> None:
    music = "V:1\nP:A\nC8|\nP:B\nD8|\nV:2\nP:A\nc8|\nP:B\nd8|\n"
    assert from_abc(f"X:1\nM:4/4\nL:1/8\nP:BA\nK:C\n{music}").chart.form == ("B", "A")


def test_a_line_that_goes_on_in_the_next_keeps_its_last_note_whole(from_abc: Read) -> None:
    """ABC 2.1, section 6.1.1: a backslash at the end of a line of music."""
    melody = from_abc(f"{HEAD}C4D4\\\n|E8|]").chart.unfold().melody
    assert [(str(note.pitch), note.length) for note in melody] == [("C4", 2), ("D4", 2), ("E4", 4)]


def test_parts_may_be_played_for_two_thousand_bars_and_no_more(from_abc: Read) -> None:
    bars = "C8|" * 20
    assert len(from_abc(f"X:1\nM:4/4\nL:1/8\nP:A100\nK:C\nP:A\n{bars}").chart.unfold().bars) == 2000
    with pytest.raises(ChartError, match="its P: field: plays more than 2000 bars; name its parts less often"):
        from_abc(f"X:1\nM:4/4\nL:1/8\nP:A100\nK:C\nD8|\nP:A\n{bars}")


def test_text_after_the_tune_and_between_its_lines_is_kept(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}C8|]\n\nThat was all.\n%%begintext fill\nplayed |: twice\n%%endtext\n")
    assert said(imported) == [("", "text after the tune", "That was all."), ("", "text", "played |: twice")]
    assert pitches(from_abc("X:1\nM:4/4\nL:1/8\n%%begintext\n%%endtext\nK:C\nC8|D8|\n")) == "C4 D4"
    assert pitches(from_abc(f"{HEAD}C8|\n\nD8|]\n")) == pitches(from_abc(f"{HEAD}\nC8\nD8|]\n")) == "C4 D4"


def test_words_and_signs_stand_with_the_bar_in_which_their_line_begins(from_abc: Read) -> None:
    assert said(from_abc(f"{HEAD}C8|[L:1/8]D8|\nw:one two\n")) == [("1", "words to sing", "one two")]
    imported = from_abc(f"{HEAD}C8|D8|\nw:one two\nE8|\ns: !wow!\nw:three\nW:all\n")
    assert said(imported) == [
        ("", "words to sing", "all"), ("1", "words to sing", "one two"), ("3", "signs over the notes", "!wow!"),
        ("3", "words to sing", "three"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("macro", "music", "notes", "remark"),
    [
        ("m: ~G2 = G{A}F", "~G2 E6|]", "G4 F4 E4", ""),
        ("m: ~n2 = n{o}n", "C8|]", "C4", "a macro that isn't played"),
        ("m: = CC", "C8|]", "C4", "a macro that isn't played"),
    ],
)  # fmt: skip
def test_section_9_macros(from_abc: Read, macro: str, music: str, notes: str, remark: str) -> None:
    imported = from_abc(f"X:1\nM:4/4\nL:1/8\n{macro}\nK:C\n{music}")
    assert pitches(imported) == notes
    assert [what for _, what, _ in said(imported) if "macro" in what] == ([remark] if remark else [])


@pytest.mark.parametrize("first", ["0", "1"])
def test_bars_are_counted_from_the_first_that_is_full(from_abc: Read, first: str) -> None:
    imported = from_abc(f"{HEAD}{'.G2' if first == '0' else '.G8'}|.C8|]")
    assert [bar for bar, what, _ in said(imported) if what == "a decoration"] == [first, str(int(first) + 1)]
    assert said(from_abc(f"{HEAD}.G2|]"))[0][0] == "1"


def test_the_metre_is_that_of_most_bars_and_the_bars_tell_it_where_none_is_said(from_abc: Read) -> None:
    assert str(from_abc(f"{HEAD}C8|[M:3/4]C6|C6|]").chart.metre) == "3/4"
    assert str(from_abc("X:1\nL:1/8\nK:C\nC6|C6|C4|]").chart.metre) == "3/4"
