"""The companion reacts: to how busy the player is, how loud, where they rest, and what they sound.

What is expected of an accompanist here is common practice: leave room for a busy soloist, answer in the gaps, and give
way to the player's chord.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import pytest

from companion.arrange.harmony import harmonies
from companion.messages import Heard, Order
from companion.stage.band import Band
from companion.stage.reactions import Reactions
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

START, TEMPO = 2.0, 120.0
BEAT = 60 / TEMPO


def rehearse(chart: Any, heard: Sequence[Heard], you: str, *parts: str, until: float | None = None) -> Recording:
    told = Settings(
        you=frozenset(you.split(",")),
        parts=parts,
        tempo=TEMPO,
        start=START,
        treatment="walking",
    )
    return replay(chart, sorted(heard, key=lambda h: (h.seconds, h.status)), told, until=until)


def struck(recording: Recording, part: str, low: float = 0.0, high: float = 1e9) -> list[Order]:
    """The notes of a part that begin between two beats."""
    at = [START + low * BEAT - 0.05, START + high * BEAT - 0.05]
    return [o for o in recording.orders if o.part == part and o.status == 0x90 and at[0] <= o.seconds < at[1]]


def hits(recording: Recording, part: str, low: float = 0.0, high: float = 1e9) -> int:
    """How many moments a part is struck at; the notes of a chord lie a few milliseconds apart."""
    moments = sorted(o.seconds for o in struck(recording, part, low, high))
    return sum(after - before > 0.03 for before, after in pairwise([0.0, *moments]))


def held(recording: Recording, part: str) -> list[tuple[float, float, int]]:
    """Beginning and end of each note in beats, and its pitch."""
    on: dict[int, float] = {}
    found = []
    for o in sorted(recording.orders, key=lambda o: (o.seconds, o.status)):
        if o.part == part and o.status == 0x90:
            on[o.data1] = o.seconds
        elif o.part == part and o.data1 in on:
            found.append(((on.pop(o.data1) - START) / BEAT, (o.seconds - START) / BEAT, o.data1))
    return found


# As written


def test_who_plays_what_is_written_is_accompanied_as_arranged(stand: Any) -> None:
    chart = stand.tune()
    recording = rehearse(chart, stand.melody(chart, (START, 0, 64, TEMPO)), "melody", "chords", "bass")
    plan = Band(chart.unfold(), Settings(treatment="walking"))
    for part in ("chords", "bass"):
        arranged = sorted(n.midi for n in plan.planned(part, 0) if 0 <= n.beat < 60)
        assert sorted(o.data1 for o in struck(recording, part, 0, 60)) == arranged


# Busy


CHANGES = "| Cmaj7 | % | Fmaj7 | % | Dm7 | % | G7 | % |"


def line(stand: Any, low: float, high: float, step: float) -> list[Heard]:
    """A line of even notes on the white keys."""
    scale = (72, 74, 76, 77, 79, 81, 83, 84)
    count = int((high - low) / step)
    notes = ((START + (low + n * step) * BEAT, scale[(3 * n) % 8 if n % 3 else n % 8]) for n in range(count))
    return [h for at, midi in notes for h in stand.strike(at, midi, 0.8 * step * BEAT)]


def test_chords_thin_out_behind_a_running_line(stand: Any) -> None:
    chart = stand.chart((CHANGES, ""))
    calm = rehearse(chart, line(stand, 0, 96, 1.0), "solo", "chords", "bass")
    busy = rehearse(chart, line(stand, 0, 96, 0.5), "solo", "chords", "bass")
    assert hits(busy, "chords", 8, 96) < 0.6 * hits(calm, "chords", 8, 96)
    voices = [len(struck(r, "chords", 8, 96)) / hits(r, "chords", 8, 96) for r in (calm, busy)]
    assert voices[1] <= 2.5 < 3 < voices[0], "and of those that are left only what says the chord is kept"


def test_who_adds_to_the_melody_gets_fewer_chords_while_they_do(stand: Any) -> None:
    chart = stand.chart(stand.ANSWER, stand.ANSWER, stand.ANSWER)
    melody = stand.melody(chart, (START, 0, 96, TEMPO))
    plain = rehearse(chart, melody, "melody", "chords", "bass")
    frills = [h for n in range(32 * 4) for h in stand.strike(START + (32.13 + n / 4) * BEAT, 84 + n % 3, 0.05)]
    adorned = rehearse(chart, [*melody, *frills], "melody", "chords", "bass")
    assert hits(adorned, "chords", 36, 64) < 0.7 * hits(plain, "chords", 36, 64)
    assert hits(adorned, "chords", 70, 96) == hits(plain, "chords", 70, 96)


# Dynamics


@pytest.mark.parametrize(("soft", "loud"), [(45, 95), (100, 50)])
def test_the_level_is_most_of_the_way_to_the_players_within_two_beats(stand: Any, soft: int, loud: int) -> None:
    chart = stand.tune(feel="straight")
    before = stand.melody(chart, (START, 0, 32, TEMPO), velocity=soft)
    after = stand.melody(chart, (START + 32 * BEAT, 32, 60, TEMPO), velocity=loud)
    bass = struck(rehearse(chart, [*before, *after], "melody", "bass"), "bass")
    level = {round((o.seconds - START) / BEAT): o.data2 for o in bass}
    settled, aim = (sum(level[n] for n in beats) / 8 for beats in (range(24, 32), range(44, 52)))
    then = (level[34] + level[35]) / 2
    assert (then - settled) / (aim - settled) > 0.7
    assert abs(aim - settled) > 20


# Answering


def test_the_chords_answer_in_a_rest_that_is_not_written(stand: Any) -> None:
    song = ("| Cmaj7 | % | Dm7 | G7 | Em7 | A7 | Dm7 | G7 |", "| cdef gfed | efga bagf | fgab c'bag | gfed gfed |" * 2)
    chart = stand.chart(song, song)
    melody = stand.melody(chart, (START, 0, 64, TEMPO))
    without = [h for h in melody if not 16 <= (h.seconds - START) / BEAT + 0.01 < 20]
    plain = rehearse(chart, melody, "melody", "chords", "bass")
    rested = rehearse(chart, without, "melody", "chords", "bass")
    assert hits(rested, "chords", 17, 20.5) > hits(plain, "chords", 17, 20.5)
    added = struck(rested, "chords", 17, 20.5)
    em7 = {4, 7, 11, 2, 6, 9, 0}
    assert added and all(o.data1 % 12 in em7 for o in added)


def test_an_answer_lies_under_the_note_that_is_held_longer_than_written(stand: Any) -> None:
    song = ("| Cmaj7 | % | Dm7 | G7 | Em7 | A7 | Dm7 | G7 |", "| cdef gfed | efga bagf | fgab c'bag | gfed gfed |" * 2)
    chart = stand.chart(song, song)
    melody = [h for h in stand.melody(chart, (START, 0, 64, TEMPO)) if not 16 < (h.seconds - START) / BEAT < 20]
    melody = [h for h in melody if not (h.data1 == 72 and abs(h.seconds - START - 16.4 * BEAT) < 0.3 * BEAT)]
    long = stand.strike(START + 16 * BEAT, 72, 3.9 * BEAT)
    recording = rehearse(chart, [*melody, *long], "melody", "chords")
    answer = struck(recording, "chords", 17, 20)
    assert answer and all(o.data1 < 72 and 72 - o.data1 not in (1, 13) for o in answer)


# Another chord than the chart's

OURS = {"Cmaj7": (52, 55, 59, 62), "Fmaj7": (52, 55, 57, 60), "Dm7": (53, 57, 60, 64), "G7": (53, 57, 59, 64)}
INSTEAD = {
    "minor for major": {"Cmaj7": (51, 55, 58, 62), "Fmaj7": (51, 56, 60, 63)},
    "a dominant for the second degree": {"Dm7": (54, 57, 60, 64)},
    "the dominant on the other side of the circle": {"G7": (49, 53, 56, 59)},
}


def comped(stand: Any, instead: dict[str, tuple[int, ...]]) -> list[Heard]:
    """Chords held for two bars each, four choruses of eight bars."""
    heard: list[Heard] = []
    for n in range(16):
        name = ("Cmaj7", "Fmaj7", "Dm7", "G7")[n % 4]
        for midi in instead.get(name, OURS[name]):
            heard += stand.strike(START + 8 * n * BEAT, midi, 7.8 * BEAT)
    return heard


def rubs(chart: Any, recording: Recording, part: str, sounds: dict[str, tuple[int, ...]]) -> list[float]:
    """How long, in beats, each of the companion's notes lies a semitone from one that the chart didn't foresee."""
    form, found = chart.unfold(), []
    for begin, end, midi in held(recording, part):
        for n in range(int(begin // 8), int(end // 8) + 1):
            harmony = harmonies(form)[n % 4]
            player = {m % 12 for m in sounds.get(harmony.chord.symbol, OURS[harmony.chord.symbol])}
            strange = {pc for pc in player if pc not in harmony.tones and pc not in harmony.scale}
            if midi % 12 not in player and any((midi - pc) % 12 in (1, 11) for pc in strange):
                found.append(min(end, 8 * n + 7.8) - max(begin, 8 * n))
    return [one for one in found if one > 0.05]


@pytest.mark.parametrize("what", list(INSTEAD))
@pytest.mark.parametrize("part", ["bass", "chords"])
def test_nothing_clashes_for_longer_than_a_beat_with_another_chord(
    stand: Any, what: str, part: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    chart = stand.chart((CHANGES, ""))
    heard = comped(stand, INSTEAD[what])
    listening = rubs(chart, rehearse(chart, heard, "chords", part), part, INSTEAD[what])
    with monkeypatch.context() as patch:
        patch.setattr(Reactions, "judged", lambda self, now, cue, *rest: cue.note)
        patch.setattr(Reactions, "yields", lambda self, *rest: [])
        deaf = rubs(chart, rehearse(chart, heard, "chords", part), part, INSTEAD[what])
    assert sum(deaf) > 2 and sum(listening) < 0.35 * sum(deaf)
    assert max(listening, default=0.0) <= 1.0


def test_a_melody_note_that_clashes_is_struck_and_not_dwelt_on(stand: Any) -> None:
    chart = stand.chart((CHANGES, "| e8 | e8 | a8 | e8 | f8 | d8 | B8 | d8 |"))
    plain = held(rehearse(chart, comped(stand, {}), "chords", "melody", "bass"), "melody")
    minor = held(rehearse(chart, comped(stand, INSTEAD["minor for major"]), "chords", "melody", "bass"), "melody")
    assert [midi for _, _, midi in minor] == [midi for _, _, midi in plain]
    for (begin, end, midi), (_, written, _) in zip(minor, plain, strict=True):
        clashing = midi in (76, 81) and round(begin) % 32 < 16
        assert end - begin <= 1.0 if clashing else end == pytest.approx(written, abs=0.1)


def test_the_bass_goes_to_the_root_of_a_tritone_substitute(stand: Any) -> None:
    chart = stand.chart((CHANGES, ""))
    recording = rehearse(chart, comped(stand, {"G7": (37, 53, 56, 59)}), "chords", "bass")
    bars = [o.data1 % 12 for n in range(4) for o in struck(recording, "bass", 8 * (4 * n + 3) + 1, 8 * (4 * n + 4))]
    assert bars.count(1) > 2 * bars.count(7)


def test_chords_as_charted_are_left_alone(stand: Any) -> None:
    chart = stand.chart((CHANGES, ""))
    recording = rehearse(chart, comped(stand, {}), "chords", "bass")
    plan = Band(chart.unfold(), Settings(you=frozenset({"chords"}), treatment="walking"))
    for time in range(3):
        arranged = [n.midi for n in plan.planned("bass", 32 * time)]
        assert [o.data1 for o in struck(recording, "bass", 32 * time, 32 * time + 32)] == arranged


def test_a_chromatic_run_is_no_other_chord(stand: Any) -> None:
    chart = stand.chart((CHANGES, ""))
    run = [h for n in range(64) for h in stand.strike(START + n / 2 * BEAT, 67 + n % 12, 0.2)]
    deaf = Band(chart.unfold(), Settings(you=frozenset({"solo"}), treatment="walking"))
    recording = rehearse(chart, run, "solo", "bass")
    arranged = [n.midi for n in deaf.planned("bass", 0)]
    assert [o.data1 for o in struck(recording, "bass", 0, 31.9)] == arranged[: len(struck(recording, "bass", 0, 31.9))]


def test_an_ornament_of_the_melody_is_no_other_chord(stand: Any) -> None:
    chart = stand.tune()
    melody = stand.melody(chart, (START, 0, 64, TEMPO))
    # Before each note its neighbours from above and below, as fast as a hand can: outside the chord, many of them.
    graces = [
        h
        for note in melody
        if note.is_note_on
        for n, step in enumerate((1, -1, 1))
        for h in stand.strike(note.seconds - 0.08 + n * 0.025, note.data1 + step, 0.02)
    ]
    plain = rehearse(chart, melody, "melody", "bass")
    adorned = rehearse(chart, [*melody, *graces], "melody", "bass")
    assert [o.data1 for o in struck(adorned, "bass", 3.6, 59.6)] == [o.data1 for o in struck(plain, "bass", 3.6, 59.6)]
