"""The outside judge of a walking bass, held to lines and files small enough to be counted by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import mido
import pytest
from walking_bass import Struck, approaches, harmonies, measured, part

from companion.chart.model import Form
from companion.load import load

CHART = """format = 1
title = "Four Bars"
key = "C major"
metre = "4/4"
tempo = 120
form = "A"

[section.A]
chords = "| C7 | F7 | G7 | C7/E |"
melody = "| c8 | c8 | B8 | c8 |"
"""
GOOD = [36, 40, 43, 40, 41, 45, 50, 45, 43, 47, 45, 38, 40, 43, 45, 35]
"""Roots and the slash bass, thirds, and into each next chord a step or a semitone."""


@pytest.fixture
def form(tmp_path: Path) -> Form:
    path = tmp_path / "four.toml"
    path.write_text(CHART, encoding="utf-8")
    return load(path).unfold()


def struck(midi: list[int], soft: tuple[int, ...] = ()) -> list[Struck]:
    return [Struck(Fraction(n), m, 30 if n in soft else 80) for n, m in enumerate(midi)]


def test_a_good_line_has_no_faults_and_a_slash_chord_wants_its_bass(form: Form) -> None:
    found = measured(form, struck(GOOD), 1)
    assert found["root or slash bass on a new chord"] == (1.0, 4)
    assert found["last note before a new chord approaches"] == (1.0, 3)
    assert found["third or seventh in a bar of one chord"] == (1.0, 4)
    assert found["foreign notes"][0] == found["outside E1 to G3"][0] == 0
    assert found["commonest pattern of degrees"] == (0.25, 1)


def test_each_fault_is_counted(form: Form) -> None:
    bad = [38, 40, 43, 40, 41, 41, 41, 54, 43, 47, 45, 48, 40, 43, 27, 35]
    found = measured(form, struck(bad), 1)
    assert found["root or slash bass on a new chord"] == (0.75, 4)
    assert found["last note before a new chord approaches"][0] == pytest.approx(1 / 3)
    assert found["same pitch twice"][0] == pytest.approx(2 / 15)
    assert found["same pitch three times"][0] == pytest.approx(1 / 14)
    assert found["leaps over a fifth, octaves apart"][0] == pytest.approx(5 / 15)
    assert found["outside E1 to G3"][0] == 1 / 16
    assert found["foreign notes"][0] > 0


def test_ghosts_are_left_out_unless_they_are_asked_for(form: Form) -> None:
    twice = [*GOOD[:2], 40, *GOOD[3:]]
    assert measured(form, struck(twice, soft=(2,)), 1)["same pitch twice"][0] == pytest.approx(1 / 14)
    assert measured(form, struck(twice, soft=(2,)), 1, ghosts=True)["same pitch twice"][0] == pytest.approx(2 / 15)


def test_two_choruses_are_compared_bar_by_bar(form: Form) -> None:
    other = [*GOOD[:8], 43, 41, 40, 38, 40, 36, 34, 35]
    found = measured(form, struck(GOOD + other), 2)
    assert found["bars shared by two choruses"] == (0.5, 1)
    assert measured(form, struck(GOOD + GOOD), 2)["two choruses the same"][0] == 1


def test_the_scales_of_a_dominant_depend_on_where_it_goes(form: Form) -> None:
    c7, f7, g7, _ = harmonies(form)
    assert 10 in c7.scale and 11 not in c7.scale
    assert 3 in f7.scale and 4 not in f7.scale
    assert 8 not in g7.scale, "it doesn't resolve to a minor chord"


def test_what_approaches_does_so_by_a_second_or_a_fifth() -> None:
    assert [m for m in range(13) if approaches(40, 40 + m)] == [1, 2, 5, 7]
    assert [m for m in range(13) if approaches(40, 40 - m, literal=True)] == [1, 2, 7]


def test_onsets_are_read_through_changes_of_tempo(tmp_path: Path) -> None:
    first = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000, time=480)])
    bass = mido.MidiTrack([mido.MetaMessage("track_name", name="bass")])
    bass += [mido.Message("note_on", note=40, velocity=70, time=480), mido.Message("note_on", note=41, time=480)]
    mido.MidiFile(type=1, ticks_per_beat=480, tracks=[first, bass]).save(tmp_path / "two.mid")
    assert part(tmp_path / "two.mid", "bass") == [(0.5, 40, 70), (1.5, 41, 64)]
