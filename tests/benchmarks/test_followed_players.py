"""The players that following is measured on are what they are said to be."""

from __future__ import annotations

import json
import statistics
from pathlib import Path

import pytest
from followed_players import closed_up, count_in, nocount, tune, unpitched


def test_the_count_in_is_the_straight_line_through_its_beats() -> None:
    tempo, start = count_in([(-2, 1.0), (-1, 1.5), (0, 2.0)])
    assert (tempo, start) == (pytest.approx(120), pytest.approx(2.0))


def test_long_rests_lose_whole_bars_and_notes_keep_their_place_in_the_bar() -> None:
    rows = [(9, 1, 60), (12, 2, 62), (31, 1, 64), (33, 1, 65)]  # four to the bar, rests over eight closed up
    assert closed_up(rows, 8, 4) == [(1, 1, 60), (4, 2, 62), (15, 1, 64), (17, 1, 65)]
    assert closed_up([(9, 1, 60), (18, 1, 62)], 8, 4) == [(1, 1, 60), (10, 1, 62)]  # a rest of eight stays


def _recording(path: Path, beats: int) -> Path:
    rows = [f"beat,{1 + 0.5 * n:.2f},{n},{n % 4 + 1}\n" for n in range(beats)]
    rows += [f"piano,{5 + 0.5 * n:.2f},,\n" for n in range(beats - 8)]
    path.write_text("kind,seconds,beat_index,beat_in_bar\n" + "".join(rows))
    return path


def test_a_played_tune_lies_on_the_recordings_beats_with_the_slips_it_is_said_to_have(tmp_path: Path) -> None:
    song, recording = tmp_path / "song.json", _recording(tmp_path / "recording.csv", 1000)
    melody = [[float(n), 0.9, 60 + n % 7] for n in range(900)]
    song.write_text(json.dumps({"beats_per_bar": 4, "bpm": 120, "melody": melody}))
    player = tune("tunes", "song", song, recording)
    assert player.truth[0].seconds == pytest.approx(5.0) and player.settings.start == pytest.approx(5.0)
    struck = [(h.seconds, h.data1) for h in player.heard if h.is_note_on]
    off, right = [], 0
    for n in range(900):
        near = [(t - (5 + 0.5 * n), p) for t, p in struck if abs(t - (5 + 0.5 * n)) < 0.055]
        off += [t for t, _ in near]
        right += any(p == 60 + n % 7 for _, p in near)
    assert 0.90 < right / 900 < 0.97  # 3 % wrong and 3 % left out
    assert 0.015 < statistics.pstdev(off) < 0.025
    assert 900 * 0.98 < len(struck) < 900 * 1.02  # 3 % left out, 3 % added
    assert tune("tunes", "song", song, recording).heard == player.heard


def test_a_recordings_pianist_is_heard_without_pitch_and_counted_from_its_ninth_beat(tmp_path: Path) -> None:
    player = unpitched("pulse", "it", _recording(tmp_path / "it.csv", 20))
    assert {h.data1 for h in player.heard} == {60}
    assert player.counted is not None and len(player.counted) == 20
    assert player.settings.start == pytest.approx(5.0) and player.settings.tempo == pytest.approx(120)


def test_without_sessions_there_is_nobody_to_follow(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        list(nocount(tmp_path))
