"""What a pianist notices: whether it is with them, through slips, leaps, tempi, metres and odd charts.

The pianist plays exactly in time, so that every beat that is not held is the companion's doing; 70 ms as in mir_eval's
``beat.f_measure``. Unless said the tempo is 120 and the first downbeat at second 2.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable
from typing import Any

import pytest

from companion.arrange.plan import arrange
from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.errors import ChartError
from companion.messages import Beat, Heard, Order, State
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

HELD = 0.070


def counted(tempo: float, **more: Any) -> Settings:
    return Settings(tempo=tempo, start=2.0, **more)


def beats(recording: Recording, after: float = 0.0) -> list[Beat]:
    return [r for r in recording.reports if isinstance(r, Beat) and r.seconds >= after]


def notes(recording: Recording, *parts: str) -> list[Order]:
    return [o for o in recording.orders if o.status == 0x90 and (not parts or o.part in parts)]


def names(recording: Recording) -> set[str]:
    return {r.name for r in recording.reports if isinstance(r, State)}


def truth(chart: Chart, *stretches: tuple[float, float, float, float]) -> list[tuple[float, float]]:
    """Chart beat and second of each beat of stretches as ``stand.melody`` takes them."""
    form = chart.unfold()
    pulse, length = float(form.metre.pulse), float(form.length)
    found = []
    for seconds, first, last, tempo in stretches:
        for k in range(round((last - first) / pulse)):
            found.append(((first + k * pulse) % length, seconds + k * pulse * 60 / tempo))
    return found


def lost(recording: Recording, true: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The true beats that were not sounded in time."""
    said = beats(recording)
    return [
        (beat, seconds)
        for beat, seconds in true
        if not any(abs(b.seconds - seconds) <= HELD and abs(b.chart_beat - beat) < 1e-6 for b in said)
    ]


# In time


@pytest.mark.parametrize("tempo", [40.0, 66.0, 120.0, 200.0, 300.0])
@pytest.mark.parametrize("count_in", [True, False])
def test_every_beat_is_held_from_40_to_300(stand: Any, tempo: float, count_in: bool) -> None:
    chart = stand.tune(tempo=tempo)
    whole = (2.0, 0.0, 64.0, tempo)
    told = counted(tempo) if count_in else Settings()
    recording = replay(chart, stand.melody(chart, whole), told, until=2.0 + 63.9 * 60 / tempo)
    missing = lost(recording, truth(chart, whole))
    assert not missing if count_in else all(beat < 8 for beat, _ in missing), "without a count-in, from the third bar"
    assert names(recording) == {"playing", "ended"}


@pytest.mark.parametrize(
    ("metre", "tempo", "bars"),
    [
        ("6/8", 180, "| D2E F2A | G2B d2B | c3 e2d | ^c6 | A2c B2G | F2A d2f | e3 c3 | B6 |"),
        ("3/4", 150, "| D2 F2 A2 | G2 B2 d2 | c3 d e2 | ^c6 | A2 c2 B2 | F3 A d2 | e2 c2 G2 | B6 |"),
        ("5/4", 150, "| D2F2A2c2A2 | G2B2d4B2 | c3de2c2G2 | ^c6A2E2 | A2c2B2G4 | F3Ad2f2e2 | e2c2G2A4 | B8 z2 |"),
        ("2/2", 200, "| D2 F2 A2 c2 | G4 B4 | c3 d e4 | ^c8 | A2 c2 B4 | F3 A d4 | e2 c2 G4 | B8 |"),
    ],
)
def test_other_metres_are_followed_as_well(stand: Any, metre: str, tempo: float, bars: str) -> None:
    chords = "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | % | G7 | Cmaj7 |"
    chart = stand.chart((chords, bars), metre=metre, tempo=tempo, feel="straight")
    length = float(chart.unfold().length)
    whole = (2.0, 0.0, 2 * length, tempo)
    recording = replay(chart, stand.melody(chart, whole), counted(tempo), until=2.0 + (2 * length - 0.1) * 60 / tempo)
    assert not lost(recording, truth(chart, whole))
    assert {o.part for o in notes(recording)} == {"bass", "chords"}
    assert {b.chorus for b in beats(recording)} == {1, 2}


@pytest.mark.parametrize("count_in", [True, False])
def test_a_pickup_lies_before_the_first_beat_and_in_the_last_bar_before_the_second_chorus(
    stand: Any, count_in: bool
) -> None:
    chart = stand.chart((stand.TEN[0], "GA" + stand.TEN[1]))
    heard = stand.melody(chart, (1.5, -1, 64, 120))
    told = counted(120.0) if count_in else Settings()
    recording = replay(chart, heard, told, until=33.9)
    missing = lost(recording, truth(chart, (2.0, 0, 64, 120)))
    assert not missing if count_in else all(beat < 4 for beat, _ in missing)
    assert all(0 <= b.chart_beat < 32 for b in beats(recording))


def test_a_tempo_that_creeps_is_gone_along_with(stand: Any) -> None:
    chart = stand.tune()
    bars, at = [], 2.0
    for n in range(16):
        bars.append((at, 4.0 * n, 4.0 * n + 4, 120.0 * 0.985**n))
        at += 240 / (120.0 * 0.985**n)
    recording = replay(chart, stand.melody(chart, *bars), counted(120.0), until=at - 0.05)
    assert len(lost(recording, truth(chart, *bars))) <= 1


# Coming in without a count-in


@pytest.mark.parametrize("first", [0.0, 32.0, 16.0])
def test_it_comes_in_within_two_bars_of_a_melody_from_wherever_it_begins(stand: Any, first: float) -> None:
    chart = stand.tune()
    stretch = (1.0, first, first + 24, 138.0)
    recording = replay(chart, stand.melody(chart, stretch), Settings(), until=1.0 + 24 * 60 / 138)
    assert not [(b, s) for b, s in lost(recording, truth(chart, stretch)) if b >= first + 8]


def test_it_comes_in_after_some_four_bars_of_comping_and_in_the_right_place(stand: Any) -> None:
    from companion.pianist.player import simulate

    chart, entrances = stand.tune(), []
    for seed in range(5):
        player = simulate(chart.unfold(), "chords", manner="clean", seed=seed)
        told = Settings(you=frozenset({"chords"}), parts=("bass", "melody"))
        said = beats(replay(chart, player.heard, told, until=player.truth[-1].seconds))
        entrances.append(said[0].chart_beat)
        true = {b.chart_beat: b.seconds for b in player.beats}
        lasting = [b for b in said if b.chart_beat >= 28]
        assert len(lasting) >= 34 and sum(abs(b.seconds - true[b.chart_beat]) < 0.15 for b in lasting) > 30
    assert sorted(entrances)[2] <= 18 and max(entrances) <= 24


# Slips and leaps


@pytest.mark.parametrize("every", [3, 4, 7])
def test_wrong_notes_do_not_make_it_leave(stand: Any, every: int) -> None:
    chart = stand.tune()
    heard = [
        Heard(h.seconds, h.status, h.data1 + (1, -1, 2)[n // 2 % 3] * (n // 2 % every == 2), h.data2)
        for n, h in enumerate(h for pair in _pairs(stand.melody(chart, (2.0, 0, 64, 120))) for h in pair)
    ]
    recording = replay(chart, sorted(heard, key=lambda h: h.seconds), counted(120.0), until=33.9)
    assert len(lost(recording, truth(chart, (2.0, 0, 64, 120)))) <= 2
    assert names(recording) == {"playing", "ended"}


def test_two_bars_of_nothing_but_wrong_notes_are_waited_out(stand: Any) -> None:
    chart = stand.tune()
    heard = [
        Heard(h.seconds, h.status, h.data1 + (6 if 17.9 < h.seconds < 22 else 0), h.data2)
        for h in stand.melody(chart, (2.0, 0, 64, 120))
    ]
    recording = replay(chart, heard, counted(120.0), until=33.9)
    assert not [row for row in lost(recording, truth(chart, (2.0, 0, 64, 120))) if not 32 <= row[0] < 44]
    assert names(recording) == {"playing", "ended"}


@pytest.mark.parametrize(
    ("leaves", "goes_on"),
    [(24, 28), (24, 32), (32, 0), (40, 32), (44, 12), (20, 48)],
    ids=[
        "a bar left out",
        "two bars left out",
        "to the top",
        "back two bars",
        "back eight bars",
        "on to the last line",
    ],
)
def test_a_skipped_bar_or_a_repeat_is_followed_within_a_few_beats(stand: Any, leaves: float, goes_on: float) -> None:
    chart = stand.tune()
    at = 2.0 + leaves / 2
    way = ((2.0, 0, leaves, 120), (at, goes_on, goes_on + 16, 120))
    recording = replay(chart, stand.melody(chart, *way), counted(120.0), until=at + 7.9)
    missing = lost(recording, truth(chart, *way))
    assert all(at <= seconds < at + 2.6 for _, seconds in missing), "five beats at most"


@pytest.mark.parametrize("pause", [1.0, 2.2, 3.0, 5.0, 5.13, 10.0])
@pytest.mark.parametrize("beat", [16, 20])
def test_after_a_stop_of_any_length_it_is_back_within_a_bar(stand: Any, beat: float, pause: float) -> None:
    """A stop of whole beats might as well be a leap: two or three beats of doubt, not more."""
    chart, at = stand.tune(), 2.0 + beat / 2
    way = ((2.0, 0, beat, 120), (at + pause, beat, beat + 16, 120))
    recording = replay(chart, stand.melody(chart, *way), counted(120.0), until=at + pause + 7.9)
    missing = lost(recording, truth(chart, *way))
    assert all(at + pause <= seconds < at + pause + 2.0 for _, seconds in missing)


def test_octaves_for_two_bars_disturb_nobody(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 64, 120))
    doubled = [Heard(h.seconds + 0.012, h.status, h.data1 - 12, h.data2) for h in heard if 9.9 < h.seconds < 14]
    recording = replay(chart, sorted([*heard, *doubled], key=lambda h: h.seconds), counted(120.0), until=33.9)
    assert not lost(recording, truth(chart, (2.0, 0, 64, 120)))


def test_chords_struck_together_under_the_melody_disturb_nobody(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 64, 120))
    under = [Heard(h.seconds, h.status, h.data1 - k, h.data2) for h in heard for k in (4, 9) if h.data1 % 2]
    told = counted(120.0, you=frozenset({"melody", "chords"}), parts=("bass",))
    recording = replay(chart, sorted([*under, *heard], key=lambda h: h.seconds), told, until=33.9)
    assert len(lost(recording, truth(chart, (2.0, 0, 64, 120)))) <= 2


# The keyboard's ways


def test_pedals_and_note_offs_however_written_change_nothing(stand: Any) -> None:
    """A note-on of velocity 0 is a note-off (MIDI 1.0)."""
    chart = stand.tune()
    plain = stand.melody(chart, (2.0, 0, 32, 120))
    pedal = [Heard(2.0 + n, 0xB0, 64, 127 * (n % 2)) for n in range(16)]
    zeros = [Heard(h.seconds, 0x90 if h.status == 0x80 else h.status, h.data1, h.data2) for h in plain]
    onsets = [h for h in plain if h.is_note_on]
    told = counted(120.0)
    as_is = replay(chart, plain, told, until=18.0)
    for heard in (zeros, onsets, sorted([*plain, *pedal], key=lambda h: h.seconds)):
        other = replay(chart, heard, told, until=18.0)
        assert (other.orders, other.reports) == (as_is.orders, as_is.reports)


@pytest.mark.parametrize(("velocity", "other"), [(5, 64), (64, 120)])
def test_a_whisper_is_followed_like_a_shout_and_answered_in_kind(stand: Any, velocity: int, other: int) -> None:
    chart = stand.tune()
    softer, louder = (
        replay(chart, stand.melody(chart, (2.0, 0, 64, 120), velocity=v), counted(120.0), until=33.9)
        for v in (velocity, other)
    )
    assert beats(softer) == beats(louder)
    for part in ("bass", "chords"):
        soft, loud = ([o.data2 for o in notes(one, part) if o.seconds > 4] for one in (softer, louder))
        assert all(a < b for a, b in zip(soft, loud, strict=True))


def test_its_loudness_goes_with_the_players_within_two_beats(stand: Any) -> None:
    chart = stand.chart(("| Cmaj7 | % | % | % | % | % | % | % |", "| " + "cdef gfed | " * 8))
    heard = [
        Heard(h.seconds, h.status, h.data1, 30 if h.seconds < 9.99 else 110) if h.is_note_on else h
        for h in stand.melody(chart, (2.0, 0, 32, 120))
    ]
    recording = replay(chart, heard, counted(120.0, treatment="walking"), until=17.9)
    bass = {round((o.seconds - 2) * 2): o.data2 for o in notes(recording, "bass")}
    before, after = bass[13], bass[28]
    assert after - before > 25
    assert bass[18] > (before + after) / 2, "more than half the way in two beats"


def test_notes_at_one_moment_come_in_any_order(stand: Any) -> None:
    chart = stand.tune()
    plain = stand.melody(chart, (2.0, 0, 64, 120))
    both = sorted([*plain, *stand.melody(chart, (2.0, 0, 64, 120))], key=lambda h: h.seconds)
    assert not lost(replay(chart, both, counted(120.0), until=33.9), truth(chart, (2.0, 0, 64, 120)))


# Odd charts


@pytest.mark.parametrize(("melody", "choruses"), [("| D2 F2 A2 c2 |", 8), ("| D8 |", 8)], ids=["a riff", "one note"])
def test_a_form_of_one_bar_goes_round(stand: Any, melody: str, choruses: int) -> None:
    chart = stand.chart(("| Dm7 |", melody))
    whole = (2.0, 0.0, 4.0 * choruses, 120.0)
    recording = replay(chart, stand.melody(chart, whole), counted(120.0), until=1.9 + 2 * choruses)
    assert not lost(recording, truth(chart, whole))
    assert [b.chorus for b in beats(recording)] == [1 + n // 4 for n in range(4 * choruses)]


@pytest.mark.parametrize("chords", ["", "| N.C. | % | % | % | % | % | % | % |"], ids=["no chords", "N.C."])
@pytest.mark.parametrize("you", ["melody", "chords", "solo"])
def test_without_chords_the_melody_is_followed_and_no_chord_is_made_up(stand: Any, chords: str, you: str) -> None:
    chart = stand.chart((chords, stand.TEN[1]))
    heard = stand.melody(chart, (2.0, 0, 32, 120))
    told = counted(120.0, you=frozenset({you}), parts=("chords", "bass") if you != "chords" else ("bass",))
    recording = replay(chart, heard, told, until=17.9)
    if you == "melody":
        assert not lost(recording, truth(chart, (2.0, 0, 32, 120)))
    assert beats(recording) and not notes(recording, "chords")


def test_a_melody_over_a_chart_without_one_is_followed_by_its_chords(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], ""))
    heard = stand.melody(stand.chart(stand.TEN), (2.0, 0, 64, 120))
    recording = replay(chart, heard, counted(120.0), until=33.9)
    assert len(lost(recording, truth(chart, (2.0, 0, 64, 120)))) <= 3


@pytest.mark.parametrize("metre", ["1/4", "3/8", "7/8", "2/1"])
@pytest.mark.parametrize("you", ["melody", "chords", "bass", "solo"])
def test_bars_of_any_length_are_followed_by_any_role(stand: Any, metre: str, you: str) -> None:
    chart = stand.chart(("| Dm7 |", ""), metre=metre)
    heard = [h for n in range(24) for h in stand.strike(2.0 + n / 4, 62 + n % 12)]
    recording = replay(chart, heard, counted(120.0, you=frozenset({you}), parts=("bass", "chords")), until=9.0)
    assert beats(recording)


def test_a_form_shorter_than_a_beat_is_a_fault_of_the_chart(stand: Any) -> None:
    with pytest.raises(ChartError, match="form: the form is shorter than one beat"):
        replay(stand.chart(("| Dm7 |", ""), metre="1/8"), [], Settings())


def test_a_form_of_five_hundred_bars_is_followed(stand: Any) -> None:
    chart = stand.chart(stand.TEN, stand.ANSWER, form=" ".join(["A B"] * 31))
    way = ((2.0, 0, 32, 120),)
    recording = replay(chart, stand.melody(chart, *way), counted(120.0, parts=("bass",)), until=17.9)
    assert not lost(recording, truth(chart, *way))


# What it plays


def test_the_choruses_asked_for_are_played_and_then_it_ends(stand: Any) -> None:
    chart = stand.chart(stand.TEN)
    heard = stand.melody(chart, (2.0, 0, 96, 120))
    recording = replay(chart, heard, counted(120.0, choruses=2), until=50.0)
    assert len(beats(recording)) == 64 and {b.chorus for b in beats(recording)} == {1, 2}
    ended = [r.seconds for r in recording.reports if isinstance(r, State) and r.name == "ended"]
    assert ended == [pytest.approx(34.0, abs=0.1)]
    assert max(o.seconds for o in recording.orders) <= 34.1


def test_it_can_carry_the_melody_over_comping(stand: Any) -> None:
    from companion.pianist.player import simulate

    chart = stand.tune()
    player = simulate(chart.unfold(), "chords", manner="clean", seed=1)
    told = Settings(you=frozenset({"chords"}), parts=("melody", "bass"), tempo=player.tempo, start=player.start)
    recording = replay(chart, player.heard, told, until=player.truth[-1].seconds)
    sung = [o.data1 for o in notes(recording, "melody")]
    written = [n.pitch.midi for n in chart.unfold().melody]
    assert sung == written[: len(sung)] and len(sung) >= len(written) - 1


def test_the_click_marks_every_beat_and_each_first_of_a_bar(stand: Any) -> None:
    chart = stand.tune()
    told = counted(120.0, you=frozenset({"melody", "chords", "bass"}), parts=("click",))
    recording = replay(chart, stand.melody(chart, (2.0, 0, 32, 120)), told, until=17.9)
    clicks = notes(recording, "click")
    assert [o.seconds for o in clicks] == [b.seconds for b in beats(recording)]
    high = clicks[0].data1
    assert [o.data1 == high for o in clicks] == [b.chart_beat % 4 == 0 for b in beats(recording)]


def test_the_first_of_a_bar_is_the_charts_own_where_bars_differ(stand: Any) -> None:
    chart = parse_toml(
        'format = 1\ntitle = "Short Change"\nkey = "C"\nmetre = "4/4"\ntempo = 120\nform = "A"\n'
        '[section.A]\nbar_metres = { 2 = "2/4" }\nchords = "| C6 | G7 | C6 |"\n'
    )
    assert [float(bar) for bar in chart.unfold().bars] == [0, 4, 6]
    recording = replay(chart, [], counted(120.0, time="steady", parts=("click",)), until=11.9)
    clicks = [o.data1 for o in notes(recording, "click")]
    assert [n for n, pitch in enumerate(clicks) if pitch == clicks[0]] == [0, 4, 6, 10, 14, 16]


def test_with_nothing_to_play_it_still_says_the_beats(stand: Any) -> None:
    chart = stand.tune()
    told = counted(120.0, you=frozenset({"melody", "chords", "bass"}), parts=())
    recording = replay(chart, stand.melody(chart, (2.0, 0, 64, 120)), told, until=33.9)
    assert not recording.orders and not lost(recording, truth(chart, (2.0, 0, 64, 120)))


def test_a_performance_of_no_notes_leaves_it_waiting_or_counting_on_and_then_holding(stand: Any) -> None:
    chart = stand.tune()
    assert replay(chart, [], Settings()).orders == ()
    assert not beats(replay(chart, [], Settings(), until=30.0))
    counted_in = replay(chart, [], counted(120.0), until=30.0)
    assert [r.name for r in counted_in.reports if isinstance(r, State)] == ["playing", "thinning", "holding", "ended"]
    only_pedal = replay(chart, [Heard(3.0, 0xB0, 64, 127)], counted(120.0), until=30.0)
    assert only_pedal.orders == counted_in.orders


def test_what_is_played_after_the_end_is_kept_and_not_answered(stand: Any) -> None:
    chart = stand.chart(stand.TEN)
    heard = stand.melody(chart, (2.0, 0, 48, 120))
    recording = replay(chart, heard, counted(120.0, choruses=1))
    assert recording.heard == tuple(heard)
    assert max(o.seconds for o in recording.orders) <= 18.1


# The same again


def _pairs(heard: list[Heard]) -> list[tuple[Heard, Heard]]:
    """Each note-on with its note-off."""
    offs = [h for h in heard if h.status == 0x80]
    return [
        (on, next(off for off in offs if off.data1 == on.data1 and off.seconds > on.seconds))
        for on in heard
        if on.is_note_on
    ]


def test_another_seed_plays_other_notes_at_the_same_moments(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 64, 120))
    one, same, other = (replay(chart, heard, counted(120.0, seed=seed), until=33.9) for seed in (1, 1, 2))
    assert one == same
    assert beats(one) == beats(other) and one.orders != other.orders


def test_the_same_seed_gives_the_same_bytes_in_every_process(stand: Any, tmp_path: Any) -> None:
    from companion.chart.toml.write import write_toml
    from companion.stage.performance import write_recording

    chart, take = tmp_path / "ten.toml", tmp_path / "take.mid"
    chart.write_text(write_toml(stand.tune()), encoding="utf-8")
    write_recording(take, stand.melody(stand.tune(), (2.0, 0, 40, 120), (24.0, 16, 32, 112)), ())
    wrote = []
    for n, seed_of_hashes in enumerate(("1", "99")):
        out = [tmp_path / f"{name}-{n}" for name in ("out.mid", "beats.csv", "trace.jsonl")]
        words = [sys.executable, "-c", "from companion.cli import main; main()", "replay", chart, take, "--seed", "5"]
        words += ["--out", out[0], "--beats", out[1], "--trace", out[2]]
        subprocess.run(words, check=True, env=os.environ | {"PYTHONHASHSEED": seed_of_hashes}, capture_output=True)
        wrote.append([path.read_bytes() for path in out])
    assert wrote[0] == wrote[1] and all(wrote[0])


def test_whoever_comps_what_is_written_is_found_without_a_count_in(stand: Any) -> None:
    # A blues, whose harmony alone says little about the place.
    chords = "| F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7 |"
    written = write_arrangement(stand.chart((chords, "")), parts=("chords",), treatment="solos", seed=2)
    form = written.unfold()
    comped = [note for note in arrange(form, "chords") if note.beat >= 0]
    heard = [
        event
        for chorus in (0, 1)
        for note in comped
        for event in stand.strike(2 + float(note.beat + chorus * form.length) / 2, note.midi, float(note.length) / 2.5)
    ]
    heard.sort(key=lambda h: (h.seconds, h.status))
    recording = replay(written, heard, Settings(you=frozenset({"chords"}), parts=("bass",)))
    second_chorus = [(float(beat), 2 + (48 + beat) / 2) for beat in range(48)]
    assert len(lost(recording, second_chorus)) <= 2


def test_a_pickup_without_a_count_in_begins_the_first_chorus(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], "G2 A2 " + stand.TEN[1].lstrip()))
    assert chart.unfold().pickup == 2
    heard = stand.melody(chart, (3.0, -2, 64, 120))
    said = beats(replay(chart, heard, Settings(choruses=1, parts=("bass",)), until=40.0))
    assert {b.chorus for b in said} == {1} and said[-1].chart_beat == 31
