"""The chart in TOML: read, written, changed; whatever is wrong is said in one line with section and bar."""

# ruff: noqa: E501 (messages stand whole in the table of faults)

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.chart.model import Chart, ChordSpan, Event, MelodyNote, Section
from companion.chart.plain import printable_text
from companion.chart.toml.read import parse_toml, read_toml
from companion.chart.toml.update import update_toml
from companion.chart.toml.write import write_toml
from companion.errors import ChartError
from companion.music.chords import NO_CHORD, parse_chord
from companion.music.meter import Metre
from companion.music.pitch import Pitch

CHART = '''\
format = 1
title = "A trial"          # a title of our own
composer = "Nobody"
key = "C minor"
metre = "4/4"
tempo = 132                # quarters a minute
feel = "swing"
form = "A A B A"

# how the evening goes
order = [
  { play = "introduction", how = "vamp", bars = 4 },  # four bars of it
  { play = "head" },
  { play = "solos", choruses = 2, treatment = "walking" },
  { play = "ending" },
]

[section.A]
# driving
treatment = "walking"
chords = """
    | Cm7         | Dm7b5 G7  | Cm7       | %         |
"""
melody = """
G   | c2 z2 e2 z2 | d3c B2 z2 | (3GAB G6- | G4 z4     |
"""

[section.B]
treatment = "sparse"
chords = """
| Fm7 . . Bb7 | Ebmaj7 | N.C. G7alt |
"""
melody = """
| z8          | g8     | z8         |
"""
'''


def chart() -> Chart:
    return parse_toml(CHART)


def names(section: Section) -> list[str]:
    return [str(note.pitch) for note in section.melody]


def test_a_chart_says_its_title_key_metre_tempo_and_form() -> None:
    read = chart()
    assert (read.title, read.composer, read.fifths, read.minor) == ("A trial", "Nobody", -3, True)
    assert (read.metre, read.tempo, read.feel, read.form) == (Metre(4, 4), 132.0, "swing", ("A", "A", "B", "A"))


def test_the_order_of_events_is_kept() -> None:
    assert chart().events == (
        Event("introduction", how="vamp", bars=4),
        Event("head"),
        Event("solos", choruses=2, treatment="walking"),
        Event("ending"),
    )


def test_symbols_share_a_bar_evenly_and_dots_let_a_chord_go_on() -> None:
    a, b = chart().sections
    assert [(c.start, c.end, c.chord.symbol) for c in a.chords] == [
        (0, 4, "Cm7"),
        (4, 6, "Dm7b5"),
        (6, 8, "G7"),
        (8, 16, "Cm7"),
    ]
    assert [(c.start, c.end, c.chord.symbol) for c in b.chords] == [
        (0, 3, "Fm7"),
        (3, 4, "Bb7"),
        (4, 8, "Ebmaj7"),
        (8, 10, "N.C."),
        (10, 12, "G7alt"),
    ]


def test_a_repeat_sign_plays_the_bar_before_again() -> None:
    text = 'format = 1\n[section.A]\nchords = "| Dm7 G7 | % | C6 | % |"'
    (section,) = parse_toml(text).sections
    assert [(c.start, c.chord.symbol) for c in section.chords] == [
        (0, "Dm7"), (2, "G7"), (4, "Dm7"), (6, "G7"), (8, "C6"),
    ]  # fmt: skip


def test_two_chords_in_a_waltz_bar_are_halves_and_dots_make_them_two_and_one() -> None:
    text = 'format = 1\nmetre = "3/4"\n[section.A]\nchords = "| Dm7 G7 | Dm7 . G7 |"'
    (section,) = parse_toml(text).sections
    assert [c.start for c in section.chords] == [0, Fraction(3, 2), 3, 5]


def test_what_stands_before_the_first_bar_line_is_the_pickup() -> None:
    a = chart().sections[0]
    assert a.melody[0] == MelodyNote(Fraction(-1, 2), Fraction(1, 2), Pitch("G", 0, 4))
    assert a.melody[1].beat == 0


def test_a_tie_over_a_bar_line_makes_one_long_note() -> None:
    assert chart().sections[0].melody[-1] == MelodyNote(Fraction(9), Fraction(5), Pitch("G", 0, 4))


def test_a_note_tied_over_the_end_of_its_section_sounds_on() -> None:
    (section,) = parse_toml('format = 1\n[section.A]\nchords = "| C |"\nmelody = "| z4 c4- | c2"').sections
    assert section.melody == (MelodyNote(Fraction(2), Fraction(3), Pitch("C", 0, 5)),)


def test_a_bar_may_have_a_metre_of_its_own() -> None:
    text = 'format = 1\n[section.A]\nbar_metres = { 2 = "2/4" }\nchords = "| C | F | G |"\nmelody = "| c8 | z4 | d8 |"'
    (section,) = parse_toml(text).sections
    assert section.bars == (4, 2, 4)
    assert section.chords[1] == ChordSpan(Fraction(4), Fraction(6), parse_chord("F"))


def test_a_forgotten_outer_bar_line_is_no_pickup() -> None:
    text = 'format = 1\n[section.A]\nchords = "C | F"\nmelody = "c8 | d8"'
    (section,) = parse_toml(text).sections
    assert [note.beat for note in section.melody] == [0, 4]


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("Cm7         |", "Hm7         |", "section A, bar 1: 'Hm7' is not a chord symbol; the root is a letter from A to G, so write Bm7"),
        ("| Ebmaj7 |", "| Ebmaj7 Fm7 G7 |", "section B, bar 2: 3 places don't go into this bar; put a . for each beat on which the chord before goes on, as in Dm7 . . G7"),
        ("| Ebmaj7 |", "|        |", "section B, bar 2: the bar is empty; write a chord, % to repeat the bar before, or . to go on"),
        ("d3c B2 z2", "d" + ">" * 2000 + "c B2 z2", "section A, bar 2: the melody lasts over 1000 quarters in a bar of 4; count its notes"),
        ("d3c B2 z2", "d3c B2 z3", "section A, bar 2: the melody lasts 4.5 quarters in a bar of 4; count its notes"),
        ("d3c B2 z2", "d3h B2 z2", "section A, bar 2: 'h' is not ABC note syntax; notes are the letters A to G"),
        ("| g8     | z8         |", "| g8 |", "section B: the melody has 2 bars, the chords have 3; bar 3 of the chords has no melody: write it (z for a rest), or take it out"),
        ("| g8     | z8         |", "| g8     | z4 | z4         |", "section B: the melody has 4 bars, the chords have 3; melody bars 3 and 4 make one: take out the bar line between them"),
        ("G6- | G4 ", "G6- | A4 ", "section A, bar 4: G4 is tied to Ab4; a tie joins one pitch"),
        ('"A A B A"', '"A A C A"', "form: there is no section 'C'; write a [section.C], or name one of A, B"),
        ("tempo = 132 ", "tempi = 132 ", "the chart: 'tempi' has no meaning here; did you mean tempo?"),
        ("tempo = 132 ", "tempo = 1320 ", "tempo: 1320 is no tempo; give quarters a minute, from 20 to 400"),
        ('"C minor"', '"H minor"', "key: 'H minor' is not a key with up to seven sharps or flats; write it like \"C minor\" or \"Bb major\""),
        ('"4/4"', '"4/5"', "metre: '4/5' is not a metre; write it like \"4/4\""),
        ('play = "head"', 'play = "hat"', "order, event 2: 'hat' is no event; play one of introduction, head, solos, ending"),
        ("choruses = 2", "choruses = 0", "order, event 3: choruses should be a whole number from 1 to 100, not 0"),
        ("format = 1", "", "says no format; write format = 1 in its first line"),
        ("format = 1", "format = 2", "is of format 2, newer than this companion reads (1); bring the companion up to date"),
        ("[section.B]", "[section.B", "line 28, column 11: isn't TOML: expected ']' at the end of a table declaration"),
        ("treatment = \"sparse\"", "treatment = 7", "section B, treatment: treatment should be a text in quotes, not 7"),
        ("| g8     |", "|: g8 :|", "section B: '|:' in a melody; the form says what is repeated; an ending is a section"),
    ],
)  # fmt: skip
def test_an_error_names_section_and_bar_in_one_line(tmp_path: Path, old: str, new: str, line: str) -> None:
    assert old in CHART
    path = tmp_path / "trial.toml"
    path.write_text(CHART.replace(old, new, 1))
    with pytest.raises(ChartError) as error:
        read_toml(path)
    assert str(error.value) == f"{path}: {line}"


def test_a_file_that_is_no_text_is_refused_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "trial.toml"
    path.write_bytes(b'format = 1\ntitle = "\xff"\n')
    with pytest.raises(ChartError, match=r"line 2: is not UTF-8 text"):
        read_toml(path)


def test_a_changed_chart_keeps_its_comments() -> None:
    read = chart()
    a, b = read.sections
    changed = replace(read, title="Another", tempo=96.0, sections=(a, replace(b, treatment=None)))
    text = update_toml(CHART, changed)
    assert parse_toml(text) == changed
    assert [line for line in CHART.splitlines() if "#" in line and line not in text.splitlines()] == [
        'title = "A trial"          # a title of our own',
        "tempo = 132                # quarters a minute",
    ]
    assert 'title = "Another"          # a title of our own' in text
    assert "tempo = 96                # quarters a minute" in text
    assert "| Cm7         | Dm7b5 G7  | Cm7       | %         |" in text


def test_a_change_of_key_respells_the_melody_and_changes_no_note() -> None:
    read = chart()
    changed = replace(read, fifths=0, minor=False)
    text = update_toml(CHART, changed)
    assert parse_toml(text) == changed
    assert "# driving" in text


def test_sections_may_be_added_taken_away_and_set_in_another_order() -> None:
    read = chart()
    a, b = read.sections
    changed = replace(read, sections=(b, replace(a, name="Second A")), form=("B", "Second A"))
    assert parse_toml(update_toml(CHART, changed)) == changed


def test_a_chart_of_a_newer_format_is_never_changed() -> None:
    newer = CHART.replace("format = 1", "format = 7")
    with pytest.raises(ChartError, match="format 7, newer"):
        update_toml(newer, chart())


def test_a_text_that_is_no_chart_is_never_changed() -> None:
    with pytest.raises(ChartError):
        update_toml("my notes about the gig", chart())


def test_the_example_on_the_charts_page_reads() -> None:
    page = (Path(__file__).parents[3] / "charts" / "README.md").read_text(encoding="utf-8")
    example = page.split("```toml\n")[1].split("```")[0]
    assert parse_toml(example).unfold().length == 64


def test_bar_lines_stand_under_bar_lines() -> None:
    lines = write_toml(chart()).splitlines()
    k = lines.index('chords = """')
    chords, melody = lines[k + 1], lines[k + 4]
    assert [i for i, sign in enumerate(chords) if sign == "|"] == [i for i, sign in enumerate(melody) if sign == "|"]


# What is written reads back equal.

METRES = [Metre(4, 4), Metre(3, 4), Metre(2, 2), Metre(2, 4), Metre(6, 8), Metre(12, 8), Metre(5, 4), Metre(3, 2)]
SYMBOLS = ["C", "Dm7", "G7alt", "F#m7b5", "Bbmaj7#11", "Eb6/9", "A13b9/C#", "Dbdim7", "E7sus4", "Abm(maj7)", "B+"]
CHORDS = st.sampled_from([parse_chord(symbol) for symbol in SYMBOLS] + [NO_CHORD])
LENGTHS = st.sampled_from(
    [Fraction(n, d) for n, d in ((1, 4), (1, 2), (1, 1), (3, 2), (2, 1), (4, 1), (5, 2), (1, 3), (2, 3), (1, 6), (7, 5))]
)  # fmt: skip
PITCHES = st.builds(Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(2, 7))
TEXTS = st.text(st.sampled_from("aZ9 é♭\"\\'#\t\n\x7f\x01=[]|🎹"), max_size=6).map(printable_text)


@st.composite
def melodies(draw: st.DrawFn, length: Fraction) -> tuple[MelodyNote, ...]:
    notes = []
    beat = -draw(st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(4, 3), Fraction(3)]))
    while beat < length and draw(st.integers(0, 9)):
        lasting = draw(LENGTHS)
        if draw(st.integers(0, 3)):
            notes.append(MelodyNote(beat, lasting, draw(PITCHES)))
        beat += lasting
    return tuple(notes)


@st.composite
def sections(draw: st.DrawFn, name: str, metre: Metre) -> Section:
    odd = st.sampled_from([metre.bar, metre.bar, metre.bar, Fraction(2), Fraction(3, 2), Fraction(10, 3)])
    bars = tuple(draw(st.lists(odd, min_size=1, max_size=5)))
    length = sum(bars, Fraction(0))
    spans = []
    beat = draw(st.sampled_from([Fraction(0), Fraction(1), length]))
    while beat < length:
        end = min(length, beat + draw(st.sampled_from([1, 2, 4, 8])) * draw(LENGTHS))
        spans.append(ChordSpan(beat, end, draw(CHORDS)))
        beat = end
    melody = draw(melodies(length)) if draw(st.booleans()) else ()
    return Section(name, bars, tuple(spans), melody, draw(st.none() | st.just("walking")))


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    metre = draw(st.sampled_from(METRES))
    named = draw(st.lists(TEXTS.filter(str.strip) | st.sampled_from("ABC"), min_size=1, max_size=2, unique=True))
    events = st.builds(
        Event,
        kind=st.sampled_from(["introduction", "head", "solos", "ending"]),
        choruses=st.integers(1, 9),
        treatment=st.none() | TEXTS,
        how=st.none() | TEXTS,
        bars=st.none() | st.integers(1, 16),
    )
    return Chart(
        title=draw(TEXTS),
        sections=tuple(draw(sections(name, metre)) for name in named),
        form=tuple(draw(st.lists(st.sampled_from(named), min_size=1, max_size=6))),
        metre=metre,
        fifths=draw(st.integers(-7, 7)),
        minor=draw(st.booleans()),
        tempo=draw(st.floats(20, 400) | st.integers(20, 400).map(float)),
        feel=draw(TEXTS),
        composer=draw(st.none() | TEXTS),
        events=tuple(draw(st.lists(events, max_size=3))),
    )


@given(charts())
def test_what_is_written_reads_back_equal(written: Chart) -> None:
    assert parse_toml(write_toml(written)) == written


@settings(max_examples=settings.default.max_examples // 4)
@given(charts())
def test_any_chart_can_be_written_into_the_file_of_another(wanted: Chart) -> None:
    text = update_toml(CHART, wanted)
    assert parse_toml(text) == wanted
    assert "# how the evening goes" in text or not wanted.events


@given(st.integers(0, len(CHART) - 1), st.integers(0, 12), st.text("|%[]()<>=^_'\",-:.*z9Hc \n#\\", max_size=6))
def test_a_garbled_chart_is_read_or_refused_in_one_line(place: int, gone: int, put: str) -> None:
    try:
        parse_toml(CHART[:place] + put + CHART[place + gone :])
    except ChartError as error:
        assert "\n" not in str(error) and str(error)
