# ruff: noqa: E501 (messages stand whole in the table of faults)
"""The written arrangement in a chart's file: written, read back, edited by hand, changed bar by bar.

The notation is that of The ABC Music Standard 2.1: chords 4.17, ties 4.11, tuplets 4.13, decorations 4.14, voice
overlay 7.4.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart, WrittenNote, WrittenPart
from companion.chart.show import show
from companion.chart.toml.arrangement import places_of, written_holds
from companion.chart.toml.marks import STRESSES, NoteMarks, usual_voices
from companion.chart.toml.part_write import FREE_BAR
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.chart.toml.write import write_toml
from companion.errors import ChartError
from companion.load import check_file
from companion.messages import HANDS
from companion.music.pitch import Pitch
from companion.resources import shipped_folder

CHART = '''\
# a tune of ours
format = 1
key = "F major"
form = "A B A"

[section.A]
chords = "| F6 | Gm7 C7 |"
melody = "| c8 | d4 c4 |"

[section.B]   # the bridge
chords = "| Bbmaj7 | % | C7 |"

[[arrangement]]  # bars 1-2
section = "A"
hold = { bass = 0.9 }
bass = """
| F,,2 A,,2 C,2 =B,,2 | B,,2 G,,2 C,2 !ghost!E,,E,, |  % walks down
"""
chords = """
F | z2 [A,CDG]4 z2 | z3 [B,DFA]2 [B,DEA]3- | [B,DEA]2
"""

[[arrangement]]  # bars 3-5
section = "B"
chords = """
| z2 [A,DF]6 & x4 C4 | X | z4 [E,A,D]4 |
"""
'''


def parts(chart: Chart) -> dict[str, WrittenPart]:
    return {part.part: part for part in chart.written}


def said(notes: tuple[WrittenNote, ...]) -> list[tuple[float, float, str]]:
    return [(float(n.beat), float(n.length), str(n.pitch)) for n in notes]


def in_bars(first: int, text: str, part: str = "chords", key: str = "C major", more: str = "") -> WrittenPart:
    """A part of four bars, the ``first`` of which are given; the others are free."""
    bars = " | ".join([text, *["X"] * (4 - first)])
    chart = parse_toml(
        f'format = 1\nkey = "{key}"\n[section.A]\nchords = "| C6 | % | % | % |"\n'
        f"[[arrangement]]\nsection = \"A\"\n{more}\n{part} = '''| {bars} |'''"
    )
    return parts(chart)[part]


# reading


def test_a_bass_line_sounds_the_share_of_its_beats_that_the_place_says() -> None:
    bass = parts(parse_toml(CHART))["bass"]
    assert said(bass.notes)[:4] == [(0, 0.9, "F2"), (1, 0.9, "A2"), (2, 0.9, "C3"), (3, 0.9, "B2")]
    assert {n.hand for n in bass.notes} == {"left"}
    assert bass.bars == {1, 2}, "the other places are free"


def test_a_ghosted_note_is_weak_and_short() -> None:
    ghost = parts(parse_toml(CHART))["bass"].notes[-2]
    assert (ghost.beat, ghost.length, ghost.weight) == (7, Fraction(1, 3), 0.4)


def test_chords_stand_in_brackets_and_tie_over_the_end_of_their_place() -> None:
    chords = parts(parse_toml(CHART))["chords"]
    last = [n for n in chords.notes if n.beat == Fraction(13, 2)]
    assert [(str(n.pitch), n.length, n.voice) for n in last] == [
        ("Bb3", Fraction(5, 2), 1), ("D4", Fraction(5, 2), 2), ("E4", Fraction(5, 2), 3), ("A4", Fraction(5, 2), 4),
    ]  # fmt: skip


def test_a_pickup_stands_before_the_first_bar_line() -> None:
    first = parts(parse_toml(CHART))["chords"].notes[0]
    assert (first.beat, first.length, str(first.pitch)) == (Fraction(-1, 2), Fraction(1, 2), "F4")


def test_an_overlay_starts_its_bar_again_and_a_late_voice_takes_its_place_in_the_chord() -> None:
    bridge = [n for n in parts(parse_toml(CHART))["chords"].notes if 8 <= n.beat < 12]
    assert [(n.beat, str(n.pitch), n.voice) for n in bridge] == [
        (9, "A3", 1), (9, "D4", 3), (9, "F4", 4), (10, "C4", 2),
    ]  # fmt: skip


def test_an_x_leaves_a_bar_free_and_a_rest_does_not() -> None:
    assert parts(parse_toml(CHART))["chords"].bars == {1, 2, 3, 5}
    assert in_bars(2, "X | z8").bars == {2}
    assert in_bars(4, "X3 | Z").bars == {4}


def test_hands_pedal_accents_and_weights_are_marks() -> None:
    low, high, plain = in_bars(1, '!left!!ped![C,,G,,]8 & x4"_0.85"[!voice4!eb]4').notes[:4:2] + in_bars(1, "c8").notes
    assert (low.hand, low.pedal) == ("left", True)
    assert (high.weight, high.hand, high.voice) == (0.85, "right", 4)
    assert (plain.hand, plain.pedal, plain.weight, plain.voice) == ("right", False, 1.0, 1)


def test_a_dot_lets_a_note_go_early_and_tenuto_holds_it() -> None:
    notes = in_bars(1, ".[EG]2 !tenuto!c2 z4", more="hold = { chords = 0.9 }").notes
    assert [n.length for n in notes] == [Fraction(4, 5), Fraction(4, 5), 1]


def test_triplets_and_broken_rhythm_are_read_as_the_standard_says() -> None:
    assert [n.length for n in in_bars(1, "(3ceg c>e z4").notes] == [
        Fraction(1, 3), Fraction(1, 3), Fraction(1, 3), Fraction(3, 4), Fraction(1, 4),
    ]  # fmt: skip


def test_an_accidental_reaches_to_the_bar_line_in_its_own_line_of_an_overlay() -> None:
    notes = in_bars(2, "^c2 c2 z4 & x4 c4 | c8").notes
    assert [str(n.pitch) for n in notes] == ["C#5", "C#5", "C5", "C5"]


def test_a_tied_note_keeps_its_accidental_over_the_bar_line() -> None:
    assert said(in_bars(2, "z4 ^c4- | c2 c2 z4").notes) == [(2, 3, "C#5"), (5, 1, "C5")]


# what is wrong is said with place, part and bar


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("B,,2 G,,2 C,2 ", "B,,2 G,,2 ", "arrangement, place 1 (A), bass, bar 2: lasts 3 quarters in a bar of 4; count its notes"),
        ("A,,2 C,2", "H,,2 C,2", "arrangement, place 1 (A), bass, bar 1: 'H,,2' is not ABC note syntax"),
        ("!ghost!", "!gost!", "arrangement, place 1 (A), bass, bar 2: '!gost!' has no meaning here; use !left!, !right!, !ped!"),
        ('section = "B"', 'section = "A"', "arrangement, place 2 (B): is of section 'A', the form has 'B' there; write section"),
        (" | X |", " |", "arrangement, place 2 (B), chords: has 2 bars, the section has 3; write X for each bar that is to stay"),
        ("hold = {", "held = {", "arrangement, place 1 (A): 'held' has no meaning here; it may hold section, hold, melody"),
        ("bass = 0.9", "bass = 9", "arrangement, place 1 (A), hold: should give parts a share from 0 to 1"),
        ("3- | [B,DEA]2", "3- |", "arrangement, place 1 (A), chords, bar 2: Bb3 is tied to nothing; take its - away"),
        ("3- | [B,DEA]2", "3 | [B,DEA]2", "arrangement, place 1 (A), chords, after the last bar: something stands there; close the bar"),
        ("| z2 [A,DF]6", "F | z2 [A,DF]6", "arrangement, place 2 (B), chords: something stands before the first bar line"),
        ("[E,A,D]4", "[E,A,D4", "arrangement, place 2 (B), chords, bar 3: '[E,A,D4' is not ABC note syntax"),
        ("[E,A,D]4", "[]4", "arrangement, place 2 (B), chords, bar 3: a chord without a note"),
        ("[[arrangement]]  # bars 3-5", "[[arrangement]]\nsection = 'B'\n" * 3 + "[[arrangement]]", "arrangement: has 5 places, the form has 3"),
    ],
)  # fmt: skip
def test_a_fault_is_told_in_one_line_with_place_part_and_bar(old: str, new: str, message: str) -> None:
    assert old in CHART
    with pytest.raises(ChartError) as caught:
        parse_toml(CHART.replace(old, new, 1))
    assert message in str(caught.value)


def test_a_check_lists_every_faulty_bar(tmp_path: Path) -> None:
    file = tmp_path / "faulty.toml"
    file.write_text(CHART.replace("A,,2 C,2", "H2").replace("[E,A,D]4", "[E,A,D]3"))
    assert [fault.where for fault in check_file(file)][:2] == [
        "arrangement, place 1 (A), bass, bar 1",
        "arrangement, place 2 (B), chords, bar 3",
    ]


def test_a_check_finds_what_no_hand_can_play(tmp_path: Path) -> None:
    file = tmp_path / "wide.toml"
    wide = CHART.replace("[A,DF]6", "[A,,DF]6").replace("[E,A,D]4", "[E,A,DFAd]4").replace("F,,2 A,,2", "F,,,,2 A,,2")
    file.write_text(wide)
    assert [str(fault).removeprefix(f"{file}: ") for fault in check_file(file)] == [
        "arrangement, place 1 (A), bass, bar 1: F0 is beyond the piano; write it in another octave",
        "arrangement, place 2 (B), chords, bar 1: from A2 to F4 is too wide for the right hand; give some notes to the other hand with !left! or !right!",
        "arrangement, place 2 (B), chords, bar 3: 6 notes at once for the right hand; give some to the other hand",
    ]


def test_a_chart_shows_what_is_written_of_it() -> None:
    assert "written: chords in bars 1-3 and 5, bass in bars 1-2" in show(parse_toml(CHART)).splitlines()


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet="|&[]()!\"_^=.-<>zxyXZabcGA,'/23459 %:\n", max_size=40))
def test_whatever_is_typed_is_read_or_told_in_one_line(typed: str) -> None:
    text = CHART.replace("| z2 [A,DF]6 & x4 C4 | X |", f"| {typed} | X |")
    try:
        parse_toml(text)
    except ChartError as fault:
        assert "\n" not in str(fault)


def test_the_example_in_the_guide_is_read() -> None:
    guide = (shipped_folder() / "charts" / "README.md").read_text(encoding="utf-8")
    example = next(text for text in re.findall(r"```toml\n(.*?)```", guide, re.DOTALL) if "[[arrangement]]" in text)
    chart = parse_toml(f'format = 1\nkey = "G minor"\n[section.A]\nchords = "| Gm6 | C7 | F7 | C7 |"\n{example}')
    assert [(part.part, sorted(part.bars)) for part in chart.written] == [("chords", [1, 2, 4]), ("bass", [1, 2])]


LISTED = """
trill lowermordent uppermordent mordent pralltriller roll turn turnx invertedturn invertedturnx arpeggio > accent
emphasis fermata invertedfermata tenuto 0 1 2 3 4 5 + plus snap slide wedge upbow downbow open thumb breath pppp ppp pp
p mp mf f ff fff ffff sfz segno coda D.S. D.C. dacoda dacapo fine shortphrase mediumphrase longphrase staccato
"""
"""The decorations of ABC 2.1, section 4.14 (from memory), but for those that begin and end a stretch."""


def test_the_guide_says_which_marks_are_ours_and_not_the_standards() -> None:
    guide = (shipped_folder() / "charts" / "README.md").read_text(encoding="utf-8")
    ours = guide.split("### What of this is ours, and not ABC")[1].split("\n#")[0]
    taken = [*HANDS, "ped", "tenuto", "voice2", *STRESSES]
    assert all(NoteMarks().marked(mark) != NoteMarks() for mark in taken)
    assert [mark for mark in taken if mark not in LISTED.split() and f"`!{mark}!`" not in ours] == []
    assert f"`{FREE_BAR}`" in ours and '`"_0.8"`' in ours


# writing


def test_what_is_read_is_written_again_and_reads_the_same() -> None:
    chart = parse_toml(CHART)
    assert parse_toml(write_toml(chart)) == chart


def test_bar_lines_stand_under_bar_lines_four_bars_a_line() -> None:
    low = [WrittenNote(Fraction(n), Fraction(1), Pitch("C", n % 2, 2), "left") for n in range(32)]
    chart = parse_toml('format = 1\n[section.A]\nchords = "| C6 | % | % | % | C7 | % | % | % |"')
    text = write_toml(replace(chart, written=(WrittenPart("bass", frozenset(range(1, 9)), tuple(low)),)))
    rows = text.split('bass = """\n')[1].splitlines()[:2]
    assert len({tuple(i for i, sign in enumerate(row) if sign == "|") for row in rows}) == 1
    assert rows[0].count("|") == 5


LENGTHS = [
    Fraction(n, d)
    for n, d in [(1, 2), (1, 1), (3, 2), (2, 1), (9, 10), (1, 3), (2, 5), (4, 5), (13, 10), (5, 1), (57, 20), (23, 50)]
]


@st.composite
def arrangements(draw: st.DrawFn) -> Chart:
    """A chart of eight bars in two places, some of them written."""
    fifths, minor = draw(st.integers(-6, 6)), draw(st.booleans())
    base = parse_toml('format = 1\nform = "A A"\n[section.A]\nchords = "| C6 | % | % | % |"')
    written = []
    for part in draw(st.sets(st.sampled_from(["chords", "bass", "melody"]), min_size=1)):
        bars = draw(st.frozensets(st.integers(1, 8), min_size=1))
        notes: dict[tuple[Fraction, int], WrittenNote] = {}
        busy: dict[int, Fraction] = {}
        for _ in range(draw(st.integers(0, 14))):
            bar = draw(st.sampled_from(sorted(bars)))
            beat = (
                Fraction(draw(st.integers(0, 7)), 2) + 4 * (bar - 1)
                if bar > 1 or draw(st.booleans())
                else Fraction(-1, 2)
            )
            for _ in range(draw(st.integers(1, 3))):
                pitch = Pitch(draw(st.sampled_from("CDEFGAB")), draw(st.integers(-2, 2)), draw(st.integers(1, 6)))
                length = draw(st.sampled_from(LENGTHS))
                mark = draw(st.sampled_from([1.0, 1.0, 0.4, 1.08, 0.85]))
                notes[beat, pitch.midi] = WrittenNote(
                    beat, length, pitch, draw(st.sampled_from(["left", "right"])), draw(st.integers(1, 4)), mark, draw(st.booleans()),
                )  # fmt: skip
        in_order, kept = sorted(notes.values(), key=lambda n: (n.beat, n.pitch.midi, n.voice)), []
        for note in in_order:  # a key can be struck again when it has been let go
            if note.beat >= busy.get(note.pitch.midi, Fraction(-9)):
                busy[note.pitch.midi] = note.beat + 8
                kept.append(note)
        written.append(WrittenPart(part, bars, tuple(kept)))
    in_score = sorted(written, key=lambda p: ["melody", "chords", "bass"].index(p.part))
    return replace(base, fifths=fifths, minor=minor, written=tuple(in_score))


@settings(max_examples=25, deadline=None)
@given(arrangements())
def test_any_arrangement_is_written_and_read_without_loss(chart: Chart) -> None:
    again = parse_toml(write_toml(chart))
    assert again.written == chart.written


# changing


def with_note(chart: Chart, part: str, bar: int, name: str) -> Chart:
    """The first note of a bar replaced by another pitch."""
    old = parts(chart)[part]
    start = chart.unfold().bars[bar - 1]
    n, note = next((n, note) for n, note in enumerate(old.notes) if note.beat >= start)
    notes = (*old.notes[:n], replace(note, pitch=Pitch(name[0], 0, int(name[1:]))), *old.notes[n + 1 :])
    written = tuple(replace(p, notes=notes) if p is old else p for p in chart.written)
    return replace(chart, written=written)


def test_a_bar_made_anew_leaves_the_rest_to_the_letter() -> None:
    chart = with_note(parse_toml(CHART), "bass", 2, "E2")
    assert update_toml(CHART, chart) == CHART.replace("| B,,2 G,,2", "| E,,2 G,,2")


def test_comments_survive_when_bars_are_widened_or_added() -> None:
    chart = parse_toml(CHART)
    wide = tuple(replace(n, weight=0.85) if n.beat < 4 else n for n in parts(chart)["bass"].notes)
    more = WrittenNote(Fraction(16), Fraction(4), Pitch("C", 0, 2), "left")
    bass = replace(parts(chart)["bass"], notes=(*wide, more), bars=frozenset({1, 2, 5}))
    changed = replace(chart, written=(parts(chart)["chords"], bass))
    text = update_toml(CHART, changed)
    assert parse_toml(text).written == changed.written
    for comment in ("# a tune of ours", "# the bridge", "% walks down", "# bars 1-2", "# bars 3-5"):
        assert comment in text
    assert "| B,,2 G,,2 C,2 !ghost!E,,E,, |  % walks down" in text


def test_an_arrangement_is_added_below_a_chart_without_one() -> None:
    bare = CHART[: CHART.index("[[arr")]
    text = update_toml(bare, parse_toml(CHART))
    assert text.startswith(bare.rstrip())
    assert parse_toml(text) == parse_toml(CHART)


def test_an_arrangement_can_be_taken_out_again() -> None:
    text = update_toml(CHART, replace(parse_toml(CHART), written=()))
    assert text.rstrip() == CHART[: CHART.index("[[arr")].rstrip()


def test_rests_of_several_bars_are_opened_where_one_of_them_is_written() -> None:
    text = CHART.replace("| z2 [A,DF]6 & x4 C4 | X | z4 [E,A,D]4 |", "| X3 |  % later")
    note = WrittenNote(Fraction(12), Fraction(4), Pitch("E", 0, 4))
    old = parts(parse_toml(text))["chords"]
    chords = replace(old, bars=old.bars | {4}, notes=(*old.notes, note))
    changed = update_toml(text, replace(parse_toml(text), written=(chords, parts(parse_toml(text))["bass"])))
    assert "| X | E8 | X |  % later" in changed


def test_a_chart_moved_to_another_key_says_its_arrangement_in_it() -> None:
    chart = replace(parse_toml(CHART), fifths=3)
    text = update_toml(CHART, chart)
    assert parse_toml(text) == chart


def test_an_arrangement_of_a_newer_format_is_never_changed() -> None:
    with pytest.raises(ChartError, match="newer"):
        update_toml(CHART.replace("format = 1", "format = 2"), parse_toml(CHART))


def test_voices_are_counted_from_below_among_notes_that_end_together() -> None:
    chord = [WrittenNote(Fraction(0), Fraction(2), Pitch(step, 0, 4)) for step in "CEB"]
    late = WrittenNote(Fraction(1), Fraction(1), Pitch("G", 0, 4))
    assert usual_voices([*chord, late], "chords") == [1, 2, 4, 3]
    assert usual_voices([*chord, late], "bass") == [1, 1, 1, 1]


def written_as(hold: str = "", chords: str = "| c8 |", section: str = '"A"') -> Chart:
    table = f"[[arrangement]]\nsection = {section}\n{hold}\nchords = '''{chords}'''"
    return parse_toml(f'format = 1\n[section.A]\nchords = "| C |"\n{table}')


@pytest.mark.parametrize(
    ("hold", "fine"),
    [
        ("hold = { chords = 1 }", True), ("hold = { chords = 0.01 }", True), ("hold = { chords = 0 }", False), ("hold = { chords = 1.01 }", False),
        ("hold = { chords = true }", False), ("hold = { chords = 'x' }", False), ("hold = { solo = 0.5 }", False), ("hold = 0.5", False),
    ],
)  # fmt: skip
def test_what_sounds_is_a_share_of_what_is_written(hold: str, fine: bool) -> None:
    if fine:
        assert 0 < written_as(hold).written[0].notes[0].length <= 4
        return
    with pytest.raises(ChartError, match=r"place 1 \(A\), hold: should give parts a share from 0 to 1; as in"):
        written_as(hold)


def test_a_pickup_of_three_beats_is_read_and_written_whole() -> None:
    chart = written_as(chords="G2 A2 B2 | c8 |")
    assert [(n.beat, n.length) for n in chart.written[0].notes] == [(-3, 1), (-2, 1), (-1, 1), (0, 4)]
    assert parse_toml(write_toml(chart)) == chart and "G2 A2 B2 | c8 |" in write_toml(chart)


def test_places_lie_one_after_the_other_with_their_bars_numbered_through_the_form() -> None:
    text = 'format = 1\nform = "A B A"\n[section.A]\nchords = "| C | F |"\n[section.B]\nbar_metres = { 1 = "2/4" }\nchords = "| G |"'
    told = [
        (place.name, place.start, place.end, place.starts, place.before, place.where)
        for place in places_of(parse_toml(text))
    ]
    assert told == [
        ("A", 0, 8, [0, 4], 0, "bars 1-2"), ("B", 8, 10, [8], 2, "bars 3-3"), ("A", 10, 18, [10, 14], 3, "bars 4-5"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "arrangement", ["arrangement = 1", "arrangement = [1]", "arrangement = [{ section = 'A' }, 2]"]
)
def test_an_arrangement_is_a_table_for_each_place(arrangement: str) -> None:
    with pytest.raises(ChartError, match=r"arrangement: should be a table for each place of the form; begin each with"):
        parse_toml(f'format = 1\n{arrangement}\n[section.A]\nchords = "| C |"')


def test_a_table_says_its_section_and_its_texts_in_quotes() -> None:
    with pytest.raises(ChartError, match=r"place 1 \(A\): says no section, the form has 'A' there"):
        written_as(section="3")
    with pytest.raises(ChartError, match=r"place 1 \(A\), bass: should be a text in quotes; write its bars"):
        written_as(hold="bass = 3")


def test_shares_are_written_as_decimals_and_the_whole_is_left_out() -> None:
    assert (
        written_holds({"chords": Fraction(9, 10), "bass": Fraction(1), "melody": Fraction(1, 8)})
        == "{ chords = 0.9, melody = 0.125 }"
    )
    assert written_holds({"bass": Fraction(1)}) == written_holds({}) == ""


def test_only_places_up_to_the_last_that_is_written_have_a_table() -> None:
    text = 'format = 1\nform = "A A A"\n[section.A]\nchords = "| C |"\n'
    note = WrittenNote(Fraction(4), Fraction(4), Pitch("C", 0, 4))
    chart = replace(parse_toml(text), written=(WrittenPart("chords", frozenset({2}), (note,)),))
    told = write_toml(chart).split("[[arrangement]]")
    assert len(told) == 3 and "chords" not in told[1] and "| C8 |" in told[2]
    assert parse_toml(write_toml(chart)) == chart
