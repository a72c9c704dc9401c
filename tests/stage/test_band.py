"""How the companion's notes are laid: swung by the tempo, ended in time, and ready for the next chorus.

Values: the quaver's ratio about 2:1 at a medium tempo, 1.4:1 at 250, even at 300 (Friberg & Sundström, Music Perception
19(3), 2002, from memory); that triplets stay as they are is common practice.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from companion.arrange.part import Note
from companion.arrange.touch.stroke import Stroke, strokes
from companion.chart.model import Event
from companion.messages import Order
from companion.music.pitch import Pitch
from companion.resources import DATA_VARIABLE
from companion.stage.band import KEPT, Band, Cue
from companion.stage.order import OrderOfEvents
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


@pytest.mark.parametrize(
    ("level", "weight", "firmness", "velocity"),
    [
        # The bass: 68 to a player at 64, and 0.7 of what they are louder or softer (configs/touch.toml).
        (64, 1.0, 1.0, 68), (94, 1.0, 1.0, 89), (34, 1.0, 1.0, 47), (64, 0.5, 1.0, 34), (64, 1.0, 0.5, 34),
        (94, 2.0, 1.0, 120), (64, 0.1, 1.0, 8), (64, 1.75, 1.0, 119), (64, 0.125, 1.0, 8), (64, 0.13, 1.0, 9),
    ],
)  # fmt: skip
def test_how_loud_a_note_is(stand: Any, level: float, weight: float, firmness: float, velocity: int) -> None:
    plays = band(stand.tune())
    plays.level = level
    plays.strike(replace(cue(0, 0.2, 40, weight=weight), stroke=Stroke(firmness=firmness)), 1.0, 2.0)
    plays.sound("bass", 43, 1.0, 1.0, 2.0)
    assert [o.data2 for o in plays.take_orders()] == [velocity, round(68 + 0.7 * (level - 64))]


@pytest.mark.parametrize(
    ("beats", "share"),
    [
        (0.0, 0.1),
        (0.1, 0.1),
        (1.1, 0.5),
        (0.55, 1 - 0.5**0.5),
        (2.0, 1 - 0.5 ** (2 / 1.1)),
        (9.0, 1 - 0.5 ** (2 / 1.1)),
    ],
)
def test_how_far_one_note_takes_the_level(stand: Any, beats: float, share: float) -> None:
    plays = band(stand.tune())
    plays.hear(104, beats)
    assert plays.level == pytest.approx(64 + 40 * share)


def test_the_first_click_of_a_bar_is_higher_and_louder(stand: Any) -> None:
    """High and low wood block are 76 and 77 (General MIDI level 1, percussion key map)."""
    plays = band(stand.tune())
    for seconds, first in ((1.0, True), (2.0, False)):
        plays.click(seconds, first)
    plays.end_due(3.0)
    assert [(o.seconds, o.status, o.data1, o.data2) for o in plays.take_orders()] == [
        (1.0, 0x90, 76, 80), (1.05, 0x80, 76, 0), (2.0, 0x90, 77, 70), (2.05, 0x80, 77, 0)
    ]  # fmt: skip


@pytest.mark.parametrize(("beats", "speed", "lasts"), [(1.0, 2.0, 0.5), (1.0, 4.0, 0.25), (0.01, 2.0, 0.04)])
def test_how_long_a_note_sounds(stand: Any, beats: float, speed: float, lasts: float) -> None:
    plays = band(stand.tune())
    plays.strike(cue(4, beats, 40), 1.0, speed)
    assert plays.next_end() == plays.until("bass", 40) == pytest.approx(1.0 + lasts)
    plays.sound("bass", 43, 1.0, beats, speed)
    assert plays.until("bass", 43) == pytest.approx(1.0 + beats / speed)
    assert plays.sounding("bass") == (40, 43) and plays.sounding("chords") == ()
    assert plays.until("chords", 40) == float("-inf")


def test_two_voices_that_meet_on_a_key_sound_as_long_as_the_longer(stand: Any) -> None:
    for lengths in ((1.0, 3.0), (3.0, 1.0)):
        plays = band(stand.tune())
        for length in lengths:
            plays.strike(cue(0, length, 60, "chords"), 10.0, 2.0)
        for seconds in (10.5, 11.0, 11.5):
            plays.beat_sounded(seconds)
        plays.end_due(20.0)
        assert told(plays.take_orders()) == [("on", 10.0, 60), ("off", 11.5, 60)]


def test_a_note_that_was_to_be_struck_and_is_silenced_before_that_is_not_struck(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 40), 10.0, 2.0)
    plays.strike(cue(0, 1.0, 43), 10.0, 2.0)
    plays.silence("bass", 40, 9.9)
    assert told(plays.take_orders()) == [("on", 10.0, 43)]
    plays.silence("bass", 43, 9.9)  # that one is on its way
    assert told(plays.take_orders()) == [("off", 10.0, 43)]
    plays.silence("bass", 45, 9.9)
    assert not plays.take_orders() and plays.next_end() is None


def test_a_key_that_came_up_late_goes_down_no_earlier(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 40), 10.0, 2.0)
    plays.silence("bass", 40, 10.3)
    plays.strike(cue(0, 1.0, 40), 10.2, 2.0)
    plays.strike(cue(0, 1.0, 43), 10.2, 2.0)
    found = plays.take_orders()
    assert [(o.seconds, o.status, o.data1) for o in found] == [
        (10.0, 0x90, 40), (10.2, 0x90, 43), (10.3, 0x80, 40), (10.3, 0x90, 40)
    ]  # fmt: skip


def test_a_silence_ends_a_note_no_later_than_its_own_end(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 40), 10.0, 2.0)
    plays.silence("bass", 40, 11.0)
    plays.strike(cue(0, 1.0, 43), 10.0, 2.0)
    plays.release(11.0)
    assert told(plays.take_orders())[2:] == [("off", 10.5, 40), ("off", 10.5, 43)]


@pytest.mark.parametrize(("seconds", "ends"), [(10.2, 10.2), (10.5, 10.5), (10.7, 10.5)])
def test_a_note_can_be_shortened_and_not_be_made_longer(stand: Any, seconds: float, ends: float) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 76, "melody"), 10.0, 2.0)
    plays.shorten("melody", 76, seconds)
    plays.shorten("melody", 77, seconds)
    assert plays.next_end() == ends
    plays.end_due(20.0)
    assert told(plays.take_orders()) == [("on", 10.0, 76), ("off", ends, 76)]


@pytest.mark.parametrize(("length", "beats"), [(0.5, 2), (1.0, 3), (2.0, 4), (2.5, 4)])
def test_who_races_away_leaves_no_note_behind_for_more_than_a_beat(stand: Any, length: float, beats: int) -> None:
    """Struck at a slow speed; the beats then come in no time."""
    plays = band(stand.tune())
    plays.strike(cue(0, length, 40), 10.0, 0.5)
    plays.click(10.0, True)
    for n in range(1, 8):
        plays.beat_sounded(10.0 + 0.1 * n)
    assert told(plays.take_orders()) == [
        ("on", 10.0, 40), ("on", 10.0, 76), ("off", round(10.0 + 0.1 * beats, 4), 40)
    ]  # fmt: skip


def test_at_one_moment_what_ends_comes_before_what_begins(stand: Any) -> None:
    plays = band(stand.tune())
    plays.strike(cue(0, 1.0, 40), 10.0, 2.0)
    plays.strike(cue(1, 1.0, 43), 10.5, 2.0)
    plays.end_due(10.5)
    assert [(o.seconds, o.status) for o in plays.take_orders()] == [(10.0, 0x90), (10.5, 0x80), (10.5, 0x90)]
    assert plays.take_orders() == []


# Lines that are laid


def line_of(*notes: tuple[float, float], part: str = "solo") -> list[Note]:
    return [cue(beat, length, 60 + n, part).note for n, (beat, length) in enumerate(notes)]


@pytest.mark.parametrize(
    ("low", "high", "found"),
    [
        (32.0, 36.0, [32.0, 33.5, 35.0]), (32.0, 35.0, [32.0, 33.5]), (32.0, 33.5, [32.0]), (33.5, 33.6, [33.5]),
        (33.0, 33.5, []), (35.0 + 1e-12, 36.0, [35.0]), (32.0, 35.0 - 1e-12, [32.0, 33.5]),
    ],
)  # fmt: skip
def test_which_notes_of_a_line_begin_between_two_beats(stand: Any, low: float, high: float, found: list[float]) -> None:
    plays = band(stand.tune(feel="straight"))
    line = line_of((0, 1), (1.5, 1), (3, 1))
    assert [c.beat for c in plays.laid(low, high, 120.0, line, 32.0)] == found


def test_another_line_or_the_same_from_another_beat_is_laid_anew(stand: Any) -> None:
    plays = band(stand.tune(feel="straight"))
    one, other = line_of((0, 1), (2, 1)), line_of((1, 1))
    assert [c.beat for c in plays.laid(0, 8, 120.0, one, 0.0)] == [0.0, 2.0]
    assert [c.beat for c in plays.laid(0, 8, 120.0, other, 0.0)] == [1.0]
    assert [c.beat for c in plays.laid(0, 8, 120.0, other, 4.0)] == [5.0]
    assert plays.laid(0, 8, 120.0, [], 0.0) == []


def test_a_line_is_struck_by_its_place_in_the_form_and_anew_from_another_beat(stand: Any) -> None:
    plays = band(stand.tune(feel="straight"), seed=7)
    line = line_of(*((n / 2, 0.5) for n in range(16)))
    for zero in (0.0, 64.0, 0.0):
        found = plays.laid(zero, zero + 8, 120.0, line, zero)
        hand = strokes(plays.form, line, f"7/{zero}")
        assert [(c.stroke.firmness, c.stroke.held) for c in found] == [(one.firmness, one.held) for one in hand]
        assert [c.stroke.late for c in found] == [min(one.late, 0.006) for one in hand]


def test_a_quaver_is_looked_for_where_it_sounds(stand: Any) -> None:
    """Written on the half beat it sounds two thirds of the way, in a window that begins after it is written."""
    plays = band(stand.tune())
    line = line_of((0.5, 0.5), (1.5, 0.5))
    assert [c.note.beat for c in plays.laid(0.6, 1.0, 120.0, line, 0.0)] == [0.5]
    assert [c.note.beat for c in plays.laid(1.0, 1.6, 120.0, line, 0.0)] == []


def test_a_note_ends_where_it_is_written_to_by_the_share_that_its_stroke_holds(stand: Any) -> None:
    plays = band(stand.tune(feel="straight"))
    found = plays.laid(0, 8, 120.0, line_of((0, 1), (1.5, 2), (4, 0.5)), 0.0)
    assert [(c.end - c.beat) / c.stroke.held for c in found] == pytest.approx([1, 2, 0.5])
    swung = band(stand.tune()).laid(0, 8, 120.0, line_of((0, 0.5)), 0.0)[0]
    assert 0.5 < swung.end / swung.stroke.held < 2 / 3 + 0.01, "it ends as it swings"


@pytest.mark.parametrize(
    ("beats", "tempo", "left_out"),
    [
        # A fill that comes within 90 ms of a neighbour (configs/bass.toml): a triplet quaver at 222 a minute.
        ((0, 2 / 3, 1), 221, set()), ((0, 2 / 3, 1), 223, {1}), ((0, 1 / 3, 1), 223, {1}), ((0, 1 / 3, 1), 221, set()),
        ((2 / 3, 1, 2), 223, {0}), ((0, 1, 5 / 3), 223, set()), ((0, 1, 5 / 3), 448, {2}),
        ((0, 3 / 4), 500, set()), ((0, 3 / 4), 501, {1}),  # 90 ms are enough
        ((0, 1, 2), 900, set()),  # on the beat nothing is a fill
    ],
)  # fmt: skip
def test_a_fill_is_left_out_where_it_would_be_too_quick(
    stand: Any, beats: tuple[float, ...], tempo: float, left_out: set[int]
) -> None:
    plays = band(stand.tune(feel="straight"))
    line = [
        replace(n, beat=n.beat.limit_denominator(6)) for n in line_of(*((beat, 0.3) for beat in beats), part="bass")
    ]
    found = {c.note.beat for c in plays.laid(0, 8, tempo, line, 0.0)}
    assert {n for n, note in enumerate(line) if note.beat not in found} == left_out
    other = [replace(note, part="solo") for note in line]
    assert len(plays.laid(0, 8, tempo, other, 0.0)) == len(line)


def test_at_the_piano_no_note_lies_further_behind_than_is_allowed(stand: Any) -> None:
    """Six milliseconds (configs/touch.toml)."""
    plays = band(stand.tune())
    late = [c.stroke.late for c in plays.cues(0, 256, 120.0)]
    assert max(late) == 0.006 and min(late) < 0.0
    assert len({n for n in late if n < 0.006}) > 50, "what is earlier is left as it is"


def test_a_chord_that_is_not_in_the_plan_is_struck_swung(stand: Any) -> None:
    plays = band(stand.tune())
    chord = [cue(4.5, 1.0, midi, "chords") for midi in (52, 55, 59)]
    found = plays.by_hand(chord, 120.0)
    assert [(c.beat, c.note.midi) for c in found] == [
        (pytest.approx(4 + 2 / 3, abs=0.02), midi) for midi in (52, 55, 59)
    ]
    assert len({c.stroke for c in found}) > 1 and max(c.stroke.late for c in found) <= 0.006
    assert plays.by_hand([], 120.0) == []


@pytest.mark.parametrize(("tempo", "sounds"), [(120, 2 / 3), (160, 2 / 3), (300, 0.5)])
def test_what_sounds_on_the_swung_quaver_is_written_on_the_half_beat(stand: Any, tempo: float, sounds: float) -> None:
    chart = stand.tune(tempo=tempo)
    assert band(chart).written(8 + sounds, tempo) == pytest.approx(8.5, abs=0.02)
    assert band(chart).written(9.0, tempo) == 9.0
    assert band(stand.tune(feel="straight")).written(8.3, tempo) == 8.3
    compound = stand.chart(("| C6 | F6 |", "| ceg gec | f6 |"), metre="6/8", feel="swing")
    assert band(compound).written(0.75, tempo) == 0.75


def test_a_tune_that_is_practised_is_read_by_a_modest_swing(stand: Any) -> None:
    """At half its tempo a fast tune doesn't swing as a slow one: two to one at the most (common practice)."""
    assert band(stand.tune(tempo=240)).written(2 / 3, 100.0) == pytest.approx(0.5, abs=0.01)
    assert band(stand.tune(tempo=100)).written(2 / 3, 100.0) < 0.49


# Ahead of time


def test_what_is_prepared_is_what_is_needed_and_nothing_twice(stand: Any) -> None:
    ahead, at_once = (Band(stand.tune().unfold(), Settings(parts=ALL[1:])) for _ in range(2))
    made = ahead.prepare(1)()
    assert sorted((asked.part, "solo" in asked.request.player) for asked in made) == [
        ("bass", False), ("chords", False), ("chords", True)
    ]  # fmt: skip
    ahead.adopt(made)
    assert ahead.prepare(1)() == {} and at_once.cues(0, 64, 120) == ahead.cues(0, 64, 120)
    assert ahead.planned("chords", 0.0) is next(
        arranged.notes
        for asked, arranged in made.items()
        if asked.part == "chords" and not asked.request.player & {"solo"}
    )
    ahead.accompany(improvised=True)
    assert ahead.planned("chords", 0.0) is next(
        arranged.notes for asked, arranged in made.items() if asked.request.player & {"solo"}
    )


EVENTS = (Event("introduction", how="vamp", bars=4), Event("head"), Event("ending", how="tag"))


def test_an_introduction_is_struck_by_its_own_bars(stand: Any) -> None:
    """Its first bar is its beat 0, wherever it lies in the tune."""
    chart = replace(stand.tune(), events=EVENTS)
    told = Settings(parts=ALL[1:], order="chart", start=0.0, seed=3)
    plays = Band(chart.unfold(), told, OrderOfEvents(chart.unfold(), told, chart))
    intro = plays.tune.plan[0]
    assert intro.kind == "introduction" and intro.first == -16
    made = next(arranged for asked, arranged in plays.prepare(1)().items()
                if asked.stretch == intro and asked.part == "bass")  # fmt: skip
    own = [replace(note, beat=note.beat - intro.first) for note in made.notes]
    assert made.strokes == tuple(strokes(intro.form, own, f"3/{intro.start}"))


def test_where_sections_are_treated_otherwise_introduction_and_ending_keep_the_treatment_of_the_whole(
    stand: Any,
) -> None:
    chart = replace(stand.tune(), events=EVENTS)
    told = Settings(parts=("bass",), order="chart", start=0.0, treatment="walking")
    plays = Band(chart.unfold(), told, OrderOfEvents(chart.unfold(), told, chart))
    made = plays.prepare(1, (("A", "solos"),))()
    found = {asked.stretch.kind: asked.request.treatment for asked in made}
    assert found == {"introduction": "walking", "head": None, "ending": "walking"}


def test_what_was_arranged_meanwhile_stays(stand: Any) -> None:
    plays = Band(stand.tune().unfold(), Settings(parts=ALL[1:]))
    work = plays.prepare(1)
    before = plays.planned("bass", 0.0)
    plays.adopt(work())
    assert plays.planned("bass", 0.0) is before


def test_only_the_latest_arrangements_are_kept(stand: Any) -> None:
    plays = band(stand.tune())
    for n in range(KEPT + 5):
        plays.adopt({n: n})  # type: ignore[dict-item]
    assert list(plays._arranged) == list(range(5, 101))
