"""A check lists every fault of a chart, a line each with section and bar."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.errors import ChartError
from companion.load import check_file

CHART = '''format = 1
form = "A"
[section.A]
treatment = "galloping"
chords = """
| Hm7 | G7  | C7 D7 E7 | F  |
"""
melody = """
| c8  | d9  | h        | g8 |
"""
[section.B]
chords = "| C | F |"
melody = "| z8 | z8 | z8 |"
'''


def lines(tmp_path: Path, text: str, **names: list[str]) -> list[str]:
    path = tmp_path / "tune.toml"
    path.write_text(text)
    return [str(fault).removeprefix(f"{path}: ") for fault in check_file(path, **names)]


def test_all_faults_are_listed_in_the_order_of_the_chart(tmp_path: Path) -> None:
    found = [line.split(";")[0] for line in lines(tmp_path, CHART, treatments=["walking"], feels=["swing"])]
    assert found == [
        "section A, bar 1: 'Hm7' is not a chord symbol",
        "section A, bar 2: the melody lasts 4.5 quarters in a bar of 4",
        "section A, bar 3: 'h' is not ABC note syntax",
        "section A, bar 3: 3 places don't go into this bar",
        "section B: the melody has 3 bars, the chords have 2",
        "section A: there is no treatment 'galloping'",
        "section B: is never played",
    ]


def test_a_sound_chart_has_no_fault(tmp_path: Path) -> None:
    assert lines(tmp_path, 'format = 1\n[section.A]\nchords = "| C | F |"\n', treatments=[], feels=["swing"]) == []


def test_faults_come_with_those_of_the_form(tmp_path: Path) -> None:
    found = lines(tmp_path, CHART.replace('"A"', '"A C"', 1))
    assert found[0].startswith("section A, bar 1") and found[-1].startswith("form: there is no section 'C'")


@pytest.mark.parametrize(
    ("chart", "line"),
    [
        ('feel = "swung"\n[section.A]\nchords = "| C |"', "feel: there is no feel 'swung'; did you mean 'swing'?"),
        ('[section.A]\nmelody = "| c8 | d8 | e8 |"', "section A: has no chord; write its chords"),
        ("[section.A]\nchords = \"| C |\"\nmelody = \"| c''''8 |\"", "section A, bar 1: C9 is beyond the piano"),
        (
            'order = [{ play = "head" }, { play = "introduction" }]\n[section.A]\nchords = "| C |"',
            "order, event 2: an introduction comes first",
        ),
        (
            'order = [{ play = "ending" }, { play = "head" }]\n[section.A]\nchords = "| C |"',
            "order, event 1: an ending comes last",
        ),
        (
            'form = "B A"\n[section.A]\nchords = "| C |"\nmelody = "c2 | d8 |"\n[section.B]\nmelody = "| g4 f2 e2 |"',
            "section A: its pickup takes the place of a note that section B ends with",
        ),
    ],
)  # fmt: skip
def test_what_is_hardly_meant_is_a_fault(tmp_path: Path, chart: str, line: str) -> None:
    found = lines(tmp_path, "format = 1\n" + chart, feels=["swing"])
    assert [fault for fault in found if fault.startswith(line)], found


def test_a_short_bar_in_a_sheet_is_a_fault(tmp_path: Path) -> None:
    sheet = (Path(__file__).parents[1] / "data" / "ties-and-triplets.musicxml").read_text()
    path = tmp_path / "sheet.musicxml"
    path.write_text(sheet.replace("<duration>48</duration>", "<duration>36</duration>", 1))
    assert [str(fault).split(";")[0] for fault in check_file(path)] == [
        f"{path}: section A, bar 4: lasts 3 quarters in 4/4"
    ]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("tune.toml", "title = 3"),
        ("tune.toml", "format = 9"),
        ("tune.toml", "[["),
        ("tune.mxl", "PK"),
        ("tune.txt", ""),
    ],
)
def test_what_is_no_chart_is_bad_input_rather_than_a_fault(tmp_path: Path, name: str, data: str) -> None:
    path = tmp_path / name
    path.write_text(data)
    with pytest.raises(ChartError) as error:
        check_file(path)
    assert str(path) in str(error.value)


def test_a_missing_file_is_bad_input(tmp_path: Path) -> None:
    with pytest.raises(ChartError, match="there is no such file"):
        check_file(tmp_path / "nowhere.toml")


def faults(tmp_path: Path, chart: str) -> list[str]:
    """What is wrong, without the remedies."""
    return [line.partition(";")[0] for line in lines(tmp_path, "format = 1\n" + chart)]


@pytest.mark.parametrize(
    ("melody", "found"),
    [
        ("A,,,,4 c'''4", []),  # A0 and C8, the piano's ends
        ("^G,,,,4 c4", ["section A, bar 1: G#0 is beyond the piano"]),
        ("c4 ^c'''4", ["section A, bar 1: C#8 is beyond the piano"]),
        ("c8 | c4 ^c'''4", ["section A, bar 2: C#8 is beyond the piano"]),
    ],
)
def test_a_piano_has_88_keys_from_a_0_to_c_8(tmp_path: Path, melody: str, found: list[str]) -> None:
    chords = "| C " * melody.count("|") + "| C |"
    assert faults(tmp_path, f'[section.A]\nchords = "{chords}"\nmelody = "| {melody} |"') == found


def test_a_note_of_a_pickup_beyond_the_piano_is_said_so(tmp_path: Path) -> None:
    assert faults(tmp_path, "[section.A]\nchords = \"| C |\"\nmelody = \"c''''2 | c8 |\"") == [
        "section A, pickup: C9 is beyond the piano"
    ]


@pytest.mark.parametrize(("bars", "found"), [(2, []), (3, ["section A: has no chord"])])
def test_two_bars_may_lead_in_without_a_chord(tmp_path: Path, bars: int, found: list[str]) -> None:
    assert faults(tmp_path, f'[section.A]\nmelody = "| {"c8 | " * bars}"') == found
    assert faults(tmp_path, f'[section.A]\nchords = "| {"N.C. | " * bars}"') == found


@pytest.mark.parametrize(
    ("form", "melody", "found"),
    [
        ("A A", "G2 | c8 | c6 z2", []),
        ("A A", "G2 | c8 | c8", []),
        ("A A", "G2 | c8 | c4 d4", []),
        ("A A", "G2 | c8 | c6 d2", ["section A: its pickup takes the place of a note that section A ends with"]),
        ("A A", "G2 | c8 | c6 G2", []),  # the pickup itself is written at the end, too
        ("A", "FG A2 | c8 | c4 d2 e2", ["section A: its pickup takes the place of 2 notes that section A ends with"]),
        ("B A", "G2 | c8 | c8", ["section A: its pickup takes the place of a note that section B ends with"]),
        ("A B", "G2 | c8 | c8", ["section A: its pickup takes the place of a note that section B ends with"]),
        ("B A B A", "G2 | c8 | c8", ["section A: its pickup takes the place of a note that section B ends with"]),
        ("A B", "z G | c8 | c8", []),
    ],
)
def test_a_pickup_that_drowns_what_stands_before_it_is_hardly_meant(
    tmp_path: Path, form: str, melody: str, found: list[str]
) -> None:
    chart = f'form = "{form}"\n[section.A]\nchords = "| C | C |"\nmelody = "{melody} |"\n'
    other = '[section.B]\nchords = "| C |"\nmelody = "| g4 f2 e2 |"' if "B" in form else ""
    assert faults(tmp_path, chart + other) == found


def test_introductions_come_first_and_endings_last_and_nothing_else_is_asked(tmp_path: Path) -> None:
    order = ", ".join(f'{{ play = "{kind}" }}' for kind in ("introduction", "head", "solos", "ending"))
    assert faults(tmp_path, f'order = [{order}]\n[section.A]\nchords = "| C |"') == []


HANDS = """[section.A]
chords = "| C | F |"
[[arrangement]]
section = "A"
chords = "| %s | z8 |"
bass = "| z8 | %s |"
"""


@pytest.mark.parametrize(
    ("chords", "bass", "found"),
    [
        ("[CEGce]8", "C,,8", []),
        ("[CEGBce]8", "C,,8", ["chords, bar 1: 6 notes at once for the right hand"]),
        ("[Ce]8", "C,,8", []),  # a tenth
        ("[Cf]8", "C,,8", ["chords, bar 1: from C4 to F5 is too wide for the right hand"]),
        ("[CE]8", "C,,,,,8", ["bass, bar 2: C-1 is beyond the piano"]),
        ("[CE]8", "[C,,G,,C,F,]8", ["bass, bar 2: from C2 to F3 is too wide for the left hand"]),
        ("[CE]8", "[A,,,,C,,,]8", []),
        ("c'''8", "C,,8", []),
        ("^c'''8", "C,,8", ["chords, bar 1: C#8 is beyond the piano"]),
    ],
)
def test_what_no_hand_can_play_of_a_written_arrangement_is_a_fault(
    tmp_path: Path, chords: str, bass: str, found: list[str]
) -> None:
    assert faults(tmp_path, HANDS % (chords, bass)) == [f"arrangement, place 1 (A), {line}" for line in found]


def test_what_no_hand_can_play_of_a_pickup_is_said_of_its_first_bar(tmp_path: Path) -> None:
    chart = '[section.A]\nchords = "| C | F |"\n[[arrangement]]\nsection = "A"\nchords = "{} | C8 | z8 |"'
    assert faults(tmp_path, chart.format("[Ce]2")) == []
    assert faults(tmp_path, chart.format("[Cf]2")) == [
        "arrangement, place 1 (A), chords, bar 1: from C4 to F5 is too wide for the right hand"
    ]


def test_what_no_hand_can_play_is_said_once_with_its_place(tmp_path: Path) -> None:
    tables = [f'[[arrangement]]\nsection = "A"\nchords = "| {chord} | z8 |"' for chord in ("[Ce]8", "[Cf]8", "[Ce]8")]
    chart = 'form = "A A A"\n[section.A]\nchords = "| C | F |"\n' + "\n".join(tables)
    assert faults(tmp_path, chart) == [
        "arrangement, place 2 (A), chords, bar 1: from C4 to F5 is too wide for the right hand"
    ]


def test_a_treatment_that_there_is_not_is_said_with_its_event(tmp_path: Path) -> None:
    order = 'order = [{ play = "head" }, { play = "solos", treatment = "walkin" }]'
    found = lines(tmp_path, f'format = 1\n{order}\n[section.A]\nchords = "| C |"', treatments=["walking"])
    assert found == ["order, event 2: there is no treatment 'walkin'; did you mean 'walking'?"]
