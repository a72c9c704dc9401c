"""A section treated otherwise while one plays: from the next bar line on, nothing left sounding, the same replayed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from companion.messages import Order, Treated, Wish
from companion.stage.from_the_top import FromTheTop
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

if TYPE_CHECKING:
    from tests.conftest import Stand

START, TEMPO = 2.0, 120.0
BAR = 4 * 60 / TEMPO
COUNTED = Settings(tempo=TEMPO, start=START, time="steady", treatment=None)


def played(stand: Stand, *wishes: Wish, end: float, settings: Settings = COUNTED, **head: Any) -> Recording:
    chart = stand.tune(**head)
    melody = [h for h in stand.melody(chart, (START, 0, 128, TEMPO)) if h.seconds < end]
    events = sorted([*melody, *wishes], key=lambda event: event.seconds)
    return replay(chart, events, settings, until=end)


def struck(recording: Recording, part: str, first_bar: int, last_bar: int) -> list[tuple[float, int]]:
    """What begins in some bars of the first chorus, 1 = its first; 30 ms of the downbeat's stroke belong to it."""
    low, high = START + (first_bar - 1) * BAR - 0.03, START + last_bar * BAR - 0.03
    orders = [o for o in recording.orders if o.part == part and o.status == 0x90 and low <= o.seconds < high]
    return [(round(o.seconds, 3), o.data1) for o in orders]


def wish(bar: float, section: str, treatment: str) -> Wish:
    return Wish(START + (bar - 1) * BAR, "treatment", [section, treatment])


def left_on(orders: tuple[Order, ...]) -> set[tuple[str, int]]:
    on: set[tuple[str, int]] = set()
    for order in sorted(orders, key=lambda o: (o.seconds, o.status)):
        on = on | {(order.part, order.data1)} if order.status == 0x90 else on - {(order.part, order.data1)}
    return on


def test_what_is_wished_in_a_bar_is_heard_from_the_next_bar_line_and_not_before(stand: Stand) -> None:
    end = START + 8 * BAR
    before, after = played(stand, end=end), played(stand, wish(3.4, "A", "pedal"), end=end)
    for part in ("bass", "chords"):
        assert struck(after, part, 1, 3) == struck(before, part, 1, 3)
    assert struck(after, "bass", 4, 7) != struck(before, "bass", 4, 7)
    (told,) = [r for r in after.reports if isinstance(r, Treated)]
    assert told.sections == (("A", "pedal"),) and told.seconds == pytest.approx(START + 3 * BAR, abs=0.03)
    pitches = {midi % 12 for _, midi in struck(after, "bass", 4, 7)}
    assert len(pitches) == 1, "a pedal stays on its note (common practice)"
    assert left_on(after.orders) == set()


def test_another_section_is_treated_so_when_it_comes_and_every_time_after(stand: Stand) -> None:
    before = played(stand, end=START + 7 * BAR)
    after = played(stand, wish(2.2, "B", "pedal"), end=START + 28 * BAR)
    assert struck(after, "bass", 1, 7) == struck(before, "bass", 1, 7), "A stays, but for the bar that leads on"
    for first in (10, 26):
        assert len({midi % 12 for _, midi in struck(after, "bass", first, first + 1)}) == 1
    assert len({midi % 12 for _, midi in struck(after, "bass", 17, 23)}) > 3


def test_it_holds_under_one_treatment_for_the_whole_form_and_after_beginning_again(stand: Stand) -> None:
    again = Wish(START + 4.5 * BAR, "again")
    end = again.seconds + 1.5 + 9 * BAR
    settings = replace(COUNTED, treatment="walking", count_in=1)
    recording = played(stand, wish(2.2, "A", "pedal"), again, end=end, settings=settings)
    late = [o for o in recording.orders if o.part == "bass" and o.status == 0x90 and again.seconds + BAR < o.seconds]
    assert len(late) > 4 and len({o.data1 % 12 for o in late if o.seconds < again.seconds + 8 * BAR}) == 1
    assert left_on(recording.orders) == set()


@pytest.mark.parametrize("value", [None, "B", ["Z", "pedal"], ["B", "no such"], [1, 2], ["A", "pedal", 3]])
def test_what_there_isnt_changes_nothing(stand: Stand, value: Any) -> None:
    end = START + 3 * BAR
    asked = Wish(START + BAR, "treatment", value)
    assert played(stand, asked, end=end).orders == played(stand, end=end).orders
    assert FromTheTop(stand.tune(), COUNTED).prepare_treatment(asked) is None


def test_arranged_ahead_it_is_what_it_is_arranged_when_it_comes(stand: Stand) -> None:
    chart, asked = stand.tune(), wish(1.5, "A", "pedal")

    def run(ahead: bool) -> list[Order]:
        rehearsal, orders = FromTheTop(chart, COUNTED), []
        if ahead:
            work = rehearsal.prepare_treatment(asked)
            assert work is not None
            rehearsal.adopt(work())
        for now, events in ((asked.seconds, [asked]), (START + 4 * BAR, [])):
            orders += rehearsal.advance(now, events).orders
        return orders

    assert run(ahead=True) == run(ahead=False)
