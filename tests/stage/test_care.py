"""A pause is proposed after so long at the keys: once, between phrases, and by wish never."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from companion.messages import Beat, Heard, State
from companion.preferences import preferences
from companion.preferences.care import CarePreferences, PauseRules
from companion.stage.care import CAUTION, PauseReminder

RULES = replace(preferences(CarePreferences).pause, after=25, lasts=5, phrase=2.0)
MINUTE = 60.0


class AtTheKeys:
    """Someone who plays, and is watched."""

    def __init__(self, rules: PauseRules = RULES) -> None:
        self.reminder = PauseReminder(rules)
        self.now = 0.0
        self.shown: list[tuple[float, str]] = []

    def looks(self, until: float) -> None:
        """Time goes by; the screen is looked at four times a second."""
        while self.now < until:
            self.now = min(self.now + 0.25, until)
            if text := self.reminder.due(self.now):
                self.shown.append((self.now, text))

    def plays(self, minutes: float, every: float = 0.5, legato: bool = False) -> None:
        """A note each so many seconds; legato: a key comes up once the next one is down."""
        for n in range(round(minutes * MINUTE / every)):
            self.reminder.take(Heard(self.now, 0x90, 60 + n % 12, 70))
            if legato and n:
                self.reminder.take(Heard(self.now, 0x80, 60 + (n - 1) % 12, 0))
            self.looks(self.now + 0.8 * every)
            if not legato:
                self.reminder.take(Heard(self.now, 0x80, 60 + n % 12, 0))
            self.looks(self.now + 0.2 * every)

    def rests(self, seconds: float) -> None:
        self.looks(self.now + seconds)


def test_after_25_minutes_it_is_shown_with_the_next_rest_and_only_once() -> None:
    player = AtTheKeys()
    player.plays(26)
    assert not player.shown, "never in the midst of a phrase"
    player.rests(3)
    player.plays(10)
    player.rests(3)
    ((moment, text),) = player.shown
    assert 26 * MINUTE + 1.5 < moment < 26 * MINUTE + 3
    assert text.startswith("26 minutes of playing: time for 5 minutes of pause.") and CAUTION in text


def test_a_rest_before_the_25_minutes_shows_nothing() -> None:
    player = AtTheKeys()
    player.plays(24)
    player.rests(30)
    assert not player.shown


def test_a_long_chord_is_no_rest() -> None:
    player = AtTheKeys()
    player.plays(26)
    player.reminder.take(Heard(player.now, 0x90, 48, 70))
    player.rests(10)
    assert not player.shown
    player.reminder.take(Heard(player.now, 0x80, 48, 0))
    player.rests(2.5)
    assert len(player.shown) == 1


@pytest.mark.parametrize("name", ["resting", "waiting", "holding"])
def test_between_two_rounds_it_is_shown_at_once(name: str) -> None:
    player = AtTheKeys()
    player.plays(26)
    player.reminder.take(State(player.now, name))  # type: ignore[arg-type]
    player.rests(0.5)
    assert len(player.shown) == 1


def test_a_walking_bass_that_never_rests_is_told_at_the_beginning_of_a_chorus() -> None:
    player = AtTheKeys()
    player.reminder.take(Beat(0.0, 0.0, 1.0, chorus=1))
    player.plays(28, legato=True)
    player.reminder.take(Beat(40.0, player.now, 1.0, chorus=1))
    player.rests(0.25)
    assert not player.shown, "in the midst of a chorus"
    player.reminder.take(Beat(0.0, player.now, 1.0, chorus=2))
    player.rests(0.25)
    assert len(player.shown) == 1


def test_after_a_pause_it_is_counted_anew() -> None:
    player = AtTheKeys()
    player.plays(20)
    player.rests(5 * MINUTE)
    player.plays(20)
    player.rests(5)
    assert not player.shown
    player.plays(6)
    player.rests(5)
    assert len(player.shown) == 1


def test_after_a_pause_that_was_proposed_it_is_proposed_again() -> None:
    player = AtTheKeys()
    for _ in range(2):
        player.plays(26)
        player.rests(6 * MINUTE)
    assert len(player.shown) == 2


def test_looking_for_a_note_is_playing_and_answering_the_door_is_not() -> None:
    player = AtTheKeys()
    player.plays(1, every=10)
    player.rests(MINUTE)
    player.plays(0.5)
    assert player.reminder.played == pytest.approx(50 + 29.5, abs=1)


def test_what_was_played_before_counts() -> None:
    player = AtTheKeys()
    player.reminder.played = 24 * MINUTE
    player.plays(1.5)
    player.rests(3)
    assert len(player.shown) == 1


def test_by_wish_it_never_comes() -> None:
    player = AtTheKeys(replace(RULES, after=0))
    player.plays(60)
    player.rests(10)
    assert not player.shown


@pytest.mark.parametrize(
    ("gap", "played"), [(19.9, 1019.9), (20.0, 1000.0), (299.9, 1000.0), (300.0, 0.0), (301.0, 0.0)]
)
def test_how_long_a_silence_is_still_playing_and_from_when_it_is_a_pause(gap: float, played: float) -> None:
    """Under twenty seconds it counts as playing; after five minutes all is counted anew."""
    reminder = PauseReminder(RULES)
    assert reminder.played == 0.0
    reminder.take(Heard(100.0, 0x90, 60, 70))
    assert reminder.played == 0.0
    reminder.played = 1000.0
    reminder.take(Heard(100.0 + gap, 0x90, 62, 70))
    assert reminder.played == pytest.approx(played)


def after(played: float, *events: Heard | State | Beat) -> PauseReminder:
    """A reminder of who has played for so many seconds, and what they do then."""
    reminder = PauseReminder(RULES)
    reminder.played = played
    for event in events:
        reminder.take(event)
    return reminder


@pytest.mark.parametrize(
    ("played", "released", "shown"),
    [(1499.9, 90.0, False), (1500.0, 90.0, True), (1600.0, 98.1, False), (1600.0, 98.0, True)],
)
def test_after_how_much_playing_and_how_long_a_rest_it_is_shown(played: float, released: float, *, shown: bool) -> None:
    """At second 100, after 25 minutes, when the last key came up two seconds ago."""
    reminder = after(played, Heard(released, 0x80, 60, 0))
    assert bool(reminder.due(100.0)) == shown
    assert reminder.due(100.0) == ""


@pytest.mark.parametrize("status", [0x80, 0x90])
def test_a_key_comes_up_by_either_message_and_a_pedal_is_no_key(status: int) -> None:
    """A note-on without velocity is a note-off (MIDI 1.0)."""
    pedal, key = Heard(99.9, 0xB0, 64, 0), Heard(90.0, 0x90, 60, 70)
    assert after(1600.0, key, pedal).due(100.0) == ""
    assert after(1600.0, key, Heard(91.0, status, 60, 0), pedal).due(100.0).startswith("27 minutes of playing")


@pytest.mark.parametrize(
    ("played", "choruses", "shown"),
    [(1620.0, (1, 2), True), (1619.9, (1, 2), False), (1620.0, (1, 1), False), (1620.0, (2,), False)],
)
def test_two_minutes_later_the_first_beat_of_a_chorus_will_do(
    played: float, choruses: tuple[int, ...], *, shown: bool
) -> None:
    beats = [Beat(0.0, 98.0 + n, 1.0, chorus=number) for n, number in enumerate(choruses)]
    assert bool(after(played, Heard(97.0, 0x90, 60, 70), *beats).due(100.0)) == shown


def said(words: Iterable[str], text: str) -> bool:
    return all(re.search(word, text, re.IGNORECASE) for word in words)


def test_screen_and_readme_say_the_same_of_pain_volume_pauses_and_teachers() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    cautions = readme.split("## Cautions")[1].split("\n## ")[0]
    shared = ("pain, tingling or numbness means stop", "see\\s+a doctor", "volume moderate", "believe\\s+your teacher")
    assert said(shared, cautions) and said(shared, CAUTION)
    assert f"{preferences(CarePreferences).pause.after:g} minutes" in cautions
