"""What a good round is: faults make it bad and are named by their bars; good playing is called good."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from companion.arrange.plan import filled
from companion.arrange.request import Request
from companion.chart.model import Chart
from companion.messages import Heard
from companion.practice.request import Said
from companion.practice.rounds import RoundPlayed, Verdict
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
