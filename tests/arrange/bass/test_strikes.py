"""Where the bass strikes: ways through bars of any length, which of them comes next, and quavers in a walk."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.arrange.bass.strikes import (
    BassStrike,
    _changes,
    _Dealing,
    _dealt,
    _leads,
    _lilting,
    _number,
    _told,
    _walked_bars,
    bass_strikes,
)
from companion.chart.model import Form
from companion.music.meter import Metre
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences, Pattern, Role, Way

Composer = Callable[..., Form]
BASS = preferences(BassPreferences)
F = Fraction


class Dealer(random.Random):
    """Deals what it is told, and keeps what it was offered; ``fallen`` is what its dice show."""

    def __init__(self, *told: object, fallen: float = 0.0):
        super().__init__(0)
        self.told, self.fallen = list(told), fallen
        self.offered: list[tuple[list[Any], list[float] | None]] = []

    def random(self) -> float:
        return self.fallen

    def choices(self, population: Sequence[Any], weights: Sequence[float] | None = None, **_: Any) -> list[Any]:
        self.offered.append((list(population), None if weights is None else list(weights)))
        return [self.told.pop(0)]

    def choice(self, seq: Sequence[Any]) -> Any:
        self.offered.append((list(seq), None))
        return self.told.pop(0)


def way(text: str, share: float = 1.0, *, ends: bool = False) -> Way:
    """From places and roles such as ``0:root 2:fifth``."""
    words = [word.split(":") for word in text.split()]
    return Way(tuple((float(at), role) for at, role in words), share, ends)  # type: ignore[misc]


def dealing(metre: str = "4/4", *, one_note: bool = False, **ways: str) -> _Dealing:
    """Of a pattern with one way for some lengths, named ``q4`` and the like."""
    known = {name.removeprefix("q").replace("_", "."): (way(text),) for name, text in ways.items()}
    upper, lower = map(int, metre.split("/"))
    return _Dealing(Pattern(known, one_note=one_note), Metre(upper, lower), 0.3, Dealer())


def told(found: Sequence[tuple[Fraction, Role]]) -> str:
    return " ".join(f"{at}:{role}" for at, role in found)


FOUR, THREE, TWO = "0:root 2:fifth", "0:root 2:lead", "0:root 1:fifth"


@pytest.mark.parametrize(
    ("length", "found"),
    [
        ("4", "0:root 2:fifth"),
        ("5", "0:root 2:lead 3:tone 4:fifth"),  # three and two: both are known
        ("6", "0:root 2:fifth 4:tone 5:fifth"),
        ("7", "0:root 2:fifth 4:tone 6:lead"),
        ("8", "0:root 2:fifth 4:tone 6:fifth"),
        ("9", "0:root 2:fifth 4:tone 6:lead 7:tone 8:fifth"),
        ("1", "0:root"),
        ("5/2", "0:root"),  # what is left must be a beat
        ("7/2", "0:root 1:fifth 2:tone"),
    ],
)
def test_a_bar_of_a_length_that_a_pattern_does_not_know_is_put_together(length: str, found: str) -> None:
    assert told(dealing(q4=FOUR, q3=THREE, q2=TWO).way(F(length))) == found


def test_a_bar_that_cannot_be_put_together_has_its_root_or_the_pedal() -> None:
    assert told(dealing(q4=FOUR).way(F(6))) == "0:root 2:fifth 4:tone"
    assert told(dealing(q4=FOUR).way(F(3))) == "0:root"
    assert told(dealing(q4="0:pedal", one_note=True).way(F(3))) == "0:pedal"
    assert told(dealing(q1="0:root 0.5:lead").way(F(3, 2))) == "0:root 1/2:lead", (
        "a bar below two quarters as far as it goes"
    )
    assert told(dealing(q1="0:root 0.5:lead").way(F(2))) == "0:root 1/2:lead 1:tone 3/2:lead"


def test_a_pattern_knows_a_bar_by_its_metre_or_its_dotted_beats() -> None:
    by_metre = Pattern({"6/8": (way("0:root 1.5:fifth"),), "2": (way("0:root 1.5:lead"),)})
    six = _Dealing(by_metre, Metre(6, 8), 0.3, Dealer())
    assert told(six.way(F(3))) == "0:root 3/2:fifth"
    lilting = dealing("6/8", q2="0:root 0.5:tone 1:fifth 1.5:lead", q3="0:pedal")
    assert told(lilting.way(F(3))) == "0:root 1:tone 3/2:fifth 5/2:lead", "between two beats on the last quaver"
    assert told(dealing("12/8", q4=FOUR).way(F(6))) == "0:root 3:fifth"
    assert told(dealing("3/4", q2=TWO, q3=THREE).way(F(3))) == "0:root 2:lead", "of a simple metre it is three"
    assert told(dealing("3/4", q1_5="0:root 1:lead").way(F(3, 2))) == "0:root 1:lead", "a quarter and a half"


def test_places_in_dotted_quarters_and_lengths_in_words() -> None:
    assert [_lilting(F(at)) for at in ("0", "1/2", "1", "3/2", "2", "3")] == [0, 1, F(3, 2), F(5, 2), 3, F(9, 2)]
    assert [_number(F(length)) for length in ("4", "3/2", "9/4")] == ["4", "1.5", "2.25"]
    assert told(dealing(q4="0:root 3.333:walk 3.667:lead").way(F(4))) == "0:root 10/3:walk 11/3:lead", "thirds"


def test_the_first_way_may_come_three_times_running_and_then_seldom_and_another_not_twice() -> None:
    ways = (way("0:root", 5), way("0:root 2:fifth", 2), way("0:root 2:tone", 2), way("0:root 3:lead", 1, ends=True))
    chance = Dealer(0, 0, 0, 0, 1, 2, 0)
    dealt = _Dealing(Pattern({"4": ways}), Metre(4, 4), 0.3, chance)
    assert [told(dealt.way(F(4))) for _ in range(7)] == [
        *["0:root"] * 4, "0:root 2:fifth", "0:root 2:tone", "0:root"
    ]  # fmt: skip
    assert [offered for offered, _ in chance.offered] == [[0, 1, 2]] * 4 + [[1, 2]] + [[0, 1, 2]] * 2
    weights = [found for _, found in chance.offered]
    assert weights == [
        [5, 2, 2], [5, 2, 2], [5, 2, 2], [pytest.approx(1.5), 2, 2], [2, 2], [5, pytest.approx(0.6), 2],
        [5, 2, pytest.approx(0.6)],
    ]  # fmt: skip
    assert told(dealt.way(F(4), closing=True)) == "0:root 3:lead", "where a phrase ends"
    alone = dealing(q4=FOUR)
    assert {told(alone.way(F(4), closing=n % 2 == 0)) for n in range(9)} == {FOUR}, "one alone comes always"


def test_a_pattern_that_is_kept_has_one_way_for_a_section_but_for_its_end() -> None:
    ways = (way("0:root", 5), way("0:root 2:fifth", 2), way("0:root 3:lead", ends=True))
    chance = Dealer(1, 0, 0, 0, 0, 0)
    dealt = _Dealing(Pattern({"4": ways}, keeps=True), Metre(4, 4), 0.3, chance, section="A")
    assert [told(dealt.way(F(4))) for _ in range(2)] == ["0:root 2:fifth"] * 2
    assert told(dealt.way(F(4), closing=True)) == "0:root 3:lead"
    dealt.section = "B"
    assert told(dealt.way(F(4))) == "0:root"
    dealt.section = "A"
    assert told(dealt.way(F(4))) == "0:root 2:fifth", "the same when it comes again"


def walked(form: Form) -> list[dict[str, object]]:
    """Of each bar: the beats without those bounds, in short words."""
    return [
        {
            "beats": " ".join(map(str, bar.beats)),
            "between": " ".join(map(str, bar.between)),
            "needed": {*bar.needed},
            "leads": {*bar.leads},
            "silent": {*bar.silent},
            "passing": " ".join(map(str, bar.passing)),
        }
        for bar in _walked_bars(BASS.quavers, BASS.shape, form, F(0), form.length)
    ]


def test_what_the_chords_ask_of_the_bars_of_a_walk(compose: Composer) -> None:
    first, second, third, last = walked(compose("C Eb F Gb | A | N.C. | F"))
    assert first == {
        "beats": "0 1 2 3", "between": "1/2 3/2 5/2 7/2", "needed": {0, 3}, "leads": {0, 1, 2, 3}, "silent": set(),
        "passing": "",
    }, "minor thirds don't lead, Eb F Gb does by step"  # fmt: skip
    assert (second["leads"], second["silent"], second["needed"]) == (set(), {3}, set())
    assert (third["leads"], third["silent"]) == ({3}, {0, 1, 2, 3})
    assert (last["leads"], last["beats"]) == ({3}, "12 13 14 15"), "the form begins again"
    gone = walked(compose("C C C C C C Dm F | F", tempo=100.0))[0]
    assert (gone["passing"], gone["needed"], gone["leads"]) == ("1/2 3/2 5/2 7/2", {3}, {2, 3})
    six = walked(compose("C Eb | F", metre="6/8", tempo=120.0))
    assert [(bar["beats"], bar["between"]) for bar in six] == [("0 3/2", "1 5/2"), ("3 9/2", "4 11/2")]


@pytest.mark.parametrize(
    ("tempo", "few", "fast", "places"),
    [(160, True, False, 2), (161, True, True, 2), (208, True, True, 2), (209, False, True, 2), (252, False, True, 2),
     (253, False, True, 0)],
)  # fmt: skip
def test_bars_of_two_beats_say_their_chord_with_quavers_while_the_hand_gets_there(
    compose: Composer, tempo: float, few: bool, fast: bool, places: int
) -> None:
    form = compose("C Eb | F", metre="2/4", tempo=tempo)
    bars = _walked_bars(BASS.quavers, BASS.shape, form, F(0), form.length)
    assert [(bar.few, bar.fast, len(bar.between), bar.tempo) for bar in bars] == [(few, fast, places, tempo)] * 2
    assert [bar.all_new for bar in bars] == [True, False]
    assert [(bar.phrase, bar.section) for bar in bars] == [(False, False), (True, True)]
    assert [{*bar.needed} for bar in bars] == [{0} if places else set(), set()]
    three = compose("C | F", metre="3/4", tempo=100.0)
    assert not any(bar.few for bar in _walked_bars(BASS.quavers, BASS.shape, three, F(0), three.length))


def test_after_which_beats_a_quaver_is_struck(compose: Composer) -> None:
    form = compose("C Eb F Gb | A", tempo=140.0)
    bar = replace(_walked_bars(BASS.quavers, BASS.shape, form, F(0), form.length)[0], needed=frozenset())
    few = replace(bar, few=True, needed=frozenset({1}))
    chance = Dealer((0,), (3,))
    assert _dealt(BASS.quavers, few, False, chance) == {0, 1}
    assert _dealt(BASS.quavers, replace(few, fast=True), False, chance) == {1, 3}
    assert chance.offered == [
        ([(0,), (3,), range(4)], [0.3, 0.4, 0.3]), ([(0,), (3,)], [0.3, 0.4])
    ], "after the first, the last, or each; not each where it is fast"  # fmt: skip
    assert _dealt(BASS.quavers, bar, False, Dealer(2, fallen=0.99)) == {2}, "a bar of roots has one"
    assert _dealt(BASS.quavers, bar, True, Dealer(2, fallen=0.4)) == set(), "but for those that may stand alone"
    assert _dealt(BASS.quavers, bar, True, Dealer(2, fallen=0.39)) == {2}
    led = replace(bar, needed=frozenset({0}))
    assert _dealt(BASS.quavers, led, False, Dealer(2, fallen=0.4)) == {0}
    assert _dealt(BASS.quavers, led, False, Dealer(2, fallen=0.39)) == {0, 2}
    assert _dealt(BASS.quavers, replace(bar, all_new=False), False, Dealer(2)) == set()
    assert _dealt(BASS.quavers, replace(few, between=()), False, Dealer((0,))) == {1}


def test_a_bass_leads_by_itself_by_step_or_by_a_fifth_either_way(compose: Composer) -> None:
    roots = ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
    leads = [name for name in roots if _leads(compose(f"C {name}"), F(0), F(2))]
    assert leads == ["Db", "D", "F", "G", "Bb", "B"]


def test_where_another_chord_begins_and_which_bar_lines_were_said_ahead(compose: Composer) -> None:
    form = compose("C | C | F G | C")
    assert _changes(form, F(0), F(16)) == [8, 10, 12]
    assert _changes(form, F(8), F(12)) == [8, 10]
    bars = [(F(0), F(4)), (F(4), F(8)), (F(12), F(16))]
    assert _told(form, bars, {F(3): "ahead", F(7): "lead", F(8): "ahead", F(15): "ahead"}) == {4, 0}
    assert _told(form, bars, {F(4): "ahead"}) == {8}


def test_a_chord_between_two_strikes_of_a_pattern_gets_its_root(compose: Composer) -> None:
    form = compose("C F | G | C")
    found = bass_strikes(BASS, form, ((F(0), form.length, "roots"),), Dealer())
    assert found == tuple(BassStrike(F(beat), "root", "roots") for beat in (0, 2, 4, 8))
    halves = bass_strikes(BASS, form, ((F(0), F(4), "roots"), (F(4), F(12), "pedal")), Dealer(0, 0))
    assert [(one.beat, one.role, one.pattern) for one in halves] == [
        (0, "root", "roots"), (2, "root", "roots"), (4, "pedal", "pedal"), (8, "pedal", "pedal")
    ]  # fmt: skip
