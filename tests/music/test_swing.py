"""Swing: how much by tempo, and a map between written and sounding beats that loses nothing.

Figures: Friberg & Sundström, Music Perception 19(3), 2002 (from memory); what is said of practice: common practice.
"""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import ConfigError
from companion.music import swing
from companion.music.swing import (
    feel,
    feel_names,
    straight_quarters,
    swing_ratio,
    to_sounding,
    to_written,
)

BEATS = st.floats(-200, 2000)
RATIOS = st.floats(0.5, 4.0)
TEMPI = st.floats(30, 400)


@pytest.mark.parametrize(("tempo", "ratio", "within"), [(160, 2.0, 0.2), (250, 1.4, 0.01), (300, 1.0, 0.01)])
def test_swing_falls_with_the_tempo_as_it_was_measured(tempo: float, ratio: float, within: float) -> None:
    assert swing_ratio(tempo) == pytest.approx(ratio, abs=within)  # Friberg & Sundström 2002


def test_swing_is_wider_at_slow_tempo_than_at_medium_tempo() -> None:
    assert swing_ratio(70) > swing_ratio(150) > swing_ratio(240)  # Friberg & Sundström 2002


@given(TEMPI)
def test_the_short_quaver_gets_no_shorter_than_a_tenth_of_a_second(tempo: float) -> None:
    ratio = swing_ratio(tempo)  # Friberg & Sundström 2002
    assert ratio >= 1
    assert ratio == 1 or 60 / tempo / (1 + ratio) >= 0.1 - 1e-9


@given(TEMPI, TEMPI)
def test_swing_never_grows_with_the_tempo(one: float, other: float) -> None:
    slow, fast = sorted((one, other))
    assert swing_ratio(slow) >= swing_ratio(fast)


@given(TEMPI)
def test_slow_practice_swings_two_to_one_at_most(tempo: float) -> None:
    assert swing_ratio(tempo, practice=True) == min(2.0, swing_ratio(tempo))  # common practice


@pytest.mark.parametrize("name", ["straight", "bossa", "latin"])
def test_a_straight_feel_is_even_at_any_tempo(name: str) -> None:
    assert {swing_ratio(tempo, name) for tempo in (40, 120, 300)} == {1.0}


def test_quavers_swing_and_beats_stay() -> None:
    written = [-1, -0.5, 0, 0.5, 1, 1.5, 3.5]
    assert [to_sounding(beat, 2) for beat in written] == pytest.approx([-1, -1 / 3, 0, 2 / 3, 1, 5 / 3, 11 / 3])


@given(BEATS, RATIOS)
def test_written_and_sounding_beats_are_each_others_inverse(beat: float, ratio: float) -> None:
    assert to_written(to_sounding(beat, ratio), ratio) == pytest.approx(beat, abs=1e-9)
    assert to_sounding(to_written(beat, ratio), ratio) == pytest.approx(beat, abs=1e-9)


@given(
    st.lists(st.fractions(-64, 64, max_denominator=96), min_size=2, max_size=2, unique=True),
    RATIOS,
    st.frozensets(st.integers(-64, 64), max_size=20),
)
def test_what_is_written_later_sounds_later(two: list[Fraction], ratio: float, straight: frozenset[int]) -> None:
    early, late = sorted(two)
    assert to_sounding(early, ratio, straight) < to_sounding(late, ratio, straight)
    assert to_written(float(early), ratio, straight) < to_written(float(late), ratio, straight)


@given(BEATS, RATIOS)
def test_a_beat_stays_in_its_quarter_and_even_swing_changes_nothing(beat: float, ratio: float) -> None:
    assert math.floor(beat) <= to_sounding(beat, ratio) <= math.floor(beat) + 1
    assert to_sounding(beat, 1.0) == pytest.approx(beat, abs=1e-9)


@given(st.integers(-40, 40), RATIOS)
def test_swing_is_the_same_in_every_quarter(quarter: int, ratio: float) -> None:
    places = [Fraction(place, 12) for place in range(12)]
    moved = [to_sounding(quarter + place, ratio) - quarter for place in places]
    assert moved == pytest.approx([to_sounding(place, ratio) for place in places], abs=1e-9)


def test_triplets_and_semiquavers_stay_where_they_are_written() -> None:
    third, quarter = Fraction(1, 3), Fraction(1, 4)
    part = [Fraction(0), Fraction(1, 2), 1 + third, 1 + 2 * third, 2 + quarter, 2 + 2 * quarter, Fraction(-1, 2)]
    straight = straight_quarters(part)
    assert straight == {1, 2}
    sounding = {beat: to_sounding(beat, 2.0, straight) for beat in part}
    assert [sounding[beat] for beat in part[2:6]] == [float(beat) for beat in part[2:6]]
    assert sounding[Fraction(1, 2)] == pytest.approx(2 / 3)
    assert sounding[Fraction(-1, 2)] == pytest.approx(-1 / 3)


def test_a_quarter_that_stays_straight_for_one_part_swings_for_another() -> None:
    melody = straight_quarters([Fraction(1, 3)])
    bass = straight_quarters([Fraction(0), Fraction(1, 2)])
    assert to_sounding(0.5, 2.0, melody) == 0.5
    assert to_sounding(0.5, 2.0, bass) == pytest.approx(2 / 3)


@pytest.fixture
def own_feels(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The player's own file of feels, not there yet."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    (tmp_path / "configs").mkdir()
    return tmp_path / "configs" / "feels.toml"


def test_a_player_adds_a_feel_beside_the_shipped_ones(own_feels: Path) -> None:
    own_feels.write_text("[lazy]\nratio = [[60, 3.0], [120, 1.5]]\n")
    assert swing_ratio(90, "lazy") == pytest.approx(2.25)
    assert swing_ratio(20, "lazy") == 3.0 and swing_ratio(500, "lazy") == 1.5
    assert {"swing", "straight", "lazy"} <= set(feel_names())


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("about = 'no numbers'", "feels.toml: [odd]: 'ratio' is missing; it is a list"),
        ("ratio = []", "feels.toml: [odd]: ratio = [] is not a list of one or more"),
        ("ratio = [[200, 1.0], [100, 2.0]]", "from slow to fast"),
        ("ratio = [[0, 1.0]]", "a number from 10 to 600 (quarters a minute)"),
        ("ratio = [[100, 1, 2]]", "feels.toml: [odd]"),
        ("ratio = 2.0", "feels.toml: [odd]"),
    ],
)
def test_a_feel_that_cannot_be_used_is_named_with_its_fault(own_feels: Path, table: str, message: str) -> None:
    own_feels.write_text(f"[odd]\n{table}\n")
    with pytest.raises(ConfigError) as caught:
        swing.feel("odd")
    assert message in str(caught.value)


def test_a_feel_that_is_not_there_names_those_that_are() -> None:
    with pytest.raises(ConfigError, match="there is no feel 'rubbery'; there are: swing, straight"):
        feel("rubbery")


@pytest.mark.parametrize(
    ("tempo", "ratio"),
    [
        (40, 2.4),
        (60, 2.4),
        (85, 2.3),
        (110, 2.2),
        (135, 2.1),
        (160, 2.0),
        (200, 2.0),
        (240, 1.5),
        (280, 8 / 7),
        (400, 1.0),
    ],
)
def test_between_two_tempi_of_the_table_the_ratio_lies_on_the_line_and_fast_swing_evens_out(
    tempo: float, ratio: float
) -> None:
    """Above 200 the short quaver lasts a tenth of a second: 60 / tempo / 0.1 - 1 (Friberg & Sundström 2002)."""
    assert swing_ratio(tempo) == pytest.approx(ratio)


def test_a_feel_without_a_shortest_quaver_swings_at_any_tempo_and_in_practice_no_more_than_it_says() -> None:
    wide = swing.Feel("wide", ((100.0, 3.0),), shortest=0.0, practice_ratio=1.5)
    assert (wide.ratio(300), wide.ratio(300, practice=True), wide.practice_below) == (3.0, 1.5, 0.9)
    stiff = swing.Feel("stiff", ((100.0, 0.8),), shortest=0.1, practice_ratio=2.0)
    assert stiff.ratio(300) == 0.8, "what is shorter first stays so"


@pytest.mark.parametrize(
    ("beat", "sounding"), [(0.25, 1 / 3), (0.5, 2 / 3), (0.75, 5 / 6), (1.0, 1.0), (-0.25, -1 / 6), (3.5, 11 / 3)]
)
def test_what_lies_before_and_after_the_off_beat_moves_in_proportion(beat: float, sounding: float) -> None:
    assert to_sounding(beat, 2.0) == pytest.approx(sounding) and to_written(sounding, 2.0) == pytest.approx(beat)
    assert to_sounding(beat, 2.0, {math.floor(beat)}) == to_written(beat, 2.0, {math.floor(beat)}) == beat
