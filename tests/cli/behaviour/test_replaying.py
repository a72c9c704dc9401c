"""``replay`` as a shell sees it: beats, tracks, seeds, and what can't be written."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import mido
import pytest

Run = Callable[..., tuple[int, str, str]]
OneLine = Callable[[str], str]


def test_replay_writes_beats_and_a_track_for_each_part(
    run: Run, tmp_path: Path, sheet: Path, performance: Path
) -> None:
    beats, out, trace = (tmp_path / name for name in ("beats.csv", "out.mid", "trace.jsonl"))
    count_in = ["--tempo", 120, "--start", 2]
    status, text, err = run("replay", sheet, performance, *count_in, "--beats", beats, "--out", out, "--trace", trace)
    assert (status, err) == (0, "")
    assert "32 notes" in text and "bass" in text
    heading, *rows = beats.read_text(encoding="utf-8").splitlines()
    assert heading == "chart_beat,seconds,sure"
    values = [tuple(map(float, row.split(","))) for row in rows]
    # an exact performance at 120: beat n sounds n / 2 seconds after the first downbeat, as the player's own does
    assert [beat for beat, _, _ in values[:30]] == list(range(30))
    assert all(abs(moment - (2 + beat / 2)) < 0.07 for beat, moment, _ in values[:30])
    assert all(0 <= sure <= 1 for _, _, sure in values)
    assert sorted(moment for _, moment, _ in values) == [moment for _, moment, _ in values]
    tracks = {track.name: track for track in mido.MidiFile(out).tracks[1:]}
    assert list(tracks) == ["player", "chords", "bass"]
    assert [m.note for m in tracks["player"] if m.type == "note_on" and m.velocity] == _notes(performance)
    assert {m.channel for m in tracks["bass"] if not m.is_meta} == {1}  # channel 2, counted from 0
    events = [json.loads(line) for line in trace.read_text(encoding="utf-8").splitlines()]
    assert sum(event["report"] == "belief" and event["event"] == "note" for event in events) == 32
    assert sum(event["report"] == "beat" for event in events) == len(rows)
    assert text.splitlines()[-3:] == [
        f"{out}: your playing and the companion's, a track a part",
        f"{beats}: {len(rows)} beats, each with its moment and how sure it was",
        f"{trace}: {len(events)} reports, what the companion believed at each event",
    ]


def test_the_same_seed_gives_the_same_files_and_another_seed_other_notes(
    run: Run, tmp_path: Path, sheet: Path, performance: Path
) -> None:
    written = []
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        files = tmp_path / f"{name}.csv", tmp_path / f"{name}.mid"
        options = ["--beats", files[0], "--out", files[1], "--seed", seed, "--treatment", "walking"]
        assert run("replay", sheet, performance, *options)[0] == 0
        written.append([file.read_bytes() for file in files])
    assert written[0] == written[1]
    assert written[0][1] != written[2][1]


def test_the_companion_plays_what_it_is_asked_to(run: Run, tmp_path: Path, sheet: Path, performance: Path) -> None:
    for typed, parts in (
        (["--parts", "bass"], ["bass"]),
        (["--you", "melody,chords"], ["bass"]),
        (["--you", "melody,chords,bass"], []),
        (["--you", "solo"], ["chords", "bass"]),
        (["--trade", "4"], ["chords", "bass", "solo"]),
        (["--parts", "click,bass"], ["bass", "click"]),
        (["--you", "chords", "--parts", "solo,bass"], ["bass", "solo"]),
    ):
        out = tmp_path / "out.mid"
        assert run("replay", sheet, performance, "--tempo", 120, "--start", 2, "--out", out, *typed)[0] == 0
        tracks = mido.MidiFile(out).tracks[2:]
        assert [track.name for track in tracks] == parts
        assert all(any(message.type == "note_on" for message in track) for track in tracks)


def _notes(path: Path) -> list[int]:
    return [m.note for m in mido.MidiFile(path) if m.type == "note_on" and m.velocity]


def test_an_unknown_treatment_is_named_with_those_there_are(
    run: Run, sheet: Path, performance: Path, one_line: OneLine
) -> None:
    status, out, err = run("replay", sheet, performance, "--treatment", "swaggering")
    assert (status, out) == (2, "")
    assert "swaggering" in one_line(err) and "walking" in err


@pytest.mark.parametrize("option", ["--beats", "--out", "--trace"])
def test_what_cannot_be_written_is_said_before_the_work(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, option: str, one_line: OneLine
) -> None:
    for place in (tmp_path, tmp_path / "no" / "such" / "folder", sheet, performance):
        before = performance.read_bytes(), sheet.read_bytes()
        status, out, err = run("replay", sheet, performance, option, place)
        assert (status, out) == (2, "")
        assert str(place) in one_line(err)
        assert before == (performance.read_bytes(), sheet.read_bytes())


def test_two_outputs_do_not_share_a_file(
    run: Run, tmp_path: Path, sheet: Path, performance: Path, one_line: OneLine
) -> None:
    place = tmp_path / "both"
    status, _, err = run("replay", sheet, performance, "--beats", place, "--out", place)
    assert status == 2 and f"{place} is named twice" in one_line(err)
