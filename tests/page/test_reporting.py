"""Reports in the page's words: on the live clock, with the tempo of the last beats, and with doubt where it is."""

from __future__ import annotations

import pytest

from companion.messages import Beat, Belief, Round, State, Treated
from companion.page.outgoing import BeatTold, RoundTold, StateTold, TreatedTold
from companion.page.reporting import Reporter


def test_a_beat_is_told_at_its_moment_of_the_live_clock_with_the_tempo_of_the_last_few() -> None:
    reporter = Reporter()
    reporter.origin = 1000.0
    told = [reporter.told(Beat(float(n), 2.0 + 0.5 * n, 0.9)) for n in range(4)]
    assert all(isinstance(one, BeatTold) for one in told)
    last = told[-1]
    assert isinstance(last, BeatTold)
    assert (last.at, last.place, last.doubt) == (1003.5, 3.0, "")
    assert last.tempo == pytest.approx(120.0)


@pytest.mark.parametrize(("sure", "word"), [(0.2, "looking for you"), (0.5, "not sure"), (0.7, "")])
def test_doubt_has_a_word_only_where_there_is_some(sure: float, word: str) -> None:
    told = Reporter().told(Beat(0.0, 0.0, sure))
    assert isinstance(told, BeatTold)
    assert told.doubt.startswith(word) and bool(told.doubt) == bool(word)


def test_states_and_rounds_are_told_as_a_musician_says_them() -> None:
    state = Reporter().told(State(1.0, "holding", 4.0, 96.0, event="solos", time=2, times=3))
    assert isinstance(state, StateTold)
    assert (state.words, state.event_words) == ("holding, go on when you like", "solos, chorus 2 of 3")
    drilled = Reporter().told(Round(1.0, 5, 17, 24, ("bass",), "C major", 96.0, 2.0, then=100.0, hidden=True))
    assert isinstance(drilled, RoundTold)
    assert drilled.hidden and "bars 17–24" in drilled.words and "next 100" in drilled.words


def test_another_treatment_is_told_at_its_bar_line() -> None:
    reporter = Reporter()
    reporter.origin = 10.0
    assert reporter.told(Treated(2.0, (("B", "pedal"),))) == TreatedTold(at=12.0, sections={"B": "pedal"})


def test_the_tempo_is_that_of_the_last_few_beats_and_whats_told_bears_every_word_of_the_report() -> None:
    reporter = Reporter()
    for n in range(20):
        reporter.told(Beat(float(n), 1.0 * n, 0.9))
    told = [reporter.told(Beat(20.0 + n, 20.0 + 0.5 * n, 0.9, 2, "solos", "player")) for n in range(1, 12)]
    last = told[-1]
    assert isinstance(last, BeatTold) and last.tempo == pytest.approx(120.0), "the slow ones are forgotten"
    assert (last.at, last.chorus, last.event, last.turn, last.sure) == (25.5, 2, "solos", "player", 0.9)
    state = Reporter().told(State(1.0, "ended", 4.0, 96.0, last=True))
    assert isinstance(state, StateTold) and (state.at, state.place, state.tempo, state.last) == (1.0, 4.0, 96.0, True)
    judged = Round(1.0, 5, 17, 24, ("bass",), "C major", 96.0, 2.0, good=False, why="F missed")
    drilled = Reporter().told(judged)
    assert isinstance(drilled, RoundTold)
    assert (drilled.at, drilled.number, drilled.first, drilled.last) == (1.0, 5, 17, 24)
    assert (drilled.key, drilled.tempo, drilled.good, drilled.why) == ("C major", 96.0, False, "F missed")


def test_what_the_follower_believed_is_not_told() -> None:
    assert Reporter().told(Belief(0.0, "note", 60, 0.0, 120.0, 1.0, 0.1, 0.0, 0.0)) is None
