"""What was played in a take comes on paper as it was meant: notes at their beats, over the bars that were played.

The player is the built-in one, whose intentions are known; it plays with human timing. What is counted is precision and
recall of (beat, pitch), as for note transcription in music information retrieval (mir_eval's ``transcription``).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.chart.imported import write_imported
from companion.chart.toml.read import parse_toml
from companion.errors import InputError
from companion.load import load
from companion.messages import Heard
from companion.pianist.player import SimulatedPerformance, simulate
from companion.resources import chart_path
from companion.stage.demo import perform
from companion.stage.settings import Settings
from companion.stage.take import Take, read_take
from companion.stage.take_chart import take_chart
from companion.stage.take_writer import TakeWriter

IN_BEATS = 12
"""Places in a quarter at which a note may be written."""
SLIP = 3
"""Such places by which a note that nobody meant may be written earlier or later."""


def taken(tmp_path: Path, name: str, you: set[str]) -> tuple[Take, SimulatedPerformance]:
    chart = load(chart_path(name))
    player = simulate(chart.unfold(), frozenset(you), choruses=1, seed=5, manner="human")
    parts = tuple(part for part in ("melody", "chords", "bass") if part not in you)
    settings = Settings(frozenset(you), parts, tempo=player.tempo, start=player.start, count_in=2, choruses=1)
    folder = perform(chart, settings, player, fast=True, data=tmp_path).take
    assert folder is not None
    return read_take(folder), player


@pytest.fixture(scope="module")
def spoons(tmp_path_factory: pytest.TempPathFactory) -> Take:
    """A short blues, of which the melody was played."""
    return taken(tmp_path_factory.mktemp("spoons"), "two-spoons-short", {"melody"})[0]


def found(take: Take) -> set[tuple[int, int]]:
    form = take_chart(take, alone=True).chart.unfold()
    notes = [*form.melody, *(note for part in form.written for note in part.notes)]
    return {(round(float(note.beat) * IN_BEATS), note.pitch.midi) for note in notes}


@pytest.mark.parametrize("you", [{"melody"}, {"chords"}, {"bass"}, {"melody", "chords"}, {"melody", "chords", "bass"}])
def test_what_was_played_stands_where_it_was_meant(tmp_path: Path, you: set[str]) -> None:
    take, player = taken(tmp_path, "half-a-moon-in-the-millpond", you)
    struck = {(round(n.chart_beat * IN_BEATS), n.pitch, n.kind) for n in player.notes if n.pitch is not None}
    meant = {(beat, pitch) for beat, pitch, kind in struck if kind != "extra"}
    slips = {(beat + off, pitch) for beat, pitch, kind in struck if kind == "extra" for off in range(-SLIP, SLIP + 1)}
    got = found(take)
    assert len(got & meant) >= 0.9 * len(meant), "recall"
    assert len(got & (meant | slips)) >= 0.9 * len(got), "precision"


def test_a_take_becomes_a_chart_of_its_own_that_reads_back_with_the_chords_under_it(spoons: Take) -> None:
    imported = take_chart(spoons, alone=False)
    chart = parse_toml(write_imported(imported))
    form, original = chart.unfold(), load(chart_path("two-spoons-short")).unfold()
    assert [str(span.chord) for span in form.chords if span.chord.is_chord] == [
        str(span.chord) for span in original.chords
    ]
    assert (chart.fifths, chart.minor, chart.feel) == (original.fifths, original.minor, original.feel)
    assert chart.tempo == pytest.approx(float(spoons.settings["tempo"]), rel=0.05), (
        "as it was played, not as it was kept"
    )
    assert not chart.written, "the other hand is the companion's to make up"


def test_other_parts_are_silent_where_only_the_players_are_asked_for(spoons: Take) -> None:
    chart = take_chart(spoons, alone=True).chart
    assert {part.part: len(part.notes) for part in chart.written} == {"chords": 0, "bass": 0}


def test_a_take_without_beats_says_why_it_has_no_bars(tmp_path: Path, stand) -> None:
    writer = TakeWriter(stand.tune(), Settings(), tmp_path)
    writer.add(Heard(1.0, 0x90, 60, 64))
    writer.add(Heard(1.4, 0x80, 60, 64))
    folder = writer.close("stopped")
    assert folder is not None
    with pytest.raises(InputError, match="no beat was sounded"):
        take_chart(read_take(folder), alone=True)
