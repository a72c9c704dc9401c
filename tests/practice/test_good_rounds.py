"""What a good round is: faults make it bad and are named by their bars; good playing is called good."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.plan import filled
from companion.arrange.request import Request
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.write import write_toml
from companion.messages import Heard
from companion.practice.good_rounds import judge_round
from companion.practice.passage import Excerpt
from companion.practice.request import Said
from companion.practice.rounds import RoundPlayed, Verdict
from companion.preferences.drills import GoodRules
from companion.stage.settings import TIMES, Time
from tests.practice.conftest import RoundPlayer, Slips, drilled

BARS = (9, 12)


def verdict(chart: Chart, player: RoundPlayer, slips: Slips, time: Time = "follow", tempo: float = 100) -> Verdict:
    """What is said of one round."""
    said = Said(you=frozenset({"melody"}), start=tempo, goal=tempo, time=time)
    drill = drilled(chart, BARS, lambda told: player.plays(told, slips), said=said, rounds=1)
    found = drill.rounds[0].verdict
    assert found is not None
    return found


@pytest.mark.parametrize("time", TIMES)
@pytest.mark.parametrize("tempo", [40, 100, 220])
def test_a_clean_round_is_called_clean(ferry: Chart, time: Time, tempo: float) -> None:
    for seed in (1, 2):
        found = verdict(ferry, RoundPlayer(seed, touch=0.012), Slips(), time, tempo)
        assert (found.good, found.why) == (True, "clean")
        assert found.counts() == {"right": 11, "wrong": 0, "missing": 0, "extra": 0}


@pytest.mark.parametrize("time", TIMES)
@pytest.mark.parametrize(
    ("slips", "said"),
    [
        (Slips(wrong=frozenset({4})), r"^bar 10: \S+, not \S+$"),
        (Slips(missing=frozenset({4})), r"^bar 10: \S+ missed$"),
        (Slips(hesitates={4: 0.9}), r"^bar 10: hesitated for (0\.[89]|1\.0) s$"),
        (Slips(hesitates={0: 0.9}), r"^bar 9: hesitated"),
    ],
    ids=["a wrong note", "a missing note", "a hesitation", "a hesitation at the entrance"],
)
def test_a_fault_makes_it_bad_and_is_named_by_its_bar(
    ferry: Chart, round_player: RoundPlayer, time: Time, slips: Slips, said: str
) -> None:
    found = verdict(ferry, round_player, slips, time)
    assert not found.good
    assert re.search(said, found.why), found.why


def test_a_note_that_falls_off_its_beat_is_late_by_as_much(ferry: Chart, round_player: RoundPlayer) -> None:
    found = verdict(ferry, round_player, Slips(hesitates={5: 0.15, 6: -0.15}))
    assert not found.good
    assert "late by 1" in found.why


def test_who_lets_the_tempo_go_hears_how_slow_it_became(ferry: Chart, round_player: RoundPlayer) -> None:
    found = verdict(ferry, round_player, Slips(slower=0.85))
    assert not found.good
    assert "slowed to 8" in found.why


def test_whoever_goes_back_and_plays_it_right_has_all_notes_right_and_no_good_round(
    ferry: Chart, round_player: RoundPlayer
) -> None:
    def plays(told: RoundPlayed) -> list[Heard]:
        notes = round_player.plays(told)
        quarter = 60 / told.tempo
        cut = told.start + 6 * quarter
        back = 4 * quarter  # from the sixth beat of the passage to the second again
        first = [note for note in notes if note.seconds < cut]
        again = [replace(n, seconds=n.seconds + back) for n in notes if n.seconds >= cut - back]
        return [*first, *again]

    said = Said(you=frozenset({"melody"}), start=100, goal=100)
    found = drilled(ferry, BARS, plays, said=said, rounds=1).rounds[0].verdict
    assert found is not None and not found.good


def test_no_more_than_three_faults_are_told(ferry: Chart, round_player: RoundPlayer) -> None:
    found = verdict(ferry, round_player, Slips(wrong=frozenset(range(0, 11, 2))))
    assert found.why.count(";") == 3
    assert found.why.endswith("and 3 more")


def walks(told: RoundPlayed, leave_out: int | None = None, wrong: int | None = None) -> list[Heard]:
    """A walking bass of the companion's own, played by the player; without one bar, or with a note from outside."""
    form = told.passage.chart.unfold()
    quarter = 60 / told.tempo
    zero = told.start - float(told.passage.way_in) * quarter
    heard = []
    for number, note in enumerate(filled(form.free, "bass", Request(treatment="walking"))):
        if form.bar_at(max(note.beat, form.bars[0])) == leave_out:
            continue
        midi = note.midi
        if number == wrong:
            chord = form.chord_at(note.beat).chord
            midi = next(m for m in range(40, 52) if (m - chord.bass_name.pc) % 12 == 1)
        heard += [Heard(zero + float(note.beat) * quarter, 0x90, midi, 70)]
        heard += [Heard(zero + float(note.beat + note.length) * quarter - 0.02, 0x80, midi, 0)]
    return sorted(heard, key=lambda event: (event.seconds, event.status))


@pytest.mark.parametrize(
    ("leave_out", "wrong", "said"),
    [(None, None, "clean"), (3, None, "bar 10: nothing played"), (None, 8, "no note of the chord")],
)
def test_a_free_bass_is_good_if_it_fits_the_chords_and_leaves_no_bar_out(
    ferry: Chart, leave_out: int | None, wrong: int | None, said: str
) -> None:
    asked = Said(you=frozenset({"bass"}), start=100, goal=100)
    drill = drilled(ferry, BARS, lambda told: walks(told, leave_out, wrong), said=asked, rounds=1)
    found = drill.rounds[0].verdict
    assert found is not None
    assert said in found.why
    assert found.good is (said == "clean")


@pytest.mark.parametrize(
    ("early", "said"),
    [(0.0, "clean; without the click the beat held"), (0.06, r"clean; without the click [56]\d ms early")],
)
def test_it_is_told_whether_the_beat_held_while_the_click_was_away(
    ferry: Chart, round_player: RoundPlayer, early: float, said: str
) -> None:
    def plays(told: RoundPlayed) -> list[Heard]:
        alone = told.start + 8 * 60 / told.tempo  # two bars with the click, two without
        notes = round_player.plays(told)
        return [replace(n, seconds=n.seconds - (early if n.seconds > alone - 0.2 else 0.0)) for n in notes]

    asked = Said(you=frozenset({"melody"}), start=100, goal=100, time="steady", click="away-2")
    found = drilled(ferry, BARS, plays, said=asked, rounds=1).rounds[0].verdict
    assert found is not None and found.good
    assert re.fullmatch(said, found.why), found.why


# Rounds of which everything is known, note by note and beat by beat


SCALE = parse_toml("""
format = 1
title = "Up the Stairs"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 | C6 |"
melody = "| C2 E2 G2 c2 | C2 D2 E2 F2 | G2 A2 B2 c2 | d2 e2 f2 g2 | a2 b2 c'2 d'2 |"
""")
"""A bar that leads in, and four bars with a note on each beat."""
PITCHES = [note.pitch.midi for note in SCALE.unfold().melody]
RULES = GoodRules(
    wrong=0, missing=0, extra=0, late_ms=90, late=0.12, spread_ms=45, hesitation=0.35, hesitation_beats=0.4, tempo=0.92
)
LENIENT = replace(RULES, wrong=99, missing=99, extra=99)
Keys = list[tuple[float, int]]


def keys(
    *, late: dict[int, float] | None = None, since: dict[int, float] | None = None, off: dict[int, int] | None = None,
    without: Collection[int] = (), tempo: float = 120.0,
) -> Keys:  # fmt: skip
    """Twenty notes, by number: late by themselves, or with all that follows, other keys, or not there."""
    found, shift = [], 0.0
    for n, pitch in enumerate(PITCHES):
        shift += (since or {}).get(n, 0.0)
        if n not in without:
            found.append((5.0 + (n - 4) * 60 / tempo + shift + (late or {}).get(n, 0.0), pitch + (off or {}).get(n, 0)))
    return found


def judged(
    played: Keys,
    time: Time = "steady",
    rules: GoodRules = RULES,
    *,
    beats: Sequence[tuple[float, float]] | None = None,
    tempo: float = 120.0,
    end: float | None = None,
    click: str = "",
    chart: Chart = SCALE,
) -> Verdict:
    """What is said of bars 9 to 12, whose first downbeat is due 5 s after the clock's zero."""
    quarter = 60 / tempo
    zero = 5.0 - 4 * quarter
    round_ = RoundPlayed(
        number=1, bars=(9, 12), you=frozenset({"melody"}), key="C", tempo=tempo,
        passage=Excerpt(chart, (9, 12), Fraction(32), Fraction(4)), first_click=zero - 4 * quarter, start=5.0,
        withheld="companion", end=end, heard=[Heard(at, 0x90, key, 70) for at, key in sorted(played)],
        beats=list(beats if beats is not None else [(float(n), zero + n * quarter) for n in range(20)]),
    )  # fmt: skip
    return judge_round(round_, time, rules, click)


@pytest.mark.parametrize(
    ("played", "why"),
    [
        (keys(), "clean"),
        (keys(off={4: 1}), "bar 9: D♭, not C"),
        (keys(off={19: -1}), "bar 12: D♭, not D"),
        (keys(without=[7]), "bar 9: F missed"),
        (keys(without=[8]), "bar 10: G missed"),
        (keys(off={0: 1, 3: 1}), "clean"),  # the way in is not judged
        ([*keys(), (5.25, 90)], "bar 9: F♯ too many"),
        ([*keys(), (4.89, 90)], "bar 8: F♯ too many"),  # just before the passage, and so of it
        ([*keys(), (4.875, 90)], "bar 8: F♯ too many"),
        ([*keys(), (4.86, 90)], "clean"),  # more than a quarter of a beat before it: the way in's
        (keys(late={9: 0.089}), "clean"),
        (keys(late={9: 0.091}), "bar 10: late by 91 ms"),
        (keys(late={9: -0.089}), "clean"),
        (keys(late={9: -0.091}), "bar 10: early by 91 ms"),
        (keys(late={4: 0.12}), "bar 9: late by 120 ms"),
        (keys(late={3: 0.12}), "clean"),
        (keys(late={n: 0.044 * (-1) ** n for n in range(20)}), "clean"),
        (keys(late={n: 0.046 * (-1) ** n for n in range(20)}), "bar 9: uneven, by 46 ms"),
        (keys(late={n: 0.08 * (-1) ** n for n in range(20)}, off={5: 1}), "bar 9: E♭, not D; uneven, by 80 ms"),
        (keys(since={12: 0.34}), "; ".join(f"bar {bar}: late by 340 ms" for bar in (11,))),
        (keys(since={12: 0.36}), "bar 11: hesitated for 0.4 s"),
        (keys(since={4: 0.36}), "bar 9: hesitated for 0.4 s"),
        (keys(since={4: 0.36}, without=range(4)), "bar 9: hesitated for 0.4 s"),  # against the count-in
        (keys(off={4: 1, 8: 1, 12: 1}), "bar 9: D♭, not C; bar 10: A♭, not G; bar 11: E♭, not D"),
        (keys(off={4: 1, 8: 1, 12: 1, 16: 1}),
         "bar 9: D♭, not C; bar 10: A♭, not G; bar 11: E♭, not D; and 1 more"),
        (keys(off={4: 1, 5: 1, 8: 1}), "bar 9: D♭, not C; E♭, not D; bar 10: A♭, not G"),
    ],
)  # fmt: skip
def test_what_is_said_of_a_round_to_a_steady_click(played: Keys, why: str) -> None:
    found = judged(played)
    assert found.why.split("; late by")[0] == why
    assert found.good is (why == "clean")


@pytest.mark.parametrize(
    ("rules", "played", "good"),
    [
        (replace(RULES, wrong=1), keys(off={5: 1}), True),
        (replace(RULES, wrong=1), keys(off={5: 1, 9: 1}), False),
        (replace(RULES, missing=1), keys(without=[5]), True),
        (replace(RULES, missing=1), keys(without=[5, 9]), False),
        (replace(RULES, extra=1), [*keys(), (5.25, 90)], True),
        (replace(RULES, extra=1), [*keys(), (5.25, 90), (6.25, 90)], False),
        (LENIENT, keys(late={n: 0.06 * (-1) ** n for n in range(20)}, without=range(9, 20)), False),
        (LENIENT, keys(late={n: 0.06 * (-1) ** n for n in range(20)}, without=range(8, 20)), True),  # four notes
    ],
)
def test_as_much_as_the_rules_allow_is_good_and_no_more(rules: GoodRules, played: Keys, good: bool) -> None:
    assert judged(played, rules=rules).good is good


@pytest.mark.parametrize(("late", "good"), [(0.1199, True), (0.1201, False)])
def test_where_beats_are_slow_a_note_may_be_late_by_an_eighth_of_one(late: float, good: bool) -> None:
    assert judged(keys(late={9: late}, tempo=60.0), tempo=60.0).good is good


@pytest.mark.parametrize(("by", "good"), [(0.059, True), (0.061, False)])
def test_where_beats_are_slow_notes_may_be_as_uneven_as_half_of_that(by: float, good: bool) -> None:
    assert judged(keys(late={n: by * (-1) ** n for n in range(20)}, tempo=60.0), tempo=60.0).good is good


@pytest.mark.parametrize(
    ("tempo", "late", "without", "why"),
    [
        (120.0, 0.34, (), "clean"),
        (120.0, 0.36, (), "bar 12: hesitated for 0.4 s"),
        (40.0, 0.59, (), "clean"),
        (40.0, 0.61, (), "bar 12: hesitated for 0.6 s"),
        (120.0, 0.45, range(6, 16), "clean"),  # ten beats are not counted exactly
        (120.0, 0.6, range(6, 16), "bar 12: hesitated for 0.6 s"),
    ],
)
def test_a_note_that_is_waited_for_is_a_hesitation_and_nothing_else_is_late(
    tempo: float, late: float, without: Collection[int], why: str
) -> None:
    rules = LENIENT if without else RULES
    played = keys(since={16: late}, late={8: 0.12}, without=without, tempo=tempo)
    assert judged(played, "patient", rules, tempo=tempo).why == why


@pytest.mark.parametrize(
    ("at", "nothing"), [(4.499, True), (4.5, False), (4.501, False), (0.5, True)]
)  # fmt: skip
def test_who_strikes_no_key_from_a_beat_before_the_passage_on_has_played_nothing(at: float, nothing: bool) -> None:
    found = judged([(at, 60)])
    assert found.nothing is nothing
    assert (found.why == "nothing was played") is nothing and not found.good


def beats(last: int, quarter: float = 0.5) -> list[tuple[float, float]]:
    return [(float(n), 5.0 + (n - 4) * quarter) for n in range(last + 1)]


@pytest.mark.parametrize(
    ("last", "end", "why"),
    [(19, None, "clean"), (18, None, "bar 12: stopped"), (12, None, "bar 11: stopped"), (19, 13.0, "clean")],
)
def test_a_round_that_ends_more_than_a_beat_before_its_end_was_broken_off(
    last: int, end: float | None, why: str
) -> None:
    assert judged(keys(), "follow", beats=beats(last), end=end).why == why


@pytest.mark.parametrize(("share", "why"), [(0.93, "clean"), (0.91, "bar 9: slowed to 109")])
def test_nine_tenths_of_the_tempo_have_to_be_kept_where_the_companion_goes_along(share: float, why: str) -> None:
    slow = keys(tempo=120 * share)
    assert judged(slow, "follow", beats=beats(19, 0.5 / share)).why == why
    assert judged(slow, "patient", beats=beats(19, 0.5 / share)).why == "clean"


def again(back_to: int, after: int, pause: float = 0.0) -> tuple[Keys, list[tuple[float, float]]]:
    """Keys and beats of who goes back to a beat after another one, and on from there."""
    by = (after + 1 - back_to) * 0.5 + pause
    whole = list(zip(range(20), keys(), strict=True))
    played = [key for n, key in whole if n <= after] + [(at + by, key) for n, (at, key) in whole if n >= back_to]
    rising = beats(19)
    return played, rising[: after + 1] + [(beat, at + by) for beat, at in rising[back_to:]]


@pytest.mark.parametrize(
    ("back_to", "after", "why"),
    [
        (8, 11, "bar 10: went back to bar 10"),
        (8, 13, "bar 11: went back to bar 10"),
        (4, 18, "bar 12: went back to bar 9"),
        (2, 3, "clean"),  # within the way in
        (2, 4, "bar 9: went back to bar 8"),
    ],
)
def test_going_back_is_told_from_the_passage_on_and_what_comes_again_is_right(
    back_to: int, after: int, why: str
) -> None:
    played, sounded = again(back_to, after)
    found = judged(played, "follow", beats=sounded)
    assert found.why == why
    assert found.counts() == {"right": 16, "wrong": 0, "missing": 0, "extra": 0}


def test_of_a_note_that_was_played_twice_the_better_counts() -> None:
    played, sounded = again(8, 13)
    for n, wrong in ((9, True), (15, True)):  # the second note of bar 10, the first time and the second
        slipped = [(at, key + (wrong and k == n)) for k, (at, key) in enumerate(played)]
        assert judged(slipped, "follow", beats=sounded).counts()["wrong"] == 0
    both = [(at, key + (k in (9, 15))) for k, (at, key) in enumerate(played)]
    assert judged(both, "follow", beats=sounded).counts() == {"right": 15, "wrong": 1, "missing": 0, "extra": 0}
    for wrong, left_out in ((9, 15), (15, 9)):
        some = [(at, key + (k == wrong)) for k, (at, key) in enumerate(played) if k != left_out]
        assert judged(some, "follow", beats=sounded).counts() == {"right": 15, "wrong": 1, "missing": 0, "extra": 0}


def test_bars_left_out_are_told_by_their_notes_and_a_hesitation_that_was_followed_as_a_leap_is_none() -> None:
    left_out = [key for n, key in enumerate(keys()) if n < 8] + [(at - 2.0, key) for at, key in keys()[12:]]
    sounded = beats(7) + [(beat, at - 2.0) for beat, at in beats(19)[12:]]
    found = judged(left_out, "follow", beats=sounded)
    assert found.why == "bar 10: G missed; A missed; B missed; and 1 more"
    through = judged(keys(), "follow", beats=[*beats(9), *((beat + 4, at) for beat, at in beats(15)[10:])])
    assert through.counts()["right"] == 16, "the notes tell that nothing was left out"


@pytest.mark.parametrize(
    ("late", "click", "why"),
    [
        ({}, "away-1", "clean; without the click the beat held"),
        (dict.fromkeys((8, 9, 10, 11, 16, 17, 18, 19), 0.034), "away-1", "clean; without the click the beat held"),
        (dict.fromkeys((8, 9, 10, 11, 16, 17, 18, 19), 0.036), "away-1", "clean; without the click 36 ms late"),
        (dict.fromkeys((8, 9, 10, 11, 16, 17, 18, 19), -0.036), "away-1", "clean; without the click 36 ms early"),
        (dict.fromkeys((12, 13, 14, 15, 16, 17, 18, 19), 0.05), "away-2", "clean; without the click 50 ms late"),
        (dict.fromkeys((4, 5, 6, 7, 12, 13, 14, 15), 0.05), "away-1", "clean; without the click the beat held"),
        ({}, "all", "clean"),
        ({}, "", "clean"),
        ({}, "away-4", "clean"),  # it never goes away
    ],
)
def test_whether_the_beat_held_is_told_by_the_notes_of_the_bars_without_a_click(
    late: dict[int, float], click: str, why: str
) -> None:
    assert judged(keys(late=late), click=click).why == why
    assert judged(keys(late=late), "patient", click=click).why == "clean"


@pytest.mark.parametrize(("many", "told"), [(1, False), (2, True)])
def test_two_notes_without_a_click_tell_whether_the_beat_held(many: int, told: bool) -> None:
    found = judged(keys(without=range(12 + many, 20)), rules=LENIENT, click="away-2")
    assert ("without the click" in found.why) is told


@pytest.mark.parametrize("beats_again", [1, 2])
def test_who_touches_a_beat_or_two_again_and_ends_there_has_stopped(beats_again: int) -> None:
    played, sounded = again(8, 11)
    found = judged(played[: 13 + beats_again], "follow", beats=sounded[: 12 + beats_again])
    assert found.why == "bar 10: stopped; bar 11: D missed; E missed; and 5 more"


def test_where_no_beat_was_sounded_the_count_in_tells_where_they_are() -> None:
    assert judged(keys(), beats=[]).why == "clean"
    assert judged(keys(late={9: 0.2, 15: -0.1}), beats=[]).why == "bar 10: late by 200 ms; bar 11: early by 100 ms"
    assert judged(keys(late={9: 0.2}, tempo=60.0), beats=[], tempo=60.0).why == "bar 10: late by 200 ms"


def test_one_who_leaves_a_bar_out_after_another_slip_has_each_told_at_its_bar() -> None:
    """Two leaps: back from bar 10 to bar 9, and on from there over bar 11."""
    whole = keys()
    first, second = whole[:12], [(at + 4.0, key) for at, key in whole[4:12]]
    third = [(at + 2.0, key) for at, key in whole[16:]]
    sounded = beats(11) + [(beat, at + 4.0) for beat, at in beats(11)[4:]] + [(b, at + 2.0) for b, at in beats(19)[16:]]
    found = judged([*first, *second, *third], "follow", beats=sounded)
    assert found.why == "bar 10: went back to bar 9; bar 11: D missed; E missed; and 2 more"


@pytest.mark.parametrize("tempo", [60.0, 120.0])
def test_where_one_beat_alone_was_sounded_the_rounds_tempo_tells_the_others(tempo: float) -> None:
    found = judged(keys(tempo=tempo), "follow", beats=[(0.0, 5.0 - 4 * 60 / tempo)], tempo=tempo)
    assert found.why == "bar 8: stopped"
    assert found.counts() == {"right": 16, "wrong": 0, "missing": 0, "extra": 0}
    assert [note.deviation_ms for note in found.notes] == pytest.approx([0.0] * 16, abs=0.1)


def test_of_two_beats_nobody_knows_whether_the_tempo_was_kept() -> None:
    slow = [(4.0, 5.0), (5.0, 5.7), (6.0, 6.4)]
    played = [(5.0, PITCHES[4]), (5.7, PITCHES[5]), (6.4, PITCHES[6])]
    assert judged(played, "follow", LENIENT, beats=slow).why == "bar 9: stopped"
    longer = [*slow, (7.0, 7.1)]
    assert judged([*played, (7.1, PITCHES[7])], "follow", LENIENT, beats=longer).why == "bar 9: stopped; slowed to 86"


@pytest.mark.parametrize(
    ("end", "at", "why"),
    [
        (13.4, 13.0, "clean"),  # the last beat takes 0.9 s, and its off-beat lies half way
        (None, 13.0, "bar 12: late by 143 ms"),
        (12.4, 13.0, "bar 12: late by 143 ms"),  # an end before the last beat tells nothing
        (13.0, 12.75, "clean"),
    ],
)
def test_the_end_of_the_passage_tells_how_long_its_last_beat_was(end: float | None, at: float, why: str) -> None:
    last = parse_toml(write_toml(SCALE).replace("d'2", "d'e'"))
    played = [*keys(), (at, 88)]
    assert judged(played, "follow", end=end, chart=last, beats=beats(19)).why == why


@pytest.mark.parametrize(
    ("back_to", "after", "why"),
    [
        (10, 10, "bar 10: B too many; hesitated for 0.5 s"),
        (10, 11, "bar 10: B too many; C too many; hesitated for 1.0 s"),
        (9, 11, "bar 10: went back to bar 10"),
    ],
)
def test_two_notes_struck_again_are_too_many_and_three_are_going_back(back_to: int, after: int, why: str) -> None:
    played, sounded = again(back_to, after)
    assert judged(played, "follow", beats=sounded).why == why


def test_who_goes_back_three_times_over_seven_notes_in_all_is_told_of_each() -> None:
    order = [*range(10), *range(8, 13), *range(11, 16), *range(13, 20)]
    moments = [3.0 + n / 2 for n in range(len(order))]
    sounded = [(float(beat), at) for beat, at in zip(order, moments, strict=True)]
    found = judged([(at, PITCHES[n]) for n, at in zip(order, moments, strict=True)], "follow", beats=sounded)
    assert found.why == "bar 10: went back to bar 10; bar 11: went back to bar 10; went back to bar 11"


@pytest.mark.parametrize(
    ("before", "why"),
    [
        (0.45, "bar 9: F♯ too many; bar 11: went back to bar 10"),
        (0.5, "bar 9: F♯ too many; bar 11: went back to bar 10"),
        (0.55, "bar 11: went back to bar 10; F♯ too many"),
    ],
)
def test_a_key_within_half_a_beat_of_where_one_goes_on_belongs_to_what_follows(before: float, why: str) -> None:
    played, sounded = again(8, 12)
    resumed = sounded[13][1]
    assert judged([*played, (resumed - before / 2, 90)], "follow", beats=sounded).why == why


@pytest.mark.parametrize(
    ("second", "why"),
    [
        (
            12,
            "bar 10: B too many; C too many; D too many; and 3 more",
        ),  # two leaps cost as much as the four notes that come twice
        (11, "bar 10: went back to bar 10; bar 11: went back to bar 10"),  # five notes come twice
    ],
)
def test_each_leap_has_to_explain_as_much_as_two_notes(second: int, why: str) -> None:
    order = [*range(12), *range(10, 14), *range(second, 20)]
    moments = [3.0 + n / 2 for n in range(len(order))]
    sounded = [(float(beat), at) for beat, at in zip(order, moments, strict=True)]
    assert judged([(at, PITCHES[n]) for n, at in zip(order, moments, strict=True)], "follow", beats=sounded).why == why


def test_who_goes_back_and_is_followed_for_one_beat_only_is_judged_by_the_tempo_from_there() -> None:
    played, sounded = again(4, 11)
    found = judged(played, "follow", beats=sounded[:13])
    assert found.why == "bar 9: stopped; bar 10: went back to bar 9"
    assert found.counts() == {"right": 16, "wrong": 0, "missing": 0, "extra": 0}
    assert [note.deviation_ms for note in found.notes] == pytest.approx([0.0] * 16, abs=0.1)


def test_one_beat_touched_on_the_way_back_is_no_attempt_of_its_own() -> None:
    order = [*range(12), 8, *range(4, 20)]
    moments = [3.0 + n / 2 for n in range(len(order))]
    sounded = [(float(beat), at) for beat, at in zip(order, moments, strict=True)]
    found = judged([(at, PITCHES[n]) for n, at in zip(order, moments, strict=True)], "follow", beats=sounded)
    assert found.why == "bar 10: went back to bar 10; went back to bar 9"
    assert found.counts() == {"right": 16, "wrong": 0, "missing": 0, "extra": 0}
