"""Written arrangements in other keys: played where a hand and a bass can play them (common practice)."""

from __future__ import annotations

from itertools import pairwise

import pytest

from companion.arrange.audit.arrangement import audit
from companion.arrange.plan import arrange
from companion.arrange.transposition import in_key
from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.load import load
from companion.resources import shipped_folder

FILE = shipped_folder() / "charts" / "ferry-without-lights.toml"
KEYS = ["C", "Db", "D", "Eb", "E", "F", "F#", "Ab", "A", "Bb", "B"]


@pytest.fixture(scope="module")
def made() -> Chart:
    """A tune with a written arrangement."""
    return write_arrangement(load(FILE), seed=2, treatment="walking", parts=("melody", "chords", "bass"))


def written(part: str, bars: str, key: str = "C", melody: str = "") -> Chart:
    sung = f"melody = '| {melody} |'\n" if melody else ""
    return parse_toml(
        f'format = 1\nkey = "{key}"\n[section.A]\nchords = "| Cmaj7 | % |"\n{sung}'
        f"[[arrangement]]\nsection = 'A'\n{part} = '| {bars} |'\n"
    )


@pytest.mark.parametrize("key", KEYS)
def test_a_written_arrangement_is_as_good_in_any_key(made: Chart, key: str) -> None:
    form = in_key(made, key).unfold()
    assert all(28 <= note.midi <= 55 for note in arrange(form, "bass"))
    found = [figure for figure in audit(form, seeds=1, choruses=1) if not figure.name.startswith("phrases")]
    missed = {figure.name: figure.value for figure in found if not figure.reached}
    assert all(value <= 0.05 for value in missed.values()), missed


@pytest.mark.parametrize("key", ["D", "Eb", "B"])
def test_all_its_notes_stay_but_for_a_chord_that_has_no_room(made: Chart, key: str) -> None:
    moved = in_key(made, key)
    by = (moved.unfold().melody[0].pitch.midi - made.unfold().melody[0].pitch.midi) % 12
    for old, new in zip(made.written, moved.written, strict=True):
        assert new.bars == old.bars
        had = sorted((n.beat, (n.pitch.midi + by) % 12) for n in old.notes)
        has = sorted((n.beat, n.pitch.midi % 12) for n in new.notes)
        assert has == had if new.part != "chords" else set(has) <= set(had) and len(has) >= 0.85 * len(had)
    text = update_toml(FILE.read_text(encoding="utf-8"), moved)
    assert parse_toml(text).written == moved.written
    assert "works from 96 to 168" in text, "comments survive"


def test_what_is_in_reach_stays_as_it_moved() -> None:
    moved = in_key(written("chords", "[E,G,B,D]8 | z8"), "D")
    assert [str(n.pitch) for n in moved.written[0].notes] == ["F#3", "A3", "C#4", "E4"]


def test_a_chord_that_would_be_too_low_is_turned_over_from_the_third_to_the_seventh() -> None:
    moved = in_key(written("chords", "[E,G,B,D]8 | z8"), "G")
    assert [str(n.pitch) for n in moved.written[0].notes] == ["F#3", "A3", "B3", "D4"]
    assert [n.voice for n in moved.written[0].notes] == [1, 2, 3, 4]


def test_a_chord_without_room_below_the_melody_is_thinned_by_the_fifth_first() -> None:
    moved = in_key(written("chords", "[E,G,B,D]8 | z8", melody="E8 | z8"), "G")
    names = [str(n.pitch) for n in moved.written[0].notes]
    assert "D4" not in names and {"B3", "F#3"} & set(names), "third and seventh stay"
    assert all(n.pitch.midi < 59 for n in moved.written[0].notes), "below the melody"


def test_a_bass_line_changes_its_register_where_a_fourth_becomes_a_fifth() -> None:
    line = "C,,2 E,,2 G,,2 A,,2 | C,2 =B,,2 A,,2 G,,2"
    moved = in_key(written("bass", line.replace("C,,", "E,,,").replace("E,,2", "G,,,2")), "G")
    notes = [n.pitch.midi for n in moved.written[0].notes]
    assert all(28 <= note <= 55 for note in notes)
    assert all(abs(b - a) <= 7 or abs(b - a) == 12 for a, b in pairwise(notes))


def test_a_bass_line_that_would_leave_its_range_altogether_moves_as_a_whole() -> None:
    moved = in_key(written("bass", "E,,,2 G,,,2 A,,,2 C,,2 | E,,,2 F,,,2 G,,,2 A,,,2"), "G")
    assert [n.pitch.midi for n in moved.written[0].notes] == [35, 38, 40, 43, 35, 36, 38, 40]
