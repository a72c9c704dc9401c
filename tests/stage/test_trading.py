"""Player and companion improvise in turn.

How musicians trade is common practice: fours, eights or choruses, the bars kept, nobody speaks over anybody, and each
takes up what the other said last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from companion.arrange.solo.part import improvised_line
from companion.chart.model import Event
from companion.messages import Beat, Heard, Order, State
from companion.stage.order import OrderOfEvents
from companion.stage.rehearsal import Rehearsal
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings
from companion.stage.trading import Trading

START, TEMPO = 2.0, 120.0
BEAT = 60 / TEMPO
CHANGES = "| Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Dm7 | G7 | Fmaj7 | Bb7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | G7 |"
PHRASE = ((0, 64), (0.5, 67), (1, 72), (1.5, 71), (2, 67), (3, 69))
"""A bar of the player's: beats and pitches."""


@pytest.fixture(scope="module")
def chart(stand: Any) -> Any:
    return stand.chart((CHANGES, ""), feel="straight")


def trading(trade: int = 4, **more: Any) -> Settings:
    told = {"you": frozenset({"solo"}), "parts": ("chords", "bass"), "tempo": TEMPO, "start": START, "trade": trade}
    return Settings(**(told | more))


def phrases(stand: Any, *bars: float, notes: Sequence[tuple[float, int]] = PHRASE) -> list[Heard]:
    """The player's bar in each of some bars, 1 = the first."""
    return [h for bar in bars for at, midi in notes for h in stand.strike(START + (4 * (bar - 1) + at) * BEAT, midi)]


def play(chart: Any, heard: Sequence[Heard], settings: Settings, bars: int = 17, tail: float = 0.0) -> Recording:
    events = sorted(heard, key=lambda h: (h.seconds, h.status))
    return replay(chart, events, settings, until=START + (4 * (bars - 1) + tail) * BEAT)


def beat_of(order: Order) -> float:
    return (order.seconds - START) / BEAT


def line(recording: Recording) -> list[Order]:
    return [o for o in recording.orders if o.part == "solo" and o.status == 0x90]


def bars_of(recording: Recording, part: str = "solo") -> set[int]:
    return {int((beat_of(o) + 0.1) // 4) + 1 for o in recording.orders if o.part == part and o.status == 0x90}


OWN = [1, 2, 3, 4, 9, 10, 11, 12]
"""The player's bars, in fours."""


def test_in_fours_each_speaks_in_their_own_bars(stand: Any, chart: Any) -> None:
    recording = play(chart, phrases(stand, *OWN), trading())
    assert bars_of(recording) <= {5, 6, 7, 8, 13, 14, 15, 16}
    assert len(bars_of(recording)) >= 6 and len(line(recording)) > 25
    assert bars_of(recording, "bass") >= set(range(1, 17)) and len(bars_of(recording, "chords")) > 10


@pytest.mark.parametrize(("trade", "ours"), [(2, {3, 4, 7, 8, 11, 12, 15, 16}), (8, set(range(9, 17)))])
def test_turns_are_as_long_as_was_said(stand: Any, chart: Any, trade: int, ours: set[int]) -> None:
    recording = play(chart, phrases(stand, *(set(range(1, 17)) - ours)), trading(trade))
    assert bars_of(recording) <= ours and len(bars_of(recording)) >= len(ours) - 2


def test_choruses_are_traded_too_and_the_silent_player_is_not_taken_for_gone(stand: Any, chart: Any) -> None:
    recording = play(chart, phrases(stand, *range(1, 17), *range(33, 40)), trading(9999), bars=40)
    assert bars_of(recording) <= set(range(17, 33)) and len(bars_of(recording)) > 11
    assert {s.name for s in recording.reports if isinstance(s, State)} <= {"playing", "ended"}
    beats = [b for b in recording.reports if isinstance(b, Beat)]
    assert 4 * 39 <= len(beats) <= 4 * 39 + 1
    assert all(abs(b.seconds - a.seconds - BEAT) < 0.06 for a, b in pairwise(beats))
    assert {b.turn for b in beats[:64]} == {"yours"} and {b.turn for b in beats[64:128]} == {"ours"}


def test_it_comes_back_in_time_with_who_comes_in_a_little_late(stand: Any, chart: Any) -> None:
    late = [replace(h, seconds=h.seconds + 0.06) for h in phrases(stand, *OWN[4:])]
    recording = play(chart, [*phrases(stand, *OWN[:4]), *late], trading(), bars=13)
    beats = {4 * b.chart_beat: b.seconds for b in recording.reports if isinstance(b, Beat)}
    off = [abs(beats[4 * n] - START - n * BEAT - 0.06) for n in range(36, 47)]
    assert max(off) < 0.05


def test_it_takes_up_what_was_played_last(stand: Any, chart: Any) -> None:
    contour = [1, 1, -1, -1, 1]
    kept = 0
    for seed in range(6):
        said = [o for o in line(play(chart, phrases(stand, 1, 2, 3, 4), trading(seed=seed), bars=7)) if beat_of(o) < 20]
        beats = [round(2 * (beat_of(o) - 16)) / 2 for o in said]
        ways = [1 if b.data1 > a.data1 else -1 for a, b in pairwise(said)]
        kept += [b for b in beats if b <= 3][:6] == [b for b, _ in PHRASE] and ways[:5] == contour
    assert kept >= 4
    last = [[o.data1 for o in line(play(chart, phrases(stand, 4, notes=[(0, m)]), trading()))] for m in (60, 84)]
    assert last[0] and last[1]


def test_it_waits_while_the_player_goes_on(stand: Any, chart: Any) -> None:
    through = [(n / 2, 67 + (2 * n) % 7) for n in range(8)]
    recording = play(chart, phrases(stand, 1, 2, 3, 4, 5, notes=through), trading(), bars=9)
    begins = beat_of(line(recording)[0])
    assert 4 * 4 + 3.5 + 0.6 <= begins < 23


def test_it_stops_when_they_come_in_and_goes_on_when_they_fall_silent(stand: Any, chart: Any) -> None:
    heard = [*phrases(stand, 1, 2, 3, 4), *phrases(stand, 6.25, notes=[(0, 79), (0.5, 77), (1, 76)])]
    recording = play(chart, heard, trading(8), bars=17)

    def is_speaking(seed: int) -> bool:
        said = line(play(chart, phrases(stand, 1, 2, 3, 4), trading(4, seed=seed), bars=9))
        return any(21.2 < beat_of(o) < 23 for o in said)

    seed = next(seed for seed in range(10) if is_speaking(seed))  # so that there is something to stop
    recording = play(chart, heard, trading(4, seed=seed), bars=9)
    came = 4 * 5.25
    after = [beat_of(o) for o in line(recording) if beat_of(o) > came + 0.12]
    assert not [b for b in after if b < came + 1 + 2.0 - 0.1] and after, "and it goes on"
    on: set[int] = set()
    for o in sorted((o for o in recording.orders if o.part == "solo"), key=lambda o: (o.seconds, o.status)):
        if beat_of(o) > came + 0.2:
            break
        (on.add if o.status == 0x90 else on.discard)(o.data1)
    assert not on, "nothing of the line sounds under the player"


def test_chords_of_the_players_under_its_line_do_not_stop_it(stand: Any, chart: Any) -> None:
    chords = [h for at in (16.5, 19, 21.5, 24, 27) for m in (53, 57, 60) for h in stand.strike(START + at * BEAT, m)]
    plain = line(play(chart, phrases(stand, 1, 2, 3, 4), trading(), bars=9))
    comped = line(play(chart, [*phrases(stand, 1, 2, 3, 4), *chords], trading(), bars=9))
    assert len(comped) >= 0.7 * len(plain) > 8
    assert beat_of(comped[-1]) > 26


def test_its_own_chords_thin_out_under_its_line(stand: Any, chart: Any) -> None:
    both = [0, 0]
    for seed in range(4):
        recording = play(chart, phrases(stand, *OWN, notes=PHRASE[:3]), trading(seed=seed))
        for bar, count in [(int((beat_of(o) + 0.1) // 4) + 1, 1) for o in recording.orders if o.part == "chords"]:
            both[bar in OWN] += count
    assert both[0] < 0.8 * both[1]


def test_the_same_performance_and_seed_give_the_same_line_and_others_another(stand: Any, chart: Any) -> None:
    heard = phrases(stand, *OWN)
    one, again, other = (play(chart, heard, trading(seed=seed), bars=9) for seed in (1, 1, 2))
    assert one.orders == again.orders
    assert [o.data1 for o in line(one)] != [o.data1 for o in line(other)]


def test_nothing_to_come_changes_what_was_said(stand: Any, chart: Any) -> None:
    heard = phrases(stand, *OWN, 5.75, 15)
    whole = play(chart, heard, trading())
    for bars in (5.3, 7.1, 13.4):
        until = START + 4 * (bars - 1) * BEAT
        part = play(chart, [h for h in heard if h.seconds <= until], trading(), bars=1, tail=4 * (bars - 1))
        soon = until - 0.001
        given = [o for o in part.orders if o.seconds <= soon and o.status == 0x90]
        assert given == [o for o in whole.orders if o.seconds <= soon and o.status == 0x90]


def test_one_call_or_many_give_the_same_line(stand: Any, chart: Any) -> None:
    events = sorted(phrases(stand, *OWN, 6.25), key=lambda h: (h.seconds, h.status))
    end = START + 64 * BEAT
    once, often = Rehearsal(chart, trading()), Rehearsal(chart, trading())
    at_once = once.advance(end, events).orders
    piecemeal: list[Order] = []
    for n in range(1, 500):
        low, high = (n - 1) * end / 499, n * end / 499
        new = [e for e in events if low < e.seconds <= high]
        piecemeal += often.advance(high, new).orders
    assert tuple(piecemeal) == at_once


def test_the_head_is_not_traded(stand: Any) -> None:
    tune = replace(stand.tune(), events=(Event("head"), Event("solos", 2), Event("head"), Event("ending")))
    told = trading(you=frozenset({"melody"}), order="chart")
    turns = Trading(told, OrderOfEvents(tune.unfold(), told, tune))
    assert turns.turn(3.0) is None and turns.turn(3 * 64 + 3.0) is None
    assert [turns.ours(64 + 16 * n + 1.0) for n in range(8)] == [False, True] * 4
    solos = [turns.turn(64 + 16 * n + 1.0) for n in range(8)]
    assert [turn.number for turn in solos if turn] == list(range(8))


def test_a_form_that_is_no_multiple_of_the_turn_ends_with_a_short_one(stand: Any) -> None:
    chart = stand.chart(("| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 |", ""))
    turns = Trading(trading(), OrderOfEvents(chart.unfold(), trading(), chart))
    found = [turns.turn(4.0 * bar) for bar in range(12)]
    assert [(t.start, t.end) for t in found if t][::2] == [(0, 16), (0, 16), (16, 24), (24, 40), (24, 40), (40, 48)]
    assert [t.ours for t in found if t] == [False] * 4 + [True] * 2 + [False] * 4 + [True] * 2


# Turns and moments exactly on a limit: quarters at 60 a minute, so that beats are seconds


@pytest.fixture
def fours(chart: Any) -> Trading:
    """Fours over sixteen bars: the companion's are beats 16 to 32 and 48 to 64."""
    return Trading(trading(), OrderOfEvents(chart.unfold(), trading(), chart))


@pytest.mark.parametrize(
    ("beat", "number", "start", "end"),
    [
        (0, 0, 0, 16),
        (15.99, 0, 0, 16),
        (16, 1, 16, 32),
        (32, 2, 32, 48),
        (63.9, 3, 48, 64),
        (64, 4, 64, 80),
        (80, 5, 80, 96),
    ],
)
def test_a_turn_begins_with_its_first_beat_and_they_go_on_through_the_choruses(
    fours: Trading, beat: float, number: int, start: float, end: float
) -> None:
    turn = fours.turn(beat)
    assert turn and (turn.number, turn.start, turn.end, turn.ours) == (number, start, end, number % 2 == 1)
    assert fours.is_silent(int(beat // 64) + 1, beat % 64) == turn.ours == fours.ours(beat)


@pytest.mark.parametrize("bars", [16, 99])
def test_who_trades_choruses_is_silent_in_every_second_one(chart: Any, bars: int) -> None:
    turns = Trading(trading(bars), OrderOfEvents(chart.unfold(), trading(bars), chart))
    assert [turns.is_silent(number, beat) for number in (1, 2, 3) for beat in (0.0, 63.0)] == [
        False, False, True, True, False, False
    ]  # fmt: skip
    assert turns.holds_back(1.0) is False, "nothing was struck yet"


def test_nobody_trades_in_the_count_in_or_unless_that_was_asked(fours: Trading, chart: Any) -> None:
    assert fours.turn(-1.0) is None and not fours.ours(-1.0)
    alone = trading(0)
    assert Trading(alone, OrderOfEvents(chart.unfold(), alone, chart)).turn(20.0) is None


def speaks(fours: Trading, beat: float) -> bool:
    """Whether the companion has something to say as a beat is sounded."""
    return bool(fours.line(beat, beat, 1.0)[0])


@pytest.mark.parametrize(("last", "begins"), [(15.2, True), (15.3, True), (15.31, False), (16.0, False)])
def test_it_begins_when_the_player_has_been_silent_for_long_enough(fours: Trading, last: float, begins: bool) -> None:
    fours.key_down(last, last, 72)
    assert speaks(fours, 16.0) == begins
    assert not speaks(fours, 32.0), "their turn"


@pytest.mark.parametrize(("beat", "begins"), [(28.0, True), (29.0, True), (29.5, False), (31.0, False)])
def test_it_begins_late_only_while_there_are_three_beats_to_speak_in(fours: Trading, beat: float, begins: bool) -> None:
    fours.key_down(16.0, 16.0, 72)
    assert not speaks(fours, 16.0)
    assert speaks(fours, beat) == begins


@pytest.mark.parametrize(("later", "over"), [(0.04, False), (0.05, True), (1.0, True)])
def test_a_key_is_known_for_a_line_when_no_chord_can_come_of_it_any_more(
    fours: Trading, later: float, over: bool
) -> None:
    assert speaks(fours, 16.0)
    fours.key_down(18.0, 18.0, 72)
    assert fours.next_moment(18.0) == pytest.approx(18.05)
    assert fours.holds_back(18.0 + later) != over
    assert fours.comes_in(18.0 + later) == over


@pytest.mark.parametrize(("keys", "over"), [(1, True), (2, True), (3, False), (4, False)])
def test_three_keys_at_once_are_an_accompaniment_and_two_a_line(fours: Trading, keys: int, over: bool) -> None:
    assert speaks(fours, 16.0)
    for n in range(keys):
        fours.key_down(18.0 + 0.01 * n, 18.0, 60 + 4 * n)
    assert fours.comes_in(19.0) == over


@pytest.mark.parametrize(("beat", "goes_on"), [(19.0, False), (20.0, True), (21.0, True)])
def test_whoever_came_in_has_two_beats_to_go_on_in(fours: Trading, beat: float, goes_on: bool) -> None:
    assert speaks(fours, 16.0)
    fours.key_down(18.0, 18.0, 72)
    assert fours.comes_in(18.5)
    assert speaks(fours, beat) == goes_on


def test_what_comes_next_is_thought_of_halfway_there(fours: Trading) -> None:
    assert not speaks(fours, 14.0) and fours.next_moment(14.0) is None
    assert not speaks(fours, 15.0) and fours.next_moment(15.0) == 15.5
    fours.think(15.4)
    assert fours.next_moment(15.4) == 15.5
    fours.think(15.5)
    assert fours.next_moment(15.5) is None


@pytest.fixture
def eights(chart: Any) -> Trading:
    """Eights over sixteen bars: the companion's are beats 32 to 64."""
    return Trading(trading(8), OrderOfEvents(chart.unfold(), trading(8), chart))


def lines_through(turns: Trading, first: int, last: int) -> dict[float, tuple[float, float]]:
    """From which beat on there is another line, and where that begins and ends, in chart beats."""
    found: dict[float, tuple[float, float]] = {}
    before: Sequence[Any] = ()
    for beat in map(float, range(first, last)):
        line, _ = turns.line(beat, beat, 1.0)
        if line and line is not before:
            found[beat] = float(line[0].beat), float(line[-1].beat)
        before = line
    return found


@pytest.mark.parametrize(("begins", "goes_on"), [(32, 48), (34, 48), (36, 52), (37, 52), (44, 60), (52, None)])
def test_a_line_is_made_up_for_four_bars_and_goes_on_with_the_next(
    eights: Trading, begins: int, goes_on: int | None
) -> None:
    if begins > 32:  # they have played on until then
        eights.key_down(begins - 0.8, begins - 0.8, 72)
    found = lines_through(eights, begins - 1 if begins > 32 else 20, 66)
    assert list(found) == [begins] + ([goes_on] if goes_on else [])
    ends = goes_on or 64
    assert begins <= found[begins][0] < found[begins][1] < ends
    if goes_on:
        assert goes_on - 1 <= found[goes_on][0] < found[goes_on][1] < 64


def test_the_second_half_of_a_turn_is_thought_of_ahead_as_well_and_nothing_else(eights: Trading) -> None:
    ahead = {}
    for beat in map(float, range(28, 68)):
        eights.line(beat, beat, 1.0)
        if (moment := eights.next_moment(beat)) is not None:
            ahead[beat] = moment
            eights.think(moment)
    assert ahead == {31.0: 31.5, 47.0: 47.5}
    quick = Trading(eights.settings, eights.tune)
    quick.line(15.5, 31.0, 2.0)
    assert quick.next_moment(15.5) == 15.75, "half a beat, at twice the tempo"


def test_what_was_thought_of_ahead_is_what_is_said(chart: Any) -> None:
    thought, at_once = (Trading(trading(), OrderOfEvents(chart.unfold(), trading(), chart)) for _ in range(2))
    for turns in (thought, at_once):
        turns.key_down(14.0, 14.0, 72)
    thought.line(15.0, 15.0, 1.0)
    thought.think(15.5)
    made = thought._made
    said = thought.line(16.0, 16.0, 1.0)
    assert made is not None and said[0] is made[1] and said == at_once.line(16.0, 16.0, 1.0)


@pytest.mark.parametrize(
    ("keys", "beat", "answered"),
    [
        # Of a chord the top; since the last turn and the beat before that ended; no more than is known by now.
        ([(3.0, 60), (3.04, 64), (7.5, 67), (14.9, 71)], 16.0, [(3.0, 64), (7.5, 67), (14.9, 71)]),
        ([(30.9, 60), (31.0, 62), (47.9, 64)], 48.0, [(31.0, 62), (47.9, 64)]),
        ([(47.0, 60), (48.0, 62), (48.5, 64)], 48.0, [(47.0, 60), (48.0, 62)]),
    ],
)  # fmt: skip
def test_what_the_companion_takes_up_is_what_was_said_since_its_last_turn(
    fours: Trading, keys: list[tuple[float, int]], beat: float, answered: list[tuple[float, int]]
) -> None:
    for at, midi in keys:
        fours.key_down(at, at, midi)
    turn = fours.turn(beat)
    assert turn is not None and list(fours._answered(turn, beat)) == answered


def test_in_the_second_chorus_a_line_lies_over_its_own_bars_and_goes_on_from_the_last_note(fours: Trading) -> None:
    first, zero = fours.line(16.0, 16.0, 1.0)
    assert zero == 0.0 and 16 <= first[0].beat < first[-1].beat < 32 and fours._last == first[-1].midi
    fours.line(32.0, 32.0, 1.0)
    later, zero = fours.line(80.0, 80.0, 1.0)
    assert zero == 64.0 and 16 <= later[0].beat < later[-1].beat < 32
    assert [n.midi for n in later] != [n.midi for n in first]


@pytest.mark.parametrize(("apart", "groups"), [(0.05, 1), (0.051, 2)])
def test_keys_within_a_twentieth_of_a_second_are_one_chord(fours: Trading, apart: float, groups: int) -> None:
    fours.key_down(0.0, 10.0, 60)
    fours.key_down(apart, 10.1, 64)
    assert len(fours._struck) == groups


def test_what_goes_on_answers_nothing_more(eights: Trading) -> None:
    """Four bars are made up at once; what follows them in a turn goes on from there."""
    eights.key_down(30.0, 30.0, 72)
    assert eights.line(32.0, 32.0, 1.0)[0]
    assert eights._made is not None and eights._made[0] == (32.0, 1, None, ((30.0, 72),))
    first = eights._made[1]
    assert eights.line(47.0, 47.0, 1.0)[0] is first and eights.line(48.0, 48.0, 1.0)[0] is not first
    assert eights._made[0] == (48.0, 1, first[-1].midi, ())


def test_in_the_next_turn_it_speaks_as_soon_as_ever_though_they_came_in_on_the_last(fours: Trading) -> None:
    assert speaks(fours, 16.0)
    fours.key_down(18.0, 18.0, 72)
    assert fours.comes_in(18.5) and not speaks(fours, 19.0)
    fours.key_down(47.2, 47.2, 72)
    assert speaks(fours, 48.0), "seven tenths of a beat are enough at the beginning of a turn"
    assert fours.line(1.0, 1.0, 1.0) == ((), 0.0)


def test_only_the_key_struck_last_is_waited_for(fours: Trading) -> None:
    for at in (1.0, 5.0):
        fours.key_down(at, at, 72)
    assert fours.holds_back(5.01) and not fours.holds_back(5.06)


def test_a_turn_of_two_beats_is_taken_on_time(stand: Any) -> None:
    chart = stand.chart(("| C6 | F6 | G7 | C6 |", ""), metre="2/4", feel="straight")
    turns = Trading(trading(1), OrderOfEvents(chart.unfold(), trading(1), chart))
    assert [speaks(turns, beat) for beat in (0.0, 1.0, 2.0)] == [False, False, True]
    turns.key_down(2.5, 2.5, 72)
    assert turns.comes_in(2.6) and not speaks(turns, 3.0)


def test_who_came_in_is_taken_up_however_late_it_goes_on(eights: Trading) -> None:
    """In the second half of the turn as in the first: what they said is there to be answered."""
    assert eights.line(32.0, 32.0, 1.0)[0]
    eights.key_down(46.0, 46.0, 72)
    assert eights.comes_in(46.5)
    assert not eights.line(47.0, 47.0, 1.0)[0] and eights.line(50.0, 50.0, 1.0)[0]
    assert eights._made is not None and (46.0, 72) in eights._made[0][3]  # type: ignore[index]


def test_a_line_is_made_of_its_own_bars_of_what_was_heard_and_of_the_note_before(fours: Trading) -> None:
    """The second turn has the lot of a second chorus, the sixth that of a sixth; places are those of the chart."""
    form, seed = fours.tune.form, fours.settings.seed
    first = improvised_line(form, start=Fraction(16), end=Fraction(32), heard=(), last=None, chorus=2, seed=seed)
    assert fours.line(16.0, 16.0, 1.0)[0] == first
    fours.line(64.0, 64.0, 1.0)
    for at, midi in ((62.0, 60), (70.0, 67), (78.0, 71)):
        fours.key_down(at, at, midi)
    second = improvised_line(
        form, start=Fraction(16), end=Fraction(32), heard=((6.0, 67), (14.0, 71)), last=first[-1].midi, chorus=6,
        seed=seed,
    )  # fmt: skip
    assert fours.line(80.0, 80.0, 1.0)[0] == second
    assert fours._made is not None and fours._made[0][3] == ((6.0, 67), (14.0, 71))  # type: ignore[index]


@pytest.mark.parametrize(("last", "begins"), [(7.6, True), (7.65, True), (7.7, False)])
def test_how_long_they_have_been_silent_is_counted_in_beats(fours: Trading, last: float, begins: bool) -> None:
    """At two beats a second a third of a second is seven tenths of a beat."""
    fours.key_down(last, 2 * last, 72)
    assert bool(fours.line(8.0, 16.0, 2.0)[0]) == begins


def test_a_key_struck_as_the_line_begins_is_no_coming_in(fours: Trading) -> None:
    assert speaks(fours, 16.0)
    fours.key_down(16.0, 16.0, 72)
    assert not fours.comes_in(17.0)
    fours.key_down(17.5, 17.5, 72)
    assert fours.comes_in(18.0) and not fours.comes_in(18.5), "once"


def test_in_six_eight_a_turn_is_thought_of_half_a_dotted_quarter_ahead(stand: Any) -> None:
    chart = stand.chart((CHANGES, ""), metre="6/8", feel="straight")
    turns = Trading(trading(), OrderOfEvents(chart.unfold(), trading(), chart))
    assert not turns.line(9.0, 9.0, 1.0)[0] and turns.next_moment(9.0) is None
    assert not turns.line(10.5, 10.5, 1.0)[0] and turns.next_moment(10.5) == 11.25
    assert turns.line(12.0, 12.0, 1.0)[0]
