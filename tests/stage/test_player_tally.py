"""What an account says of the player's notes, against players whose every note is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from companion.load import load
from companion.messages import Beat, Heard, State
from companion.pianist.player import simulate
from companion.resources import chart_path
from companion.stage.player_tally import PlayerTally, tally_of
from companion.stage.replay import replay
from companion.stage.settings import Settings

FERRY = load(chart_path("ferry-without-lights"))
FORM = FERRY.unfold()
MELODY = [note for note in FORM.melody if note.beat >= 0]
PULSE = 0.5
"""Seconds a beat: 120 a minute."""


def played(
    late: float = 0.0, leave_out: tuple[int, ...] = (), shift: int = 0, until: float = float("inf")
) -> list[Heard]:
    """The melody once through at 120, so many seconds late; without the notes of some bars, in another octave."""
    return [
        Heard(float(note.beat) * PULSE + late, 0x90, note.pitch.midi + shift, 80)
        for note in MELODY
        if FORM.bar_at(note.beat) not in leave_out and note.beat < until
    ]


def beats(first: int = 0, last: int = int(FORM.length) + 2, **more) -> list[Beat]:
    """The companion's beats at 120; the form begins again."""
    length = int(FORM.length)
    return [Beat(float(n % length), n * PULSE, 0.95, 1 + n // length, **more) for n in range(first, last)]


def said(*events, you=("melody",)) -> list[str]:
    return tally_of(FORM, you, [event for group in events for event in group]).lines()


def test_all_of_the_melody_in_time_is_said_to_have_come() -> None:
    lines = said(played(), beats())
    assert lines[0] == f"the melody: {len(MELODY)} of {len(MELODY)} notes within half a beat of their place"
    assert any(line.startswith("on the beat: ") and "at the median on it" in line for line in lines)
    assert "tempo: 120 quarters a minute" in lines
    assert not any("stopped" in line or "elsewhere" in line for line in lines)


@pytest.mark.parametrize("octave", [-12, 12, 24])
def test_in_another_octave_it_is_the_melody_all_the_same(octave: int) -> None:
    assert said(played(shift=octave), beats())[0].startswith(f"the melody: {len(MELODY)} of {len(MELODY)} notes")


def test_in_another_key_it_is_not_the_melody() -> None:
    tally = tally_of(FORM, ["melody"], [*played(shift=1), *beats()])
    assert tally.came["melody"] < 0.3 * len(MELODY)


def test_bars_in_which_notes_are_missing_are_named() -> None:
    lines = said(played(leave_out=(2, 10)), beats())
    left = sum(FORM.bar_at(note.beat) in (2, 10) for note in MELODY)
    assert lines[0].startswith(f"the melody: {len(MELODY) - left} of {len(MELODY)} notes")
    assert lines[0].endswith("; missing in bars 2 and 10")


@pytest.mark.parametrize(("late", "words"), [(0.025, "25 ms after it"), (-0.018, "18 ms before it")])
def test_ahead_of_the_beat_and_behind_it_are_told_apart(late: float, words: str) -> None:
    [line] = [line for line in said(played(late), beats()) if line.startswith("on the beat")]
    assert words in line


def test_what_was_silent_because_the_player_had_stopped_is_not_missing() -> None:
    stop = [State(18 * 4 * PULSE, "holding", 72.0)]
    lines = said(played(until=64), beats(last=72), stop)
    before = sum(note.beat < 64 for note in MELODY)
    assert lines[0] == f"the melody: {before} of {before} notes within half a beat of their place"
    assert "stopped once, in bar 18" in lines


def test_a_leap_is_told_and_what_was_leapt_over_is_not_missing() -> None:
    heard = [*played(until=32), *(replace(h, seconds=h.seconds - 16.0) for h in played() if h.seconds >= 32.0)]
    there = [*beats(last=32), *(replace(b, seconds=b.seconds - 16.0) for b in beats(first=64))]
    lines = said(heard, there)
    assert "went on elsewhere once, from bar 8 to bar 17" in lines and "missing" not in lines[0]


def test_where_they_improvise_or_the_companion_is_lost_nothing_is_held_against_the_chart() -> None:
    for unclear in (beats(event="solos"), beats(turn="ours"), [replace(beat, sure=0.2) for beat in beats()]):
        assert not any(line.startswith("the melody") for line in said([], unclear))
        assert not any(line.startswith("the melody") for line in said(played(), unclear))


def test_a_bass_is_held_against_the_basses_of_the_chords() -> None:
    chords = [span for span in FORM.chords if span.chord.is_chord]
    roots = [Heard(float(s.start) * PULSE, 0x90, 36 + s.chord.bass_name.pc, 90) for s in chords if s.chord.bass_name]
    lines = said(roots, beats(), you=("bass",))
    assert lines[0] == f"the bass: {len(chords)} of the bass of {len(chords)} chords within half a beat of their place"


def test_with_both_hands_a_chord_does_not_stand_for_the_melody() -> None:
    under = [Heard(h.seconds, 0x90, h.data1 - 12, 60) for h in played()]
    above = [Heard(h.seconds, 0x90, 95 if h.data1 % 12 != 95 % 12 else 96, 60) for h in played()]
    lines = said(under, above, beats(), you=("melody", "chords"))
    assert lines[0].startswith(f"the melody: 0 of {len(MELODY)} notes")


def test_touch_is_told_by_most_of_the_velocities() -> None:
    heard = [replace(h, data2=50 + n % 41) for n, h in enumerate(played())]
    [line] = [line for line in said(heard, beats()) if line.startswith("touch")]
    assert line == "touch: velocity 70 at the median, 8 of 10 notes from 54 to 86"


def test_asked_for_twice_it_says_the_same() -> None:
    tally = tally_of(FORM, ["melody"], [*played(leave_out=(3,)), *beats()])
    assert tally.lines() == tally.lines()


def test_a_long_evening_takes_no_more_room_than_a_short_one() -> None:
    tally = PlayerTally(FORM, {"melody"})
    for chorus in range(40):
        later = chorus * float(FORM.length) * PULSE
        events = [*played(), *beats(last=int(FORM.length))]
        for event in sorted(events, key=lambda one: one.seconds):
            tally.add(replace(event, seconds=event.seconds + later))
    assert len(tally._strokes) < 100 and len(tally._undecided) < 100
    assert tally.came["melody"] > 38 * len(MELODY)


@pytest.mark.parametrize(("manner", "seed"), [("evening", 1), ("evening", 2), ("messy", 3)])
def test_of_a_simulated_player_as_many_notes_come_as_they_played(manner: str, seed: int) -> None:
    """The pianist's own record says which notes were right; an octave's worth of luck goes to wrong ones."""
    player = simulate(FORM, frozenset({"melody"}), manner=manner, seed=seed, choruses=3)
    settings = Settings(tempo=player.tempo, start=player.start, count_in=2, choruses=3)
    recording = replay(FERRY, player.heard, settings, until=player.heard[-1].seconds + 2)
    tally = tally_of(FORM, {"melody"}, [*recording.heard, *recording.reports])
    right = sum(note.kind == "right" for note in player.notes)
    written = right + sum(note.kind in ("wrong", "missing") for note in player.notes)
    came, counted = tally.came["melody"], tally.came["melody"] + tally.missed.total()
    assert 0.85 * written < counted <= written * 1.02
    assert came / counted == pytest.approx(right / written, abs=0.05)
