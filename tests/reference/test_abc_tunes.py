"""Tunes against The ABC Music Standard 2.1 (December 2011), section by section, and against another reader of it.

The sections are named beside each check; wording and examples are quoted from memory of the standard. Held to them are
companion.chart.abc.file, companion.chart.abc.fields and companion.chart.abc.key, companion.chart.abc.note_syntax,
companion.chart.abc.voice, companion.chart.abc.sheet and companion.chart.abc.tune.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from companion.chart.abc.fields import expand_parts
from companion.chart.abc.file import text as plain_text
from companion.chart.abc.tune import import_abc
from companion.chart.imported import Imported
from companion.errors import ChartError

Read = Callable[..., Imported]

HEAD = "X:1\nT:Trial\nM:4/4\nL:1/8\nK:C\n"


def pitches(imported: Imported) -> str:
    return " ".join(str(note.pitch) for note in imported.chart.unfold().melody)


def lengths(imported: Imported) -> list[Fraction]:
    """In eighths."""
    return [note.length * 2 for note in imported.chart.unfold().melody]


def chords(imported: Imported) -> list[tuple[float, str]]:
    return [(float(span.start), span.chord.symbol) for span in imported.chart.unfold().chords]


def remarks(imported: Imported) -> dict[str, str]:
    return {remark.what: remark.text for remark in imported.remarks}


def order(imported: Imported) -> str:
    """First note of each bar played."""
    form = imported.chart.unfold()
    return "".join(next((note.pitch.step for note in form.melody if note.beat == bar), "-") for bar in form.bars)


# 3 information fields


def test_section_3_1_the_header_gives_title_composer_metre_tempo_and_key(from_abc: Read) -> None:
    chart = from_abc("X:1\nT:Kettle at Six\nC:A. Nobody\nM:3/4\nL:1/4\nQ:1/4=96\nK:Gm\n|B2 c|d3|]").chart
    assert (chart.title, chart.composer, str(chart.metre), chart.tempo) == ("Kettle at Six", "A. Nobody", "3/4", 96)
    assert (chart.fifths, chart.minor) == (-2, True)


@pytest.mark.parametrize(
    ("field", "metre", "bar"),
    [("C", "4/4", "C8"), ("C|", "2/2", "C8"), ("6/8", "6/8", "C6"), ("(2+3)/8", "5/8", "C5"), ("2+2+3/8", "7/8", "C7")],
)
def test_section_3_1_6_metres(from_abc: Read, field: str, metre: str, bar: str) -> None:
    # "C" is 4/4, "C|" is cut time; sums may stand in the numerator.
    assert str(from_abc(f"X:1\nM:{field}\nL:1/8\nK:C\n{bar}|{bar}|]").chart.metre) == metre


def test_section_3_1_6_free_metre_leaves_the_bars_to_tell(from_abc: Read) -> None:
    assert str(from_abc("X:1\nM:none\nL:1/4\nK:C\nCDE|FGA|]").chart.metre) == "3/4"


def test_section_3_1_7_without_a_unit_the_metre_says_it(from_abc: Read) -> None:
    # "If the meter fraction as a decimal is less than 0.75 the unit note length is a sixteenth, else an eighth."
    assert lengths(from_abc("X:1\nM:2/4\nK:C\nC8|]")) == [4]
    assert lengths(from_abc("X:1\nM:3/4\nK:C\nC6|]")) == [6]


@pytest.mark.parametrize(
    ("field", "tempo"),
    [
        ("1/4=120", 120), ("1/2=120", 240), ("3/8=50", 75), ('"Allegro" 1/4=120', 120), ('3/8=50 "Slowly"', 75),
        ("1/4 3/8 1/4 3/8=40", 200),  # the standard's example: 40 bars of five quarters a minute
    ],
)  # fmt: skip
def test_section_3_1_8_tempo(from_abc: Read, field: str, tempo: float) -> None:
    assert from_abc(f"X:1\nM:4/4\nQ:{field}\nK:C\nC8|]").chart.tempo == tempo


@pytest.mark.parametrize(
    ("parts", "played"),
    [
        ("ABABCDCD", "ABABCDCD"), ("A3", "AAA"), ("((AB)3.(CD)3)2", "ABABABCDCDCDABABABCDCDCD"),
        ("(AB)3(CD)3", "ABABABCDCDCD"), ("A.B", "AB"),
    ],
)  # fmt: skip
def test_section_3_1_9_the_order_of_parts(parts: str, played: str) -> None:
    # "P:((AB)3.(CD)3)2" is the standard's example; dots may stand anywhere to make it legible.
    assert "".join(expand_parts(parts)) == played


def test_section_3_1_9_parts_are_played_in_their_order_and_name_the_sections(from_abc: Read) -> None:
    imported = from_abc("X:1\nM:4/4\nL:1/4\nP:AABA\nK:C\nP:A\nCDEF|]\nP:B\nGABc|]")
    assert imported.chart.form == ("A", "A", "B", "A")
    assert order(imported) == "CCGC"


@pytest.mark.parametrize(
    ("field", "notes"),
    [
        ("D", "F#4 C5 B4"), ("Dm", "F4 C5 Bb4"), ("D dorian", "F4 C5 B4"), ("DMix", "F#4 C5 B4"),
        ("D Phr ^f", "F#4 C5 Bb4"), ("D exp _b ^c", "F4 C#5 Bb4"), ("HP", "F#4 C#5 B4"), ("none", "F4 C5 B4"),
        ("Bb", "F4 C5 Bb4"), ("F#m", "F#4 C#5 B4"), ("C#", "F#4 C#5 B#4"),
        ("A LYDIAN", "F#4 C#5 B4"), ("E locrian", "F4 C5 Bb4"),
    ],
)  # fmt: skip
def test_section_3_1_14_keys_modes_and_accidentals_of_their_own(from_abc: Read, field: str, notes: str) -> None:
    # "K:D Phr ^f" (the standard's example): D phrygian with F sharp; with exp only the accidentals given hold.
    if field == "D":
        notes = "F#4 C#5 B4"
    assert pitches(from_abc(f"X:1\nM:3/4\nL:1/4\nK:{field}\nFcB|]")) == notes


def test_section_3_2_fields_may_stand_in_the_music(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}C8|[K:D]F4[L:1/4]c2|[M:3/4]c3|\nM:4/4\nK:C\nF4|]")
    assert pitches(imported) == "C4 F#4 C#5 C#5 F4"
    assert [float(bar) for bar in imported.chart.sections[0].bars] == [4, 4, 3, 4]
    assert remarks(imported)["the key changes"]


def test_section_3_3_a_field_goes_on_with_a_plus(from_abc: Read) -> None:
    assert remarks(from_abc("X:1\nM:4/4\nH:One\n+:two\nK:C\nC8|]"))["history"] == "One two"


# 4 the tune body


def test_section_4_5_rests_of_whole_bars(from_abc: Read) -> None:
    # "Z4" is four bars of rest; x and X are rests that aren't printed.
    imported = from_abc(f"{HEAD}C8|Z2|x4C4|X|G8|]")
    assert order(imported) == "C---" + "-G"
    assert len(imported.chart.unfold().bars) == 6


def test_section_4_6_clefs_and_transposition(from_abc: Read) -> None:
    assert pitches(from_abc("X:1\nM:4/4\nK:C octave=-1\nC8|]")) == "C3"
    assert pitches(from_abc("X:1\nM:4/4\nK:C treble-8\nC8|]")) == "C3"
    imported = from_abc('X:1\nM:4/4\nK:D transpose=-2\n"D7"D8|]')
    assert (pitches(imported), chords(imported), imported.chart.fifths) == ("C4", [(0, "C7")], 0)


@pytest.mark.parametrize(
    ("music", "played"),
    [
        ("|:C8|D8:|E8|]", "CDCDE"), ("C8|D8:|", "CDCD"), ("|:C8::D8:|", "CCDD"), ("|:C8:||:D8:|", "CCDD"),
        ("|:C8:|:D8:|", "CCDD"), ("|:C8:|\n|:D8:|", "CCDD"), ("|::C8::|D8|]", "CCCD"), ("[|C8|]D8||", "CD"),
        ("|:C8|1 D8:|2 E8|]", "CDCE"), ("|:C8|[1 D8:|[2 E8|]", "CDCE"), ("|:C8|[1D8:|[2E8||F8|]", "CDCEF"),
        ("|:C8 [1 D8 :|2 E8 |]", "CDCE"), ("|:C8|1 D8|E8:|2 F8|G8||A8|]", "CDECFGA"),
        ("[|:C8|[1,3 D8:|[2 E8:|]", "CDCECD"), ("|:C8|[1-3 D8:|[4 E8|]", "CDCDCDCE"), ("C8|D8 .| E8|]", "CDE"),
        ("|:C8|1,2 D8:|3 E8|]", "CDCDCE"), ("|:C8| [1 D8 :| [2 E8 |]", "CDCE"), ("C8|Z2:|", "C--C--"),
        ("|:C8|D4 [1 D4:|[2 E4|F8|]", "CDCDF"),
    ],
)  # fmt: skip
def test_sections_4_8_to_4_10_repeats_and_variant_endings(from_abc: Read, music: str, played: str) -> None:
    assert order(from_abc(HEAD + music)) == played


def test_section_4_11_ties_join_over_bar_lines_and_into_each_ending(from_abc: Read) -> None:
    assert lengths(from_abc(f"{HEAD}C8-|C4-C-C3|]")) == [16]
    imported = from_abc(f"{HEAD}|:C4 D4-|1 D4 E4:|2 D8|]")
    assert lengths(imported) == [4, 8, 4, 4, 12]


def test_section_4_12_grace_notes_take_no_time_and_are_kept(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}{{gef}}C4 {{/a}}D4|]")
    assert lengths(imported) == [4, 4]
    assert [(remark.what, remark.text) for remark in imported.remarks] == [
        ("grace notes", "{gef}"), ("grace notes", "{/a}"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("music", "played"),
    [
        ("(3CDE z6", [Fraction(2, 3)] * 3), ("(3:2:2C2D z6", [Fraction(4, 3), Fraction(2, 3)]),
        ("(3::2C2D z6", [Fraction(4, 3), Fraction(2, 3)]), ("(5:4CDEFG z4", [Fraction(4, 5)] * 5),
        ("(2CD z5", [Fraction(3, 2)] * 2),
    ],
)  # fmt: skip
def test_section_4_13_tuplets(from_abc: Read, music: str, played: list[Fraction]) -> None:
    # "(p:q:r: put p notes into the time of q for the next r notes"; the shown defaults are the standard's table.
    assert lengths(from_abc(f"{HEAD}{music}|]")) == played


def test_section_4_14_decorations_steer_the_order_of_playing(from_abc: Read) -> None:
    assert order(from_abc(f"{HEAD}C8|D8!fine!|E8|F8!D.C.!|]")) == "CDEFCD"
    assert order(from_abc(f"{HEAD}C8|!segno!D8|E8|F8 !D.S.!|]")) == "CDEFDEF"
    assert order(from_abc(f"{HEAD}C8|SD8|E8!dacoda!|F8!D.S.!|!coda!G8|]")) == "CDEFDEG"


def test_section_4_14_other_decorations_are_kept_with_their_bar(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}C8|.C4 !trill!D2 !mf!E2|TC4 uD4|]")
    assert [(remark.bar, remark.what, remark.text) for remark in imported.remarks] == [
        ("2", "a decoration", "staccato"), ("2", "a decoration", "trill"), ("2", "dynamics", "mf"),
        ("3", "a decoration", "trill"), ("3", "a decoration", "upbow"),
    ]  # fmt: skip


def test_section_4_16_letters_can_be_given_another_meaning(from_abc: Read) -> None:
    assert remarks(from_abc("X:1\nM:4/4\nU:T=!tenuto!\nK:C\nTC8|]"))["a decoration"] == "tenuto"


def test_section_4_17_of_notes_struck_together_the_top_one_is_the_melody(from_abc: Read) -> None:
    # "[C2E2G2]3 is equivalent to [CEG]6"
    imported = from_abc(f"{HEAD}[C2E2G2]3 z2|[CEG]6-[EG]2|]")
    assert pitches(imported) == "G4 G4" and lengths(imported) == [6, 8]
    assert "[CEG]" in " ".join(remark.text for remark in imported.remarks)


def test_section_4_18_chord_symbols_stand_where_they_are_written(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}"Am7"A2D2"D7"F2A2|"G/B"G4 "Cmaj7"E4|"N.C."z8|]')
    assert chords(imported) == [(0, "Am7"), (2, "D7"), (4, "G/B"), (6, "Cmaj7"), (8, "N.C.")]


def test_section_4_18_an_alternate_chord_in_parentheses_is_kept(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}"G(Em)"G8|"C7(b9)"C8|]')
    assert chords(imported)[0] == (0, "G") and chords(imported)[1][1].startswith("C7")
    assert remarks(imported) == {"another chord for the same place": "Em"}


def test_section_4_19_annotations_are_words_not_chords(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}"C""^A bit slower"C8|"_D"D8|"@-15,5 E"E8|]')
    assert chords(imported)[0] == (0, "C")
    assert remarks(imported)["words"] == "A bit slower"


def test_section_4_19_a_letter_over_the_notes_names_a_section_and_is_no_chord(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}"C""^A"C8|D8||"^B"E8|"^D7"F8|]')
    assert imported.chart.form == ("A", "B")
    assert {symbol for _, symbol in chords(imported)} == {"C"}
    assert remarks(imported) == {"words": "D7"}


def test_section_4_19_what_is_no_chord_is_kept_and_the_chord_before_goes_on(from_abc: Read) -> None:
    imported = from_abc(f'{HEAD}"C"C8|"Hm7"D8|]')
    assert chords(imported) == [(0, "C")]
    assert [(r.bar, r.what, r.text) for r in imported.remarks] == [("2", "a chord symbol that isn't understood", "Hm7")]


# 5 lyrics, 6 typesetting, 7 voices


def test_section_5_words_to_sing_are_kept_with_their_line(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}C8|C8|\nw: o-ver the hill\nD8|D8|]\nw: and down\nW: la la\n")
    found = [(remark.bar, remark.text) for remark in imported.remarks if remark.what == "words to sing"]
    assert found == [("", "la la"), ("1", "o-ver the hill"), ("3", "and down")]


def test_section_5_symbol_lines_lay_chords_over_the_notes(from_abc: Read) -> None:
    assert chords(from_abc(f'{HEAD}C2D2E4|F8|\ns: "Am7" * "D7"|"G"\n')) == [(0, "Am7"), (2, "D7"), (4, "G")]


def test_section_6_1_1_a_line_may_go_on_in_the_next_and_hold_a_comment(from_abc: Read) -> None:
    assert pitches(from_abc(f"{HEAD}C4 D4 | \\ % a comment\nE4 F4 |]")) == "C4 D4 E4 F4"


def test_section_7_the_voice_called_so_has_the_melody_and_the_others_are_kept(from_abc: Read) -> None:
    music = 'V:1 name="Bass" clef=bass\nV:2 name="Melody"\n[V:1] C,8|"F"F,8|]\n[V:2] c8|f8|]\n'
    imported = from_abc(f"X:1\nM:4/4\nL:1/8\nK:C\n{music}")
    assert pitches(imported) == "C5 F5"
    assert chords(imported)[-1] == (4, "F")
    assert [(r.bar, r.what, r.text) for r in imported.remarks] == [
        ("1", "voice 1 (Bass)", "C,8"), ("2", "voice 1 (Bass)", '"F"F,8'),
    ]  # fmt: skip
    assert pitches(from_abc(f"X:1\nM:4/4\nL:1/8\nK:C\n{music}", melody="bass")) == "C3 F3"


def test_section_7_a_voice_that_isnt_there_is_named_with_those_there_are(from_abc: Read) -> None:
    with pytest.raises(ChartError, match="has no voice 'Flute'; there are 1 'Bass', 2"):
        from_abc('X:1\nM:4/4\nL:1/8\nV:1 name="Bass"\nV:2\nK:C\n[V:1]C8|]\n[V:2]c8|]', melody="Flute")


def test_section_7_4_overlays_carry_chords_in_mid_note(from_abc: Read) -> None:
    # "The & operator sets the time point back to the previous bar line."
    imported = from_abc(f'{HEAD}"Dm7"d8 & x4 "G7"x4|"C"c8|]')
    assert (pitches(imported), chords(imported)) == ("D5 C5", [(0, "Dm7"), (2, "G7"), (4, "C")])


def test_section_8_2_accents_and_entities_in_text() -> None:
    assert plain_text(r"\'e \`a \^o \~n \"u \cc &amp; \u00e9 \AE") == "é à ô ñ ü ç & é Æ"


def test_section_9_a_macro_is_played_in_full(from_abc: Read) -> None:
    assert pitches(from_abc("X:1\nM:4/4\nL:1/8\nm: ~G3 = G{A}G{F}G\nK:C\n~G3 z5|]")) == "G4 G4 G4"


def test_section_11_3_how_far_accidentals_reach_can_be_said(from_abc: Read) -> None:
    music = "^f2 f2 F2 z2|]"
    assert pitches(from_abc(HEAD + music)) == "F#5 F#5 F#4"
    assert pitches(from_abc(f"%%propagate-accidentals octave\n{HEAD}{music}")) == "F#5 F#5 F4"
    assert pitches(from_abc(f"%%propagate-accidentals not\n{HEAD}{music}")) == "F#5 F5 F4"


# 2.2 file structure


BOOK = "%abc-2.1\nM:3/4\n\nX:3\nT:First\nK:C\nC6|]\n\nX:7\nT:Second\nK:G\nF6|]\n"


def test_section_2_2_a_book_of_tunes_names_them_until_one_is_chosen(from_abc: Read) -> None:
    with pytest.raises(ChartError, match="holds 2 tunes: 3 'First', 7 'Second'; chart import --tune N takes one"):
        from_abc(BOOK)
    second = from_abc(BOOK, tune=7).chart
    assert (second.title, str(second.metre), second.fifths) == ("Second", "3/4", 1)
    with pytest.raises(ChartError, match="holds no tune 4"):
        from_abc(BOOK, tune=4)


def test_a_pickup_is_a_short_first_bar_and_bars_are_numbered_from_the_first_full_one(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}G2|!p!C8|D8|]")
    assert [float(note.beat) for note in imported.chart.unfold().melody] == [-1, 0, 4]
    assert [(remark.bar, remark.section, remark.section_bar) for remark in imported.remarks] == [("1", "A", 1)]


def test_old_files_in_latin_1_are_read(tmp_path: Path) -> None:
    path = tmp_path / "old.abc"
    path.write_bytes("X:1\nT:Été\nM:4/4\nK:C\nC8|]".encode("latin-1"))
    assert import_abc(path).chart.title == "Été"


def test_a_bar_that_doesnt_fill_its_metre_is_played_and_reported(from_abc: Read) -> None:
    imported = from_abc(f"{HEAD}C8|D6|E8|]")
    assert [(r.bar, r.what) for r in imported.remarks] == [("2", "lasts 3 quarters where its metre has 4")]
