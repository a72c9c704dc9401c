"""What is made of some weeks' practice, of drills and of a take full of faults, written out.

What stands here is what is said today. When it changes, read the difference as the player would: another text is as
good where it says the same, or says it better.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Heard
from companion.pianist.player import simulate
from companion.practice.account import account
from companion.practice.alignment import align
from companion.practice.day_plan import Stand, day_plan
from companion.practice.history import tune_history
from companion.practice.history_table import history_csv
from companion.practice.history_words import history_lines, overview_lines
from companion.practice.records import BarRecord, RoundRecord, TakeRecord
from companion.practice.repertoire import standings
from companion.practice.request import Said
from companion.practice.review import review
from companion.practice.rounds import RoundPlayed
from companion.preferences import preferences
from companion.preferences.care import CarePreferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.repertoire import RepertoirePreferences
from companion.stage.settings import Settings
from tests.practice.conftest import CLEAN, RoundPlayer, Slips, drilled
from tests.practice.days import PlayerOfDays, a_take, evening
from tests.wrapping import lines, wrapped

RULES = preferences(RepertoirePreferences)
TODAY = date(2026, 11, 28)
FERRY = "ferry-without-lights"
TUNE = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "swing"
form = "A B"
[section.A]
chords = "| Gm6 | C7 | Am7b5 | D7alt |"
melody = "DF | G3 A B2 d2 | c4- c2 =B2 | z2 A2 ^F2 E2 | G2 z2 z D3 |"
[section.B]
chords = "| Cm7 | F7 | Bbmaj7 | Am7b5 D7 |"
melody = "| e4 c4 | A2 F2 G2 A2 | d8 | B4 G2 ^F2 |"
"""
WEEKS = """
1-4 13 days, 2026-11-27, at 132.0, learnt 132.0, '', 010, 6.00 until 2026-12-03, -0.83
1-32 6 days, 2026-11-26, at 114.0, learnt None, 'you stopped twice', 101, 1.00 until 2026-11-27, 1.00
5-8 9 days, 2026-11-24, at 76, learnt 74, '', 000, 2.00 until 2026-11-26, 1.00
9-12 10 days, 2026-11-19, at 132, learnt 120, '', 010, 20.00 until 2026-12-09, -0.55
warm up 5: Ferry Without Lights, bars 1-4; slower than you think; drill ferry-without-lights --bars 1-4 --kind warm-up --minutes 5
keep 10: Ferry Without Lights, bars 9-12; learnt at 120; last played 9 days ago; drill ferry-without-lights --bars 9-12 --from 112 --to 132 --minutes 10
mend 10: Ferry Without Lights; you stopped twice; drill ferry-without-lights --bars 1-32 --from 80 --to 114 --minutes 10
pause 5: hands off the keys, and stand up; ;
new 10: Ferry Without Lights, bars 13-16; the next bars; drill ferry-without-lights --bars 13-16 --kind notes --minutes 10
warm up 3: Ferry Without Lights, bars 1-4; slower than you think; drill ferry-without-lights --bars 1-4 --kind warm-up --minutes 3
keep 4: Ferry Without Lights, bars 9-12; learnt at 120; last played 9 days ago; drill ferry-without-lights --bars 9-12 --from 112 --to 132 --minutes 4
mend 5: Ferry Without Lights; you stopped twice; drill ferry-without-lights --bars 1-32 --from 80 --to 114 --minutes 5
Ferry Without Lights: 6 takes and 128 rounds on 32 days, 19 October 2026 to 27 November 2026; its tempo is ♩ = 132

                       tempo reached  learnt at  good rounds  clean in takes
melody  A1, bars 1-8              76         74     52 of 88          0 of 6
        A2, bars 9-16             96          -     22 of 40          2 of 6

learnt, with good rounds on 3 days: bars 1-4 (melody) at 132; bars 5-8 (melody) at 74; bars 9-12
  (melody) at 120
through without a stop at 114
good rounds by tempo: 40-59: 6 of 9, 60-79: 18 of 50, 80-99: 2 of 8, 100-119: 16 of 22, 120-139: 32 of 39

week of  good rounds  takes at  clean bars  weakest bars (faults each time)
19 Oct       9 of 20        93     9 of 12  3 (1), 7 (1), 8 (1)
26 Oct       9 of 16       100     9 of 12  5 (1), 7 (1), 10 (1)
2 Nov       13 of 24       107     9 of 12  7 (2), 2 (1), 12 (1)
9 Nov       11 of 24       114     9 of 12  4 (1), 7 (1), 9 (1)
16 Nov      20 of 28       121     8 of 12  1 (1), 6 (1), 7 (1), 11 (1)
23 Nov      12 of 16       128     9 of 12  3 (1), 7 (1), 8 (1)
                                 takes  rounds  tempo reached   learnt  clean bars
Ferry Without Lights  yesterday      6     128  76-132 of 132  12 bars     9 of 12
what,at,chart,title,section,first_bar,last_bar,chorus,you,key,tempo,tune_tempo,time,kind,round,good,why,right,wrong,missing,extra,deviation_ms,spread_ms,seconds,choruses,stops,take
round,2026-10-19T18:00:30.000Z,ferry-without-lights,Ferry Without Lights,,9,12,,melody,F,63,132.0,follow,usual,1,no,bar 9: F♯ missed,11,0,1,0,,9.5,12.0,,,
round,2026-10-19T18:01:00.000Z,ferry-without-lights,Ferry Without Lights,,9,12,,melody,F,59,132.0,follow,usual,1,yes,,12,0,0,0,,9.5,12.0,,,
round,2026-10-19T18:01:30.000Z,ferry-without-lights,Ferry Without Lights,,9,12,,melody,F,63,132.0,follow,usual,1,yes,,12,0,0,0,,9.5,12.0,,,
round,2026-10-19T18:02:00.000Z,ferry-without-lights,Ferry Without Lights,,9,12,,melody,F,67,132.0,follow,usual,1,yes,,12,0,0,0,,9.5,12.0,,,
take,2026-10-22T18:30:00.000Z,ferry-without-lights,Ferry Without Lights,,,,,melody,F,93.0,120.0,follow,,,,,,,,,,,180.0,1,0,2026-10-22-193000-ferry-without-lights
bar,2026-10-22T18:30:00.000Z,ferry-without-lights,Ferry Without Lights,,1,1,1,melody,F,96.0,120.0,follow,,,,,4,0,0,0,3.0,8.0,,,,2026-10-22-193000-ferry-without-lights
bar,2026-10-22T18:30:00.000Z,ferry-without-lights,Ferry Without Lights,,2,2,1,melody,F,96.0,120.0,follow,,,,,4,0,0,0,3.0,8.0,,,,2026-10-22-193000-ferry-without-lights
"""  # noqa: E501

ROUNDS = """
usual: up to tempo, step by step, goes on
1 5-7 G minor 100 0.000 4.800 12.004: 1 clean; 10.7 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
2 5-7 G minor 100 14.404 19.204 26.392: 1 clean; 4.8 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
3 5-7 G minor 108 28.792 33.236 39.907: 0 bar 5: C♯, not C; 5.5 {'right': 6, 'wrong': 1, 'missing': 0, 'extra': 0}
4 5-7 G minor 108 42.129 46.573 53.737: 0 bar 5: E♭ missed; bar 6: hesitated for 0.5 s; 140.5 {'right': 6, 'wrong': 0, 'missing': 1, 'extra': 0}
5 5-7 G minor 100 55.959 60.759 67.964: 0 bar 6: stopped; F missed; G missed; and 2 more; 3.8 {'right': 3, 'wrong': 0, 'missing': 4, 'extra': 0}
6 5-7 G minor 100 70.364 75.164 81.154: 0 nothing was played; None {'right': 0, 'wrong': 0, 'missing': 0, 'extra': 0}
7 5-7 G minor 100 83.554 88.354 -: under way
keys: through the keys by fourths, rounds
1 5-7 G minor 120 0.000 4.000 10.004: 1 clean; 10.2 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
2 5-7 C minor 120 12.004 16.004 21.991: 1 clean; 4.8 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
memory: from memory: less is shown and played each time, rounds
1 5-7 G minor 120 0.000 4.000 10.004: 1 clean; 10.2 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
2 5-7 G minor 120 12.004 16.004 21.991: 1 clean; 4.8 {'right': 7, 'wrong': 0, 'missing': 0, 'extra': 0}
anywhere: from any bar, rounds
1 7-7 G minor 110 0.000 4.364 6.547: 1 clean; None {'right': 1, 'wrong': 0, 'missing': 0, 'extra': 0}
2 7-7 G minor 110 8.729 13.092 15.280: 1 clean; None {'right': 1, 'wrong': 0, 'missing': 0, 'extra': 0}
"""  # noqa: E501

REVIEWED = """
1 -1.00 right 62/62 8; 1 -0.50 right 65/65 6; 1 0.00 right 67/67 -15; 1 1.50 wrong 69/70 -7; 1 2.00 right 70/70 19;
1 3.00 right 74/74 30; 1 4.00 right 72/72 2; 1 7.00 right 71/71 -12; 1 7.39 extra None/61 -;
1 9.00 missing 69/None -; 1 10.00 right 66/66 -21; 1 11.00 right 63/63 5; 1 12.00 right 67/67 22;
1 14.50 right 62/62 2; 1 16.00 right 75/75 -15; 1 18.00 right 72/72 4; 1 20.00 right 69/69 -2;
1 21.00 right 65/65 -33; 1 22.00 right 67/67 26; 1 23.00 right 69/69 -9; 1 24.00 right 74/74 4;
1 28.00 right 70/70 -37; 1 30.00 right 67/67 14; 1 31.00 missing 66/None -; 1 31.00 right 62/62 16;
1 31.50 right 65/65 1; 2 0.00 right 67/67 -5; 2 1.50 right 69/69 26; 2 2.00 right 70/70 -38; 2 3.00 right 74/74 11;
2 4.00 right 72/72 4; 2 7.00 wrong 71/72 -19; 2 9.00 right 69/69 -9; 2 10.00 right 66/66 26;
2 11.00 missing 63/None -; 2 12.00 right 67/67 10; 2 14.50 right 62/62 -5; 2 16.00 right 75/75 -1;
2 18.00 right 72/72 -21; 2 20.00 right 69/69 44; 2 21.00 right 65/65 -20; 2 22.00 right 67/67 0;
2 23.00 right 69/69 24; 2 24.00 right 74/74 -19; 2 28.00 right 70/70 6; 2 30.00 right 67/67 10;
2 31.00 right 66/66 -17;
17.43: from 21.00 to 21.00 after 3.00
Kettle at Six
Notes are missing in bars 3 and 8.
Notes are wrong in bars 1 and 2.
You held back in bar 6, for 3.0 s.

to mend it:
  companion drill kettle --bars 1-4 --you melody --from 79 --to 132

41 of 46 notes right
16 bars, 2 times through; ♩ = 129 at the beginning, 142 at the end
tempo: fastest from bar 5 (♩ = 142), slowest from bar 3 (♩ = 129)
bar 1: B♭, not A
bar 2: C♯ too many
bar 3: A missed
bar 6: hesitated for 3.0 s
bar 8: F♯ missed
bar 2: C, not B (time 2 through)
bar 3: E♭ missed (time 2 through)
"""


@pytest.fixture(scope="module")
def kettle() -> Chart:
    return parse_toml(TUNE)


def weeks() -> tuple[list[RoundRecord], list[TakeRecord], list[BarRecord]]:
    """Forty evenings of somebody who comes three times in four, with a take each week."""
    player = PlayerOfDays({(1, 4): 0.1, (5, 8): 0.8, (9, 12): 0.4}, chart=FERRY, tune_tempo=132.0, seed=3)
    takes, bars = [], []
    dice = random.Random(5)
    for n in range(40):
        moment = evening(TODAY - timedelta(days=40 - n))
        if player.comes():
            player.drills(dice.choice([(1, 4), (5, 8), (9, 12)]), moment, 4)
        if n % 7 == 3:
            take = a_take(moment + timedelta(minutes=30), tempo=90.0 + n, stops=n % 3, choruses=1, chart=FERRY)
            takes.append(take)
            bars += [
                BarRecord(take.folder, bar, 1, 4, int(bar % 5 == n % 5), int(bar == 7), 0, 96.0, 3.0, 8.0)
                for bar in range(1, 13)
            ]
    return player.rounds, takes, bars


def test_how_six_weeks_of_practice_went_and_what_is_proposed_for_today(ferry: Chart) -> None:
    rounds, takes, bars = weeks()
    now = evening(TODAY)
    tunes = standings(rounds, takes, now, RULES)
    found = [
        f"{one.first}-{one.last} {one.days} days, {one.played}, at {one.reached}, learnt {one.learnt}, {one.why!r}, "
        f"{one.failed:d}{one.up_to_tempo:d}{one.whole:d}, {one.wait:.2f} until {one.due}, {one.overdue(TODAY):.2f}"
        for tune in tunes
        for one in tune.passages
    ]
    stand = Stand(tunes, {FERRY: ferry}, [FERRY])
    for minutes in (40, 12):
        pause, drills = preferences(CarePreferences).pause, preferences(DrillPreferences)
        for item in day_plan(stand, now, RULES, pause, drills, minutes):
            found.append(f"{item.purpose} {item.minutes}: {item.what}; {item.why}; {' '.join(item.command)}")
    history = tune_history(rounds, takes, bars, ferry.unfold(), now, RULES)
    found += [*history_lines(history, RULES), *overview_lines([history], TODAY)]
    found += history_csv(rounds[:4], takes[:1], bars[:2]).splitlines()
    assert [line.rstrip() for line in found] == lines(WEEKS)


DRILLS = [
    ("usual", Said(you=frozenset({"melody"}), start=100.0, goal=116.0, step=8.0)),
    ("keys", Said(you=frozenset({"melody"}), start=120.0, goal=124.0, rounds=2)),
    ("memory", Said(you=frozenset({"melody"}), start=120.0, goal=128.0, rounds=2)),
    ("anywhere", Said(you=frozenset({"melody"}), start=110.0, goal=120.0, rounds=2, seed=2)),
]


def slips(number: int) -> Slips:
    """Of the rounds, by turns: clean, a wrong note, one left out and a hesitation, a stop, nothing at all."""
    every = (CLEAN, Slips(wrong=frozenset({1})), Slips(missing=frozenset({0}), hesitates={3: 0.5}), Slips(stops_at=3))
    return (CLEAN, *every, Slips(silent=True))[number - 1]


def test_rounds_of_drills_and_what_is_said_of_each(kettle: Chart) -> None:
    found = []
    for kind, said in DRILLS:
        player = RoundPlayer(3)
        drill = drilled(
            kettle,
            (5, 7),
            lambda told, plays=player.plays: plays(told, slips(told.number)),
            kind=kind,
            said=said,
            rounds=6,
        )
        found.append(f"{kind}: {drill.request.what}, {drill.ended or 'goes on'}")
        found += [told(one) for one in drill.rounds]
    assert found == lines(ROUNDS)


def told(one: RoundPlayed) -> str:
    verdict = one.verdict
    what = "under way" if verdict is None else f"{verdict.good:d} {verdict.why}; {verdict.spread_ms} {verdict.counts()}"
    end = "-" if one.end is None else f"{one.end:.3f}"
    bars = f"{one.bars[0]}-{one.bars[1]}"
    return f"{one.number} {bars} {one.key} {one.tempo:g} {one.first_click:.3f} {one.start:.3f} {end}: {what}"


def faulty(chart: Chart) -> list[Heard]:
    """Two choruses: a wrong note, one too many, a bar skipped, a stop and going back, the end in a hurry."""
    player = simulate(chart.unfold(), "melody", manner="clean", seed=4, choruses=2)
    heard: list[Heard] = []
    notes = 0
    for event in player.heard:
        notes += event.is_note_on
        late = 3.0 if event.seconds > 14 else 0.0
        hurry = 0.06 * max(0.0, event.seconds - 24)
        pitch = event.data1 + (notes in (4, 30))
        if notes not in (9, 33):
            heard.append(replace(event, seconds=event.seconds + late - hurry, data1=pitch))
    heard += [Heard(8.1, 0x90, 61, 64), Heard(8.3, 0x80, 61, 0)]
    return sorted(heard, key=lambda event: (event.seconds, event.status))


def test_a_take_full_of_faults_laid_on_its_chart(kettle: Chart) -> None:
    heard = faulty(kettle)
    form, settings = kettle.unfold(), Settings(tempo=132.0)
    alignment = align(kettle, settings, heard, heard[-1].seconds + 1)
    found = wrapped(
        f"{note.chorus} {note.chart_beat:.2f} {note.kind} {note.expected}/{note.pitch}"
        f" {'-' if note.deviation_ms is None else round(note.deviation_ms)}{' forgiven' * note.forgiven};"
        for note in alignment.notes
    )
    found += [
        f"{m.seconds:.2f}: from {m.from_beat:.2f} to {m.to_beat:.2f} after {m.pause:.2f}" for m in alignment.moves
    ]
    looked = review(form, alignment, ("melody",), heard)
    found += account(kettle.title, looked, form, ("melody",), "kettle")
    assert [line.rstrip() for line in found] == lines(REVIEWED)
