"""Oneself as partner: what one hand played in a take is the part that goes with the other hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import UseError
from companion.messages import Beat, Heard, Order, Part
from companion.practice.partner import with_partner
from companion.stage.settings import Settings
from companion.stage.take import Take, list_takes
from companion.stage.take_writer import TakeWriter

TUNE = parse_toml("""
format = 1
title = "Four Steps"
key = "C major"
metre = "4/4"
tempo = 120
feel = "straight"
form = "A"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 |"
melody = "| f4 a4 | g4 f4 | e8 | g8 |"
""")
WALK = [38, 41, 45, 44, 43, 47, 50, 49, 48, 52, 55, 54, 48, 52, 55, 57]
"""A walking line over the tune, a note a beat."""
QUARTER = 0.5


def take_of(
    folder: Path,
    lines: list[list[int | None]],
    you: Part = "bass",
    chart: Chart = TUNE,
    held: Mapping[int, float] | None = None,
) -> Take:
    """A take in which some choruses were played, a note a beat; None: nothing on that beat.

    ``held``: quarters that a note is held which is held longer than its beat, by its number in the take, from 0.
    """
    writer = TakeWriter(chart, Settings(you=frozenset({you}), parts=("click",), tempo=120.0), folder)
    for chorus, line in enumerate(lines):
        for beat, midi in enumerate(line):
            at = 1.0 + (chorus * 16 + beat) * QUARTER
            writer.add(Beat(float(beat), at, 0.99, chorus + 1))
            writer.add(Order(at, "click", 0x90, 76, 60))
            if midi is not None:
                writer.add(Heard(at + 0.01 * (-1) ** beat, 0x90, midi, 80))
                writer.add(Heard(at + (held or {}).get(chorus * 16 + beat, 0.9) * QUARTER, 0x80, midi, 0))
    writer.close("ended")
    (take,) = [take for take in list_takes(folder) if isinstance(take, Take)]
    return take


def played(chart: Chart, part: str = "bass") -> list[tuple[float, int]]:
    written = chart.unfold().written_part(part)
    assert written is not None
    return [(float(note.beat), note.pitch.midi) for note in written.notes]


def test_the_bass_that_was_played_is_written_where_it_was_played(tmp_path: Path) -> None:
    chart, parts = with_partner(TUNE, take_of(tmp_path, [WALK]))
    assert parts == ("bass",)
    assert played(chart) == [(float(beat), midi) for beat, midi in enumerate(WALK)]


def test_of_several_choruses_the_best_is_taken(tmp_path: Path) -> None:
    lost: list[int | None] = [midi if beat % 4 else None for beat, midi in enumerate(WALK)]
    wrong = [midi + (1 if beat % 4 == 0 else 0) for beat, midi in enumerate(WALK)]
    chart, _ = with_partner(TUNE, take_of(tmp_path, [lost, [*wrong], [*WALK]]))
    assert played(chart) == [(float(beat), midi) for beat, midi in enumerate(WALK)]


def test_a_bar_that_the_best_chorus_lacks_comes_from_another(tmp_path: Path) -> None:
    first: list[int | None] = [*WALK[:12], *(None,) * 4]
    second: list[int | None] = [*(None,) * 12, *WALK[12:]]
    chart, _ = with_partner(TUNE, take_of(tmp_path, [first, second]))
    assert played(chart) == [(float(beat), midi) for beat, midi in enumerate(WALK)]


def test_bars_that_were_never_played_stay_free(tmp_path: Path) -> None:
    chart, _ = with_partner(TUNE, take_of(tmp_path, [[*WALK[:8], *(None,) * 8]]))
    written = chart.unfold().written_part("bass")
    assert written is not None and written.bars == {1, 2}


def test_the_other_way_about_the_melody_goes_with_the_left_hand(tmp_path: Path) -> None:
    line: list[int | None] = [77, None, 81, None, 79, None, 77, None, 76, None, None, None, 79, None, None, None]
    chart, parts = with_partner(TUNE, take_of(tmp_path, [line], you="melody"))
    assert parts == ("melody",)
    assert played(chart, "melody") == [(0, 77), (2, 81), (4, 79), (6, 77), (8, 76), (12, 79)]


def test_a_take_of_another_tune_is_refused(tmp_path: Path) -> None:
    other = replace(TUNE, title="Another", sections=(replace(TUNE.sections[0], melody=()),))
    with pytest.raises(UseError, match="another tune"):
        with_partner(other, take_of(tmp_path, [WALK]))


def test_a_take_of_a_solo_is_no_partner(tmp_path: Path) -> None:
    with pytest.raises(UseError, match="no part of the tune"):
        with_partner(TUNE, take_of(tmp_path, [WALK], you="solo"))


def test_notes_left_out_count_against_a_chorus_as_wrong_ones_do(tmp_path: Path) -> None:
    """Two left out in the first, one wrong in the second."""
    line: list[int | None] = [77, None, 81, None, 79, None, 77, None, 76, None, None, None, 79, None, None, None]
    lost, wrong = [*line], [*line]
    lost[2] = lost[6] = None
    wrong[0] = 78
    chart, _ = with_partner(TUNE, take_of(tmp_path, [lost, wrong], you="melody"))
    assert played(chart, "melody") == [(0, 78), (2, 81), (4, 79), (6, 77), (8, 76), (12, 79)]


MELODY: list[int | None] = [77, None, 81, None, 79, None, 77, None, 76, None, None, None, 79, None, None, None]


def with_wrong(*beats: int) -> list[int | None]:
    """The melody with a semitone too many on some beats."""
    return [midi + 1 if midi is not None and beat in beats else midi for beat, midi in enumerate(MELODY)]


@pytest.mark.parametrize(
    ("lines", "best"),
    [
        ([with_wrong(2, 6), with_wrong(4), MELODY], 2),
        ([MELODY, with_wrong(4), with_wrong(2, 6)], 0),
        ([with_wrong(2), with_wrong(0)], 0),  # of two that are as good the first
        ([with_wrong(0), with_wrong(2)], 0),
        ([with_wrong(12), with_wrong(2)], 0),
        ([with_wrong(2), with_wrong(12)], 0),
    ],
)
def test_of_choruses_of_a_melody_the_one_with_the_fewest_slips_is_taken(
    tmp_path: Path, lines: list[list[int | None]], best: int
) -> None:
    chart, _ = with_partner(TUNE, take_of(tmp_path, lines, you="melody"))
    assert played(chart, "melody") == [(beat, midi) for beat, midi in enumerate(lines[best]) if midi is not None]


def test_what_begins_the_next_chorus_is_no_note_of_the_best(tmp_path: Path) -> None:
    wrong: list[int | None] = [midi + (1 if beat % 4 == 0 else 0) for beat, midi in enumerate(WALK)]
    chart, _ = with_partner(TUNE, take_of(tmp_path, [[*WALK], wrong]))
    assert played(chart) == [(float(beat), midi) for beat, midi in enumerate(WALK)]


@pytest.mark.parametrize("silent", [4, 8, 12])
def test_a_take_that_begins_within_the_form_has_its_bars(tmp_path: Path, silent: int) -> None:
    """A bar in which nothing was played isn't made one by the downbeat after it."""
    line: list[int | None] = [*(None,) * silent, *WALK[silent:]]
    chart, _ = with_partner(TUNE, take_of(tmp_path, [line]))
    written = chart.unfold().written_part("bass")
    assert written is not None and written.bars == set(range(silent // 4 + 1, 5))
    assert played(chart) == [(float(beat), midi) for beat, midi in enumerate(WALK) if beat >= silent]


def test_a_held_note_ends_where_a_bar_from_another_chorus_begins(tmp_path: Path) -> None:
    first: list[int | None] = [*WALK[:12], *(None,) * 4]
    second: list[int | None] = [*(None,) * 12, *WALK[12:]]
    chart, _ = with_partner(TUNE, take_of(tmp_path, [first, second], held={11: 3.0, 31: 4.0}))
    written = chart.unfold().written_part("bass")
    assert written is not None
    lengths = {float(note.beat): float(note.length) for note in written.notes}
    assert (lengths[11.0], lengths[12.0]) == (1.0, 1.0)
