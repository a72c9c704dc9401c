"""How the companion's notes are laid: swung by the tempo, ended in time, and ready for the next chorus.

Values: the quaver's ratio about 2:1 at a medium tempo, 1.4:1 at 250, even at 300 (Friberg & Sundström, Music Perception
19(3), 2002, from memory); that triplets stay as they are is common practice.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from companion.arrange.part import Note
from companion.messages import Order
from companion.music.pitch import Pitch
from companion.resources import DATA_VARIABLE
from companion.stage.band import Band, Cue
from companion.stage.settings import Settings

ALL = ("melody", "chords", "bass")


def band(chart: Any, *parts: str, **more: Any) -> Band:
    return Band(chart.unfold(), Settings(you=frozenset(), parts=parts or ALL, **more))


def cue(beat: float, length: float, midi: int, part: str = "bass", weight: float = 1.0) -> Cue:
    pitch = Pitch("CCDDEFFGGAAB"[midi % 12], (0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0)[midi % 12], midi // 12 - 1)
    note = Note(Fraction(beat).limit_denominator(), Fraction(length).limit_denominator(), pitch, part, weight=weight)
    return Cue(beat, beat + length, note)


def told(orders: list[Order]) -> list[tuple[str, float, int]]:
    """'on' or 'off', the moment, the pitch; in order of sounding."""
    kinds = {0x90: "on", 0x80: "off"}
    return [(kinds[o.status], round(o.seconds, 4), o.data1) for o in sorted(orders, key=lambda o: o.seconds)]


# Swing


@pytest.mark.parametrize(("tempo", "half"), [(120, 2 / 3), (160, 2 / 3), (250, 1.4 / 2.4), (300, 0.5)])
def test_off_beat_quavers_are_late_by_the_tempo(stand: Any, tempo: float, half: float) -> None:
    chart = stand.chart(("| C6 |", "| cdef gabc' |"))
    beats = [c.beat for c in band(chart, "melody").cues(0, 4, tempo)]
    assert beats == pytest.approx([0, half, 1, 1 + half, 2, 2 + half, 3, 3 + half], abs=0.02)


def test_below_which_tempo_a_tune_is_practised_is_for_the_player_to_say(
    stand: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 100 of 120 quavers are two to one at most (common practice), unless the player says otherwise."""
    chart = stand.chart(("| C6 |", "| cdef gabc' |"))
    assert band(chart).swung(0.5, 100.0) == pytest.approx(2 / 3)
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "feels.toml").write_text("[swing]\npractice-below = 0.5\n", encoding="utf-8")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    assert band(chart).swung(0.5, 100.0) > 2 / 3 + 0.02


def test_triplets_stay_beside_swung_quavers(stand: Any) -> None:
    chart = stand.chart(("| C6 |", "| (3cde fg a2 b2 |"))
    beats = [c.beat for c in band(chart, "melody").cues(0, 4, 140)]
    assert beats == pytest.approx([0, 1 / 3, 2 / 3, 1, 5 / 3, 2, 3], abs=0.02)


def test_a_chord_is_let_go_before_a_quarter_of_the_melody_that_does_not_swing(stand: Any) -> None:
    chart = stand.chart(("| Cmaj7 |", "| z4 z e/f/ g2 |"))
    for seed in range(6):
        before = [c for c in band(chart, "chords", seed=seed).cues(0, 2.5, 120) if c.beat < 2.5]
        assert before
        assert all(c.end <= 2.5 for c in before), "swung, it would be held until 2 2/3"


def test_a_straight_tune_stays_straight(stand: Any) -> None:
    chart = stand.chart(("| C6 |", "| cd e2 f2 g2 |"), feel="straight")
    assert [c.beat for c in band(chart, "melody").cues(0, 4, 140)] == pytest.approx([0, 0.5, 1, 2, 3])


def test_compound_time_is_never_swung(stand: Any) -> None:
    chart = stand.chart(("| C6 | F6 |", "| ceg gec | f6 |"), metre="6/8", feel="swing")
    assert [c.beat for c in band(chart, "melody").cues(0, 3, 120)] == pytest.approx([0, 0.5, 1, 1.5, 2, 2.5])


# Choruses


@pytest.mark.parametrize("treatment", ["walking", "solos"])
def test_no_note_is_lost_or_doubled_between_windows(stand: Any, treatment: str) -> None:
    form = band(stand.tune(), treatment=treatment)
    whole = form.cues(0, 192, 132)
    windows = [c for n in range(192) for c in form.cues(n, n + 1, 132)]
    assert sorted(windows) == whole and len({(c.beat, c.note.part, c.note.midi) for c in whole}) == len(whole)


def test_a_melodys_pickup_sounds_before_each_chorus(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], "GA" + stand.TEN[1]))
    singer = band(chart, "melody")
    assert [c.note.midi for c in singer.cues(-1, 0, 120)] == [67, 69]
    assert [c.note.midi for c in singer.cues(31, 32, 120)] == [67, 69]


def test_after_the_last_chorus_there_is_nothing_not_even_a_pickup(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], "GA" + stand.TEN[1]))
    singer = band(chart, "melody", choruses=2)
    assert singer.cues(31, 32, 120) and singer.cues(60, 63, 120)
    assert not singer.cues(64, 400, 120) and not singer.cues(63, 64, 120)


def test_choruses_differ_and_the_melody_does_not(stand: Any) -> None:
    one = band(stand.tune(), treatment="walking")

    def chorus(n: int, part: str) -> list[tuple[Fraction, int]]:
        return [(c.note.beat, c.note.midi) for c in one.cues(64 * n, 64 * n + 63, 132, (part,))]

    assert chorus(0, "bass") != chorus(1, "bass") and chorus(0, "chords") != chorus(1, "chords")
    assert chorus(0, "melody") == chorus(1, "melody")


# Notes and their ends


def test_a_note_lasts_as_long_as_it_is_written_at_the_speed_of_the_moment(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 0.9, 48), 10.0, 2.0)
    plays.end_due(10.44)
    assert told(plays.take_orders()) == [("on", 10.0, 48)]
    assert plays.next_end() == pytest.approx(10.45)
    plays.end_due(10.45)
    assert told(plays.take_orders()) == [("off", 10.45, 48)] and plays.next_end() is None


def test_a_pitch_struck_again_ends_first_and_its_old_end_does_not_cut_the_new_note(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 48), 10.0, 2.0)
    plays.strike(cue(0.9, 1.0, 48), 10.45, 2.0)
    plays.end_due(10.5)
    assert told(plays.take_orders()) == [("on", 10.0, 48), ("off", 10.45, 48), ("on", 10.45, 48)]
    plays.end_due(11.0)
    assert told(plays.take_orders()) == [("off", 10.95, 48)]


def test_one_pitch_in_two_parts_is_two_notes(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 48), 10.0, 2.0)
    plays.strike(cue(0, 2.0, 48, "chords"), 10.0, 2.0)
    plays.end_due(20.0)
    assert [(o.part, o.status, o.seconds) for o in plays.take_orders()] == [
        ("bass", 0x90, 10.0),
        ("chords", 0x90, 10.0),
        ("bass", 0x80, 10.5),
        ("chords", 0x80, 11.0),
    ]


def test_one_pitch_twice_at_one_moment_sounds_once_and_is_not_left_sounding(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 60, "chords"), 10.0, 2.0)
    plays.strike(cue(0, 2.0, 60, "chords"), 10.0, 2.0)
    plays.end_due(20.0)
    on: set[int] = set()
    for order in sorted(plays.take_orders(), key=lambda o: (o.seconds, o.status)):
        (on.add if order.status == 0x90 else on.discard)(order.data1)
    assert not on


def test_release_ends_what_sounds_but_not_what_is_to_be_kept(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 4.0, 40), 10.0, 2.0)
    plays.strike(cue(0, 4.0, 60, "chords"), 10.0, 2.0)
    plays.take_orders()
    plays.release(10.6, keep=lambda part: part == "bass")
    assert told(plays.take_orders()) == [("off", 10.6, 60)]
    plays.release(10.7)
    assert told(plays.take_orders()) == [("off", 10.7, 40)]
    plays.end_due(99.0)
    assert not plays.take_orders()


# Loudness


def test_velocities_stay_within_midis_and_a_ghost_is_softer_than_an_accent(stand: Any) -> None:
    for loud in (1, 64, 127):
        plays = band(stand.tune())
        for _ in range(40):
            plays.hear(loud, 1.0)
        for weight in (0.1, 0.4, 1.0, 1.15, 3.0):
            plays.strike(cue(0, 0.2, 40, weight=weight), 0.0, 2.0)
        velocities = [o.data2 for o in plays.take_orders() if o.status == 0x90]
        assert velocities == sorted(velocities) and velocities[0] >= 1 and velocities[-1] <= 127


@pytest.mark.parametrize("beats", [0.5, 1.0, 2.0])
def test_the_level_goes_with_the_beats_not_with_the_number_of_notes(stand: Any, beats: float) -> None:
    plays = band(stand.tune())
    for _ in range(round(4 / beats)):
        plays.hear(100, beats)
    assert plays.level == pytest.approx(64 + 36 * (1 - 0.5 ** (4 / 1.1)))


@pytest.mark.parametrize("beats", [0.5, 1.0, 2.0])
def test_the_band_is_most_of_the_way_to_another_level_within_two_beats(stand: Any, beats: float) -> None:
    plays = band(stand.tune())
    for _ in range(round(2 / beats)):
        plays.hear(110, beats)
    assert 64 + 0.7 * 46 <= plays.level <= 110


def test_one_accent_in_a_chord_does_not_startle_the_band(stand: Any) -> None:
    plays = band(stand.tune())
    plays.hear(127, 0.0)
    assert plays.level < 75
