"""The built-in player: human in the sizes that were measured on people, and truthful about where their beats were.

Values: drift and jitter of jazz trios (measured on published recordings); free time varies by 14 per cent from beat to
beat (measured on published performances of romantic piano music); swing after Friberg & Sundström, Music Perception
19(3), 2002; the rest common practice.
"""

from __future__ import annotations

import bisect
import itertools
import statistics
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from companion.chart.model import ChordSpan, Form, FormSection, MelodyNote
from companion.errors import UseError
from companion.messages import Heard
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key
from companion.pianist.player import SimulatedPerformance, manners, simulate
from companion.preferences.players import PlayerManner

A = "Gm7 C7 | Fmaj7 | Em7b5 A7b9 | Dm6 | Gm7 C7 | Am7 D7 | Em7b5 A7b9 | Dm6"
B = "Bbmaj7 | Bbm6 | Fmaj7 | D7b9 | Gm7 | Bb7 | Em7b5 A7b9 | Dm6"
# beat, length, MIDI number
TUNE_A = "0 1 70,1 .5 69,1.5 1.5 67,4 2 69,7 .5 65,7.5 1.5 64,9 1 67,10 .5 70,10.5 1.5 73,13 3 74"
TUNE_B = "0 .5 74,.5 .5 77,1 2 79,4.5 .5 77,5 2 73,8 1 72,9 1 69,10 2 65,13 .5 66,13.5 2 69"


def a_tune(metre: Metre = Metre(), feel: str = "swing", *, again: bool = True) -> Form:
    """Three eights, A A B or A B; of one's own invention."""
    bar, letters = metre.bar, "AAB" if again else "AB"
    chords: list[ChordSpan] = []
    melody: list[MelodyNote] = []
    for k, letter in enumerate(letters):
        for n, text in enumerate((A if letter == "A" else B).split(" | ")):
            symbols = text.split()
            for j, symbol in enumerate(symbols):
                start = (8 * k + n) * bar + j * bar / len(symbols)
                chords.append(ChordSpan(start, start + bar / len(symbols), parse_chord(symbol)))
        for phrase, row in itertools.product((0, 1), (TUNE_A if letter == "A" else TUNE_B).split(",")):
            beat, length, midi = (Fraction(x) for x in row.split())
            start = (8 * k + 4 * phrase) * bar + beat * bar / 4
            melody.append(MelodyNote(start, length * bar / 4, pitch_in_key(int(midi) - 2 * phrase, -1)))
    bars = tuple(n * bar for n in range(8 * len(letters)))
    places = tuple(FormSection(letter, 8 * k * bar, 8 * (k + 1) * bar) for k, letter in enumerate(letters))
    end = 8 * len(letters) * bar
    return Form(metre, -1, True, 132.0, feel, end, bars, places, tuple(chords), tuple(melody))


TUNE = a_tune()


def onsets(played: SimulatedPerformance) -> list[tuple[float, int]]:
    return [(h.seconds, h.data1) for h in played.heard if h.is_note_on]


def periods(played: SimulatedPerformance) -> list[float]:
    """Lengths of beats, without those in which the player leaps or stops."""
    return [b.seconds - a.seconds for a, b in itertools.pairwise(played.beats) if not b.mark]


def written_beats(played: SimulatedPerformance) -> list[tuple[float, float, int]]:
    """Chart beat by the truth, distance from it in seconds, MIDI number, for each note nearest a beat."""
    times = [row.seconds for row in played.truth]
    found = []
    for seconds, midi in onsets(played):
        k = bisect.bisect_left(times, seconds)
        near = min((j for j in (k - 1, k) if 0 <= j < len(times)), key=lambda j: abs(times[j] - seconds))
        found.append((played.truth[near].chart_beat, seconds - times[near], midi))
    return found


def test_the_same_seed_plays_the_same_and_another_does_not() -> None:
    assert simulate(TUNE, seed=3) == simulate(TUNE, seed=3)
    assert simulate(TUNE, seed=3) != simulate(TUNE, seed=4)


@pytest.mark.parametrize("role", ["melody", "chords", "bass", "solo", "melody,chords", "bass,solo"])
@pytest.mark.parametrize("manner", sorted(manners()))
def test_every_key_that_goes_down_comes_up_before_it_goes_down_again(role: str, manner: str) -> None:
    played = simulate(TUNE, role, manner=manner, seed=5, choruses=2)
    down: set[int] = set()
    for h in [h for h in played.heard if h.status != 0xB0]:
        assert 21 <= h.data1 <= 108  # MIDI numbers of a piano's keys: common practice
        assert h.seconds >= 0
        if h.is_note_on:
            assert h.data1 not in down
            down.add(h.data1)
        else:
            down.remove(h.data1)
    assert not down
    assert list(played.heard) == sorted(played.heard, key=lambda h: h.seconds)


def test_two_bars_are_counted_in_and_tell_tempo_and_start() -> None:
    played = simulate(TUNE, tempo=150)
    given = [row for row in played.truth if row.mark == "count_in"]
    assert [row.chart_beat for row in given] == list(range(-8, 0))
    assert given[0].seconds == pytest.approx(1.0)
    assert played.tempo == pytest.approx(150, rel=0.02)
    assert played.start == pytest.approx(played.beats[0].seconds, abs=0.03)


def test_the_rows_of_truth_are_one_a_beat_of_the_metre() -> None:
    played = simulate(TUNE, choruses=2)
    assert [row.chart_beat for row in played.beats] == [*range(96), *range(96)]
    assert [row.chorus for row in played.beats] == [1] * 96 + [2] * 96
    assert played.truth_csv().splitlines()[:2] == ["chart_beat,seconds,pass,mark", "-8,1.0000,0,count_in"]
    jig = simulate(a_tune(Metre(6, 8)), tempo=150)
    assert [row.chart_beat for row in jig.beats][:4] == [0, 1.5, 3, 4.5]
    assert [row.chart_beat for row in jig.truth][:4] == [-6, -4.5, -3, -1.5]


def test_the_melody_falls_on_its_beats_within_a_human_spread() -> None:
    wrong, spreads = 0, []
    for seed in range(6):
        played = simulate(TUNE, manner="clean", seed=seed, choruses=2)
        wanted = {(float(n.beat), n.pitch.midi) for n in TUNE.melody if n.beat % 1 == 0}
        on_beat = [(beat, off, midi) for beat, off, midi in written_beats(played) if abs(off) < 0.08]
        wrong += sum((beat, midi) not in wanted for beat, _, midi in on_beat)
        spreads.append(statistics.pstdev(off for _, off, _ in on_beat))
    assert wrong == 0
    assert 0.014 < statistics.mean(spreads) < 0.027  # 15 to 25 ms


def test_strict_time_drifts_and_wobbles_as_trios_do() -> None:
    variation, uneven, wandering = [], [], []
    for seed in range(12):
        beat = periods(simulate(TUNE, manner="clean", seed=seed, choruses=2, tempo=200))
        mean = statistics.mean(beat)
        variation.append(statistics.pstdev(beat) / mean)
        uneven.append(statistics.pstdev(b - a for a, b in itertools.pairwise(beat)) / mean)
        sixteens = [statistics.mean(beat[k : k + 16]) for k in range(0, len(beat) - 16, 16)]
        wandering.append(statistics.pstdev(b - a for a, b in itertools.pairwise(sixteens)) / mean)
    # of the recordings: 3.5, 5.5 and 1.0 per cent at this tempo
    assert 0.028 < statistics.mean(variation) < 0.045
    assert 0.045 < statistics.mean(uneven) < 0.070
    assert 0.006 < statistics.mean(wandering) < 0.013


def test_a_clock_at_the_count_ins_tempo_soon_loses_the_player() -> None:
    held = []
    for seed in range(12):
        played = simulate(TUNE, manner="human", seed=seed, choruses=2)
        due = [played.start + 60.0 / played.tempo * k for k in range(len(played.beats))]
        held += [abs(t - row.seconds) <= 0.070 for t, row in zip(due, played.beats, strict=True)]
    assert sum(held) / len(held) < 0.35  # 18 per cent of the beats of real drift


def test_free_time_varies_by_a_seventh_and_slows_most_at_the_ends_of_phrases() -> None:
    variation, longest = [], []
    for seed in range(8):
        beat = periods(simulate(TUNE, manner="free", seed=seed, tempo=80))
        mean = statistics.mean(beat)
        variation.append(statistics.pstdev(beat) / mean)
        longest += [k % 16 for k, b in enumerate(beat) if b > 1.3 * mean]
    assert 0.12 < statistics.mean(variation) < 0.16
    assert statistics.mean(k in (14, 15) for k in longest) > 0.7


def test_off_beat_quavers_swing_by_the_tempo_and_not_in_compound_time() -> None:
    def place(tempo: float, form: Form) -> float:
        off = []
        for seed in range(6):
            played = simulate(form, manner="clean", seed=seed, tempo=tempo)
            times = [row.seconds for row in played.truth]
            for seconds, _ in onsets(played):
                k = bisect.bisect_right(times, seconds)
                if 0 < k < len(times) and 0.3 < (x := (seconds - times[k - 1]) / (times[k] - times[k - 1])) < 0.8:
                    off.append(x)
        return statistics.median(off)

    assert place(130, TUNE) == pytest.approx(2 / 3, abs=0.04)  # 2:1 at a medium tempo
    assert place(290, TUNE) == pytest.approx(0.52, abs=0.05)  # near even
    assert place(130, a_tune(feel="straight")) == pytest.approx(0.5, abs=0.02)


def test_slips_are_as_many_as_the_manner_says() -> None:
    written = {float(n.beat): n.pitch.midi for n in TUNE.melody}
    notes = struck = right = 0
    for seed in range(10):
        played = simulate(TUNE, manner=replace(manners()["messy"], octaves=0.0), seed=seed, choruses=2)
        notes += 2 * len([b for b in written if b % 1 == 0])
        near = [(beat, midi) for beat, off, midi in written_beats(played) if abs(off) < 0.06]
        struck += len(near)
        right += sum(written.get(beat) == midi for beat, midi in near)
    assert 0.72 < right / notes < 0.88  # a tenth wrong, a tenth left out
    assert struck > right


def test_what_became_of_each_note_is_told_truly() -> None:
    played = simulate(TUNE, manner="messy", seed=8, choruses=2)
    struck = sorted((n.seconds, n.pitch) for n in played.notes if n.seconds is not None and n.pitch is not None)
    assert struck == sorted(onsets(played))
    written = {float(n.beat): n.pitch.midi for n in TUNE.melody}
    told = [(n.chorus, n.chart_beat, n.expected) for n in played.notes if n.kind != "extra"]
    assert told == [(chorus, beat, midi) for chorus in (1, 2) for beat, midi in written.items()]
    for n in played.notes:
        assert (n.kind == "missing") == (n.pitch is None)
        assert (n.kind == "extra") == (n.expected is None)
        assert (n.kind == "right") == (n.pitch == n.expected)


def test_the_pickup_to_a_later_chorus_is_told_at_the_end_of_the_one_before() -> None:
    first = MelodyNote(Fraction(-1), Fraction(1), pitch_in_key(69))
    tune = replace(TUNE, melody=(first, *TUNE.melody))
    played = simulate(tune, manner="clean", seed=1, choruses=2)
    assert [(n.chorus, n.chart_beat) for n in played.notes if n.expected == 69 and n.chart_beat in (-1, 95)] == [
        (1, -1.0),
        (1, 95.0),
    ]
    due = [row.seconds for row in played.truth if row.chart_beat in (-1, 95)]
    assert [n.seconds for n in played.notes if n.chart_beat in (-1, 95)] == pytest.approx(due[:2], abs=0.08)


def test_a_leap_keeps_the_pulse_and_lands_where_the_melody_tells() -> None:
    leaps = 0
    for seed in range(12):
        played = simulate(TUNE, manner="leaping", seed=seed, choruses=2)
        beat = statistics.median(periods(played))
        for before, after in itertools.pairwise(played.beats):
            if after.mark == "jump":
                leaps += 1
                assert after.seconds - before.seconds == pytest.approx(beat, rel=0.2)
                assert after.chart_beat != before.chart_beat + 1
                assert after.chart_beat >= 60  # the first two eights sound alike; only the third can be told
    assert leaps >= 3


def test_after_a_stop_the_player_goes_on_where_they_were_or_at_the_start_of_the_phrase() -> None:
    for seed in range(12):
        played = simulate(TUNE, manner="stopping", seed=seed, choruses=2)
        stops = [(a, b) for a, b in itertools.pairwise(played.beats) if b.mark == "resume"]
        assert 1 <= len(stops) <= 2
        for before, after in stops:
            assert 2.0 <= after.seconds - before.seconds <= 7.5
            assert after.chart_beat == before.chart_beat + 1 or after.chart_beat % 16 == 0
            silent = [s for s, _ in onsets(played) if before.seconds + 1.0 < s < after.seconds - 0.15]
            assert not silent


def test_a_hesitation_makes_one_beat_late_and_the_player_goes_on_from_there() -> None:
    played = simulate(TUNE, manner=PlayerManner(hesitations=2, drift=0.0, jitter=0.0), seed=1, tempo=120)
    late = [p for p in periods(played) if p > 0.6]
    assert len(late) == 2
    assert [p for p in periods(played) if p <= 0.6] == pytest.approx([0.5] * (len(periods(played)) - 2))


def test_an_accelerando_arrives_two_fifths_faster() -> None:
    beat = periods(simulate(TUNE, manner="speeding", seed=2, choruses=2))
    assert statistics.mean(beat[:8]) / statistics.mean(beat[-8:]) == pytest.approx(1.4, rel=0.06)


def test_a_player_may_begin_in_the_middle() -> None:
    played = simulate(TUNE, begin=32.0)
    assert played.beats[0].chart_beat == 32.0
    assert played.start + 32.0 * 60 / played.tempo == pytest.approx(played.beats[0].seconds, abs=0.05)
    assert {midi for _, midi in onsets(played)}


def test_the_walking_bass_stands_on_the_root_where_a_new_chord_begins() -> None:  # common practice
    at_root = new = 0
    for seed in range(5):
        played = simulate(TUNE, "bass", manner="clean", seed=seed, choruses=2)
        for beat, off, midi in written_beats(played):
            span = TUNE.chord_at(beat)
            if span.start == beat % TUNE.length and abs(off) < 0.08:
                new += 1
                at_root += span.chord.root is not None and midi % 12 == span.chord.root.pc
            assert 28 <= midi <= 55
    assert new > 150 and at_root / new > 0.95


def test_comping_is_rootless_and_syncopated_and_says_third_and_seventh() -> None:  # Levine, The Jazz Piano Book, 1989
    played = simulate(a_tune(feel="straight"), "chords", manner="clean", seed=3, choruses=3)
    chords = clusters(played)
    assert all(2 <= len(notes) <= 4 for _, notes in chords)
    assert all(min(notes) >= 46 and max(notes) <= 76 for _, notes in chords)
    times = [row.seconds for row in played.truth]
    off_beat = [min(abs(t - s) for t in times) > 0.12 for s, _ in chords]
    assert 0.3 < statistics.mean(off_beat) < 0.75
    told = []
    for seconds, notes in chords:
        k = bisect.bisect_right(times, seconds + 0.25) - 1  # an anticipation belongs to the beat that follows
        chord = TUNE.chord_at(played.truth[k].chart_beat).chord
        guides = {chord.name_of(d).pc for d in chord.tones if d.number in (3, 7, 6)}
        told.append(len(guides & {n % 12 for n in notes}) >= min(2, len(guides)))
    assert statistics.mean(told) > 0.8


def test_the_right_hands_chords_stay_under_the_melody_and_in_its_gaps() -> None:
    line = {(float(n.beat) * 60 / 132) for n in TUNE.melody}
    played = simulate(a_tune(feel="straight"), "melody,chords", manner="clean", seed=3, choruses=1)
    chords = [(s, notes) for s, notes in clusters(played) if len(notes) > 1]
    assert len(chords) >= 8 and line
    alone = [s for s, notes in clusters(played) if len(notes) == 1]
    together = [s for s, notes in chords if min(abs(s - a) for a in alone) < 0.05]
    assert len(together) <= 0.2 * len(chords)


def test_a_loose_soloist_lies_behind_the_beat() -> None:
    late = []
    for seed in range(8):
        played = simulate(TUNE, "solo", manner="loose", seed=seed, choruses=2)
        late += [off for _, off, _ in written_beats(played) if abs(off) < 0.07]
    assert 0.006 < statistics.median(late) < 0.040


@pytest.mark.parametrize(("words", "says"), [
    ({"role": "tuba"}, "nobody plays 'tuba'"),
    ({"role": ""}, "choose among"),
    ({"manner": "drunk"}, "there is no player 'drunk'"),
])  # fmt: skip
def test_an_unknown_role_or_player_is_told_in_one_line(words: dict[str, str], says: str) -> None:
    with pytest.raises(UseError, match=says):
        simulate(TUNE, **words)  # type: ignore[arg-type]


def test_a_chart_without_a_melody_gives_a_melody_player_nothing_to_do() -> None:
    bare = Form(TUNE.metre, -1, True, 132, "swing", TUNE.length, TUNE.bars, TUNE.sections, TUNE.chords, ())
    with pytest.raises(UseError, match="nothing for melody to play"):
        simulate(bare)
    assert simulate(bare, "chords").heard


def clusters(played: SimulatedPerformance) -> list[tuple[float, list[int]]]:
    """Notes struck together: the moment, and the MIDI numbers."""
    found: list[tuple[float, list[int]]] = []
    for seconds, midi in onsets(played):
        if found and seconds - found[-1][0] < 0.04:
            found[-1][1].append(midi)
        else:
            found.append((seconds, [midi]))
    return found


def test_what_is_played_is_what_a_keyboard_sends() -> None:
    for h in simulate(TUNE).heard:
        assert isinstance(h, Heard) and h.status in (0x80, 0x90) and 0 < h.data2 < 128


def test_the_pedal_is_down_in_every_bar_and_up_where_the_next_begins() -> None:
    played = simulate(TUNE, manner="free", tempo=80)
    pedal = [(h.seconds, h.data2) for h in played.heard if (h.status, h.data1) == (0xB0, 64)]  # MIDI 1.0
    assert [value for _, value in pedal] == [127, 0] * 24
    bars = [row.seconds for row in played.beats if row.chart_beat % 4 == 0]
    assert all(bar < down < bar + 0.2 for bar, (down, _) in zip(bars, pedal[::2], strict=True))
    assert all(after < up < after + 0.05 for after, (up, _) in zip(bars[1:], pedal[1:-1:2], strict=True))


@pytest.mark.parametrize("words", [{"begin": 0.25}, {"begin": 96.0}, {"begin": -4.0}, {"choruses": 0}])
def test_a_place_to_begin_that_is_no_beat_of_the_form_is_refused(words: dict[str, Any]) -> None:
    with pytest.raises(UseError, match="begin on a beat of the form"):
        simulate(TUNE, **words)
