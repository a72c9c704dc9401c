"""A whole tune: introduction, head, solos, head, ending; followed through, and brought to its end by the player.

The pianist plays exactly in time, so that every beat that is not held is the companion's doing; 70 ms as in mir_eval's
``beat.f_measure``. Unless said the tempo is 120 and the first downbeat of the head at second 14, after an introduction
of four bars and a bar of count-in. That solos are cued out by a sign, that endings slow down and are held, is common
practice.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from companion.arrange.events import Stretch
from companion.chart.model import Chart, Event
from companion.messages import Beat, Heard, State
from companion.music.swing import to_sounding
from companion.stage.from_the_top import signals_of
from companion.stage.order import OrderOfEvents, leads, parts, roles
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings

START = 14.0
TEMPO = 120.0
WHOLE = (
    Event("introduction", how="vamp", bars=4),
    Event("head"),
    Event("solos", 2, "solos"),
    Event("head"),
    Event("ending", how="tag"),
)


def tune(stand: Any, *events: Event) -> Chart:
    return replace(stand.chart(stand.TEN), events=events or WHOLE)


def told(order: str = "chart", **more: Any) -> Settings:
    return Settings(**{"tempo": TEMPO, "start": START, "count_in": 1, "order": order, **more})


def at(beat: float) -> float:
    """When a beat through the choruses is due."""
    return START + beat * 60 / TEMPO


def played(stand: Any, chart: Chart, stretches: Sequence[Stretch], *kinds: str, seed: int = 1) -> list[Heard]:
    """The melody in heads and endings, chord notes in quavers in solo choruses, swung two to one; rests elsewhere."""
    dice, form = random.Random(seed), chart.unfold()
    heard: list[Heard] = []
    for stretch in stretches:
        begin, length = float(stretch.start), float(stretch.length)
        if stretch.kind not in (kinds or ("head", "solos", "ending")):
            continue
        if stretch.kind == "solos":
            for n in range(int(2 * length) - 2):
                if dice.random() < 0.7:
                    pitches = form.chord_at(n / 2).chord.pitch_classes
                    heard += stand.strike(at(begin + to_sounding(n / 2, 2.0)), 60 + dice.choice(pitches))
        else:
            for note in stretch.form.melody:
                heard += stand.strike(at(begin + to_sounding(note.beat, 2.0)), note.pitch.midi)
    return sorted(heard, key=lambda h: (h.seconds, h.status))


def pedal(down: float, up: float) -> list[Heard]:
    """The soft pedal (controller 67 in MIDI 1.0) between two beats through the choruses."""
    return [Heard(at(down), 0xB0, 67, 127), Heard(at(up), 0xB0, 67, 0)]


def with_gestures(heard: list[Heard], *gestures: list[Heard]) -> list[Heard]:
    return sorted([*heard, *itertools.chain(*gestures)], key=lambda h: (h.seconds, h.status))


def beats(recording: Recording) -> list[Beat]:
    return [r for r in recording.reports if isinstance(r, Beat)]


def events(recording: Recording) -> list[str]:
    """The events as they were reported, one after the other."""
    found = [(r.event, r.time) for r in recording.reports if isinstance(r, State)]
    return [f"{event} {time}" for event, time in [key for key, _ in itertools.groupby(found)]]


def lost(recording: Recording, chart: Chart) -> list[Beat]:
    """Beats sounded more than 70 ms from where they were due."""
    length = float(chart.unfold().length)
    return [b for b in beats(recording) if abs(b.seconds - at((b.chorus - 1) * length + b.chart_beat)) > 0.07]


def sounding(recording: Recording) -> set[tuple[str, int]]:
    """What is left sounding at the end."""
    on: set[tuple[str, int]] = set()
    for order in sorted(recording.orders, key=lambda o: o.seconds):
        key = order.part, order.data1
        on = on | {key} if order.status == 0x90 else on - {key}
    return on


def plan(chart: Chart, settings: Settings) -> OrderOfEvents:
    return OrderOfEvents(chart.unfold(), settings, chart)


# The whole tune


@pytest.fixture(scope="module")
def whole(stand: Any) -> Recording:
    """The whole tune, played through."""
    chart, settings = tune(stand), told()
    return replay(chart, played(stand, chart, plan(chart, settings).plan), settings, until=at(5 * 32 + 60))


def test_a_tune_is_followed_from_introduction_to_ending(stand: Any, whole: Recording) -> None:
    chart, recording = tune(stand), whole
    assert events(recording) == ["introduction 1", "head 1", "solos 1", "solos 2", "head 1", "ending 1"]
    assert len(lost(recording, chart)) <= 4
    assert not sounding(recording)


def test_its_beats_are_called_as_musicians_count_them(whole: Recording) -> None:
    """An introduction lies below 0, each chorus starts again at 0, an ending lies above the form's length."""
    said = beats(whole)
    by_event = {
        key: [b.chart_beat for b in group] for key, group in itertools.groupby(said, key=lambda b: (b.event, b.chorus))
    }
    assert list(by_event) == [
        ("introduction", 1), ("head", 1), ("solos", 2), ("solos", 3), ("head", 4), ("ending", 4)
    ]  # fmt: skip
    assert by_event["introduction", 1] == [float(n) for n in range(-16, 0)]
    assert all(by_event[key] == [float(n) for n in range(32)] for key in by_event if key[0] in ("head", "solos"))
    assert by_event["ending", 4] == [float(n) for n in range(32, 65)], "eight bars of tag and the last chord"


def test_an_introduction_is_the_companions_and_keeps_the_tempo_counted_in(stand: Any) -> None:
    chart, settings = tune(stand), told()
    recording = replay(chart, [], settings, until=at(-0.1))
    moments = [b.seconds for b in beats(recording)]
    assert moments == pytest.approx([at(n) for n in range(-16, 0)], abs=1e-3)
    assert {o.part for o in recording.orders} == {"click", "chords", "bass"}
    clicks = [o.seconds for o in recording.orders if o.part == "click" and o.status == 0x90]
    assert clicks == pytest.approx([at(n) for n in range(-20, -16)], abs=1e-3), "the count-in comes before it"
    assert all(b.sure > 0.9 for b in beats(recording)), "where nobody else plays, it knows where it is"


def test_patience_leads_through_an_introduction_as_sure_as_ever_and_waits_for_the_head(stand: Any) -> None:
    chart, late = tune(stand), 2.0
    heard = stand.melody(chart, (START + late, 0.0, 16.0, TEMPO))
    said = beats(replay(chart, heard, told(time="patient"), until=START + late + 7))
    before = [beat for beat in said if beat.event == "introduction"]
    assert len(before) == 16 and min(beat.sure for beat in before) > 0.9
    first = next(beat for beat in said if beat.event == "head")
    assert first.chart_beat == 0 and first.seconds == pytest.approx(START + late, abs=0.07), "it is waited for"


def test_who_takes_the_introduction_faster_takes_the_companion_along(stand: Any) -> None:
    """The player of the bass pushes from the first bar on; the companion's beat goes with them."""
    chart = tune(stand)
    settings = told(you=frozenset({"bass"}), parts=("chords",))
    roots = [60 - 24, 57 - 24, 62 - 24, 55 - 24]
    heard = [h for n in range(16) for h in stand.strike(at(-16) + n * 60 / 126, roots[n // 2 % 4])]
    said = beats(replay(chart, heard, settings, until=at(-16) + 15.2 * 60 / 126))
    off = [b.seconds - (at(-16) + (b.chart_beat + 16) * 60 / 126) for b in said]
    assert max(abs(d) for d in off[6:]) < 0.07


def test_in_solo_choruses_the_player_of_the_melody_is_followed_whether_they_were_announced_or_not(stand: Any) -> None:
    """Told that the melody goes round and round, the follower hears a solo for what it is."""
    chart = tune(stand, Event("head"), Event("solos", 2, "solos"), Event("ending"))
    stretches = plan(chart, told()).plan
    heard = played(stand, chart, stretches)
    followed = replay(chart, heard, told(), until=at(100))
    assert len(lost(followed, chart)) <= 3
    as_melody = replay(chart, heard, told("form"), until=at(100))
    assert len(lost(as_melody, chart)) <= 3


def test_the_bands_solo_choruses_are_played_as_the_chart_treats_them(stand: Any) -> None:
    sparse = tune(stand, Event("head", treatment="walking"), Event("solos", 1, "sparse"), Event("ending"))
    settings = told(parts=("bass",))
    recording = replay(sparse, played(stand, sparse, plan(sparse, settings).plan), settings, until=at(90))
    bass = [o for o in recording.orders if o.part == "bass" and o.status == 0x90]
    walked = [o for o in bass if at(0) - 0.1 < o.seconds < at(32) - 0.1]
    held = [o for o in bass if at(32) - 0.1 < o.seconds < at(64) - 0.1]
    assert len(walked) >= 30 and len(held) <= 16


def test_without_a_count_in_the_player_begins_with_the_head(stand: Any) -> None:
    chart = tune(stand)
    stretches = plan(chart, told()).plan
    heard = played(stand, chart, stretches, "head", "solos")
    recording = replay(chart, heard, told(tempo=None, start=None, count_in=0), until=at(60))
    assert events(recording)[:2] == ["head 1", "solos 1"]
    assert beats(recording)[0].chorus == 1


# The last time, told at the keyboard


def test_the_soft_pedal_over_a_bar_line_in_a_solo_brings_the_head_next(stand: Any) -> None:
    chart, settings = tune(stand), told()
    short = plan(chart, settings)
    assert short.tell(40.0)
    heard = with_gestures(played(stand, chart, short.plan), pedal(42.5, 45.0))
    recording = replay(chart, heard, settings, until=at(5 * 32))
    assert events(recording) == ["introduction 1", "head 1", "solos 1", "head 1", "ending 1"]
    assert next(b.chorus for b in beats(recording) if b.event == "ending") == 3
    understood = [r for r in recording.reports if isinstance(r, State) and r.last]
    assert understood and understood[0].seconds == pytest.approx(at(45.0), abs=0.01)
    assert len(lost(recording, chart)) <= 4


def test_told_twice_it_is_taken_back(stand: Any) -> None:
    chart, settings = tune(stand), told()
    stretches = plan(chart, settings).plan
    heard = with_gestures(played(stand, chart, stretches), pedal(42.5, 45.0), pedal(50.5, 53.0))
    recording = replay(chart, heard, settings, until=at(70))
    assert events(recording) == ["introduction 1", "head 1", "solos 1", "solos 2"]
    states = [r.last for r in recording.reports if isinstance(r, State)]
    assert [key for key, _ in itertools.groupby(states)] == [False, True, False]


@pytest.mark.parametrize(
    "gesture",
    [pedal(41.0, 42.5), pedal(41.0, 53.0), pedal(42.5, 42.6), [Heard(at(43.0), 0xB0, 64, 127)]],
    ids=["within a bar", "through a passage", "a tap", "the damper"],
)
def test_a_soft_passage_says_nothing(stand: Any, gesture: list[Heard]) -> None:
    chart, settings = tune(stand), told()
    stretches = plan(chart, settings).plan
    recording = replay(chart, with_gestures(played(stand, chart, stretches), gesture), settings, until=at(70))
    assert not any(r.last for r in recording.reports if isinstance(r, State))
    assert events(recording)[:4] == ["introduction 1", "head 1", "solos 1", "solos 2"]


def test_the_lowest_key_tells_the_same_and_is_no_note(stand: Any) -> None:
    """A0 is MIDI 21, the lowest of a piano's 88 keys (MIDI 1.0; common practice)."""
    chart, settings = tune(stand), told()
    short = plan(chart, settings)
    short.tell(40.0)
    heard = played(stand, chart, short.plan)
    struck, signals = with_gestures(heard, stand.strike(at(44.0), 21)), signals_of(chart, settings)
    by_key = replay(chart, struck, settings, signals=signals, until=at(150))
    assert events(by_key) == ["introduction 1", "head 1", "solos 1", "head 1", "ending 1"]
    by_pedal = replay(chart, with_gestures(heard, pedal(42.5, 44.3)), settings, until=at(150))
    assert beats(by_key) == beats(by_pedal) and by_key.heard == tuple(heard)


def test_told_in_the_head_the_ending_comes_next(stand: Any) -> None:
    chart, settings = tune(stand), told()
    short = plan(chart, settings)
    short.tell(10.0)
    heard = with_gestures(played(stand, chart, short.plan), pedal(10.5, 13.0))
    recording = replay(chart, heard, settings, until=at(150))
    assert events(recording) == ["introduction 1", "head 1", "ending 1"]
    assert not sounding(recording)


def test_where_no_order_is_known_the_same_sign_leads_to_the_ending(stand: Any) -> None:
    """Round and round until the player says so: in the third chorus here. A chart without an ending comes to rest."""
    chart = stand.chart(stand.TEN)
    settings = told("open")
    open_ended = plan(chart, settings)
    choruses = [open_ended.at(n * 32.0) for n in range(3)]
    heard = with_gestures(played(stand, chart, choruses), pedal(74.5, 77.0))
    recording = replay(chart, heard, settings, until=at(140))
    said = beats(recording)
    assert {b.chorus for b in said} == {1, 2, 3}
    assert [b.chart_beat for b in said if b.event == "ending"] == [32.0]
    assert [r.name for r in recording.reports if isinstance(r, State)][-1] == "ended"
    assert not sounding(recording)


def test_the_form_alone_goes_round_whatever_the_pedals_do(stand: Any) -> None:
    """What a recording is replayed by unless something else is asked for."""
    chart = tune(stand)
    heard = stand.melody(chart, (START, 0, 64, TEMPO))
    plain = replay(chart, heard, told("form"), until=at(70))
    signs = replay(chart, with_gestures(heard, pedal(10.5, 13.0)), told("form"), until=at(70))
    assert signs.orders == plain.orders and signs.reports == plain.reports
    assert {b.event for b in beats(plain)} == {""}


def test_the_page_may_tell_the_last_time_too(stand: Any) -> None:
    from companion.messages import Wish
    from companion.stage.rehearsal import Rehearsal

    chart, settings = tune(stand), told()
    heard = played(stand, chart, plan(chart, settings).plan)
    wished = sorted([*(h for h in heard if h.seconds < at(70)), Wish(at(44), "last time")], key=lambda e: e.seconds)
    step = Rehearsal(chart, settings).advance(at(70), wished)
    assert [r.event for r in step.reports if isinstance(r, State)][-1] == "head"


# What is played says which chorus it is


def test_who_takes_one_more_chorus_than_planned_is_accompanied_through_it(stand: Any) -> None:
    """The head was due, and they go on improvising: it is a third chorus of solos, and the head comes after it."""
    chart, settings = tune(stand), told()
    longer = replace(chart, events=(*WHOLE[:2], Event("solos", 3, "solos"), *WHOLE[3:]))
    heard = played(stand, chart, plan(longer, settings).plan)
    recording = replay(chart, heard, settings, until=at(6 * 32 + 60))
    assert events(recording) == [
        "introduction 1", "head 1", "solos 1", "solos 2", "head 1", "solos 3", "head 1", "ending 1"
    ]  # fmt: skip
    mistaken = [b for b in beats(recording) if b.event == "head" and b.chorus == 4]
    assert [b.chart_beat for b in mistaken] == [float(n) for n in range(8)], "two bars, and it is clear"
    assert len(lost(recording, chart)) <= 5


def test_who_comes_back_to_the_head_early_has_the_ending_after_it(stand: Any) -> None:
    """One chorus of the two planned, no sign given, and the melody again."""
    chart, settings = tune(stand), told()
    shorter = replace(chart, events=(*WHOLE[:2], Event("solos", 1, "solos"), *WHOLE[3:]))
    heard = played(stand, chart, plan(shorter, settings).plan)
    recording = replay(chart, heard, settings, until=at(4 * 32 + 60))
    assert events(recording) == [
        "introduction 1", "head 1", "solos 1", "solos 2", "head 1", "ending 1"
    ]  # fmt: skip
    assert [b.chorus for b in beats(recording)][-1] == 3
    assert len(lost(recording, chart)) <= 4


# The ending


def test_an_ending_slows_down_by_itself_where_the_player_is_silent(stand: Any) -> None:
    """Each beat longer than the one before, down to about half the tempo; the last chord is held, and ends."""
    chart, settings = tune(stand, Event("head"), Event("ending", how="tag")), told()
    heard = played(stand, chart, plan(chart, settings).plan, "head")
    recording = replay(chart, heard, settings, until=at(150))
    said = [b for b in beats(recording) if b.event == "ending"]
    gaps = [b.seconds - a.seconds for a, b in itertools.pairwise(said)]
    assert gaps[:23] == pytest.approx([0.5] * 23, abs=0.03), "in time up to the last two bars"
    assert all(a < b for a, b in itertools.pairwise(gaps[24:])), "then slower and slower"
    assert 0.5 / gaps[-1] == pytest.approx(0.6, abs=0.1)
    last = [o for o in recording.orders if o.status == 0x90 and o.seconds > said[-1].seconds - 0.01]
    assert last and {o.part for o in last} == {"bass", "chords"}
    ended = next(r.seconds for r in recording.reports if isinstance(r, State) and r.name == "ended")
    assert 4.0 < ended - said[-1].seconds < 8.0
    assert not sounding(recording)


def test_who_slows_down_is_followed_to_the_last_chord_and_lets_it_go(stand: Any) -> None:
    """The player gets slower from beat to beat in the last bar, strikes the last chord, and lifts their hands."""
    chart = tune(stand, Event("head"), Event("ending", how="tag", bars=2))
    settings = told()
    stretches = plan(chart, settings).plan
    heard = played(stand, chart, stretches, "head")
    tag = [(float(n.beat) + 32, n.pitch.midi) for n in stretches[-1].form.melody]

    def slowing(beat: float) -> float:
        return at(beat) + 0.03 * max(0.0, beat - 44) ** 2

    for beat, midi in tag:
        heard += stand.strike(slowing(to_sounding(beat, 2.0)), midi)
    end = slowing(48)
    heard += [Heard(end, 0x90, 72, 64), Heard(end + 2.5, 0x80, 72, 0)]
    recording = replay(chart, sorted(heard, key=lambda h: (h.seconds, h.status)), settings, until=end + 20)
    last = [b for b in beats(recording) if b.event == "ending"][-1]
    assert last.chart_beat == 48 and last.seconds == pytest.approx(end, abs=0.07)
    ended = next(r.seconds for r in recording.reports if isinstance(r, State) and r.name == "ended")
    assert ended == pytest.approx(end + 2.5, abs=0.1), "they let go, and so does the companion"
    assert not sounding(recording)


def test_in_steady_time_it_neither_slows_down_nor_waits(stand: Any) -> None:
    chart, settings = tune(stand, Event("head"), Event("ending", how="tag")), told(time="steady")
    recording = replay(chart, [], settings, until=at(100))
    assert [b.seconds for b in beats(recording)] == pytest.approx([at(n) for n in range(65)], abs=1e-3)


@pytest.mark.parametrize("how", ["held", "tag", "vamp", "ritardando"])
@pytest.mark.parametrize("you", ["melody", "chords", "bass", "melody,chords", "melody,chords,bass"])
def test_every_ending_ends_whoever_plays(stand: Any, how: str, you: str) -> None:
    chart = tune(stand, Event("head"), Event("ending", how=how))
    mine = frozenset(you.split(","))
    rest = tuple(part for part in ("melody", "chords", "bass") if part not in mine)
    settings = told(you=mine, parts=rest or ("click",))
    heard = [h for n in range(64) for h in stand.strike(at(n / 2), 40 + n % 30)]
    recording = replay(chart, heard, settings, until=at(140))
    assert [r.name for r in recording.reports if isinstance(r, State)][-1] == "ended"
    assert not sounding(recording)


# Who plays what


def test_in_a_solo_chorus_the_melody_is_improvised_by_whoever_had_it(stand: Any) -> None:
    head, solos = Stretch("head", 1, 0, None), Stretch("solos", 2, 0, None)  # type: ignore[arg-type]
    assert roles(head, frozenset({"melody", "chords"})) == {"melody", "chords"}
    assert roles(solos, frozenset({"melody", "chords"})) == {"solo", "chords"}
    comping = Settings(you=frozenset({"chords"}), parts=("melody", "bass", "click"))
    assert parts(head, comping) == ("melody", "bass") and parts(solos, comping) == ("bass", "solo")
    soloing = Settings(you=frozenset({"solo"}), parts=("melody", "chords", "bass"))
    assert parts(solos, soloing) == ("chords", "bass"), "the player's solo stands in the melody's place"
    assert leads(head, soloing) and not leads(solos, soloing)


def test_over_the_players_comping_the_companion_plays_head_solo_and_head(stand: Any) -> None:
    from companion.pianist.player import simulate
    from companion.stage.demo import route_of

    chart = tune(stand, Event("head"), Event("solos", 1, "solos"), Event("head"), Event("ending"))
    settings = told(you=frozenset({"chords"}), parts=("melody", "bass"))
    player = simulate(chart.unfold(), "chords", manner="clean", seed=3, tune=route_of(chart, settings))
    settings = replace(settings, tempo=player.tempo, start=player.start)
    recording = replay(chart, player.heard, settings, until=player.truth[-1].seconds + 8)
    starts = {b.event + str(b.chorus): b.seconds for b in reversed(beats(recording))}
    sung = [o for o in recording.orders if o.part == "melody" and o.status == 0x90]
    improvised = [o for o in recording.orders if o.part == "solo" and o.status == 0x90]
    assert all(starts["solos2"] - 0.1 < o.seconds < starts["head3"] + 0.1 for o in improvised) and len(improvised) > 20
    assert not [o for o in sung if starts["solos2"] + 0.1 < o.seconds < starts["head3"] - 0.6]


# The order by itself


@pytest.fixture(scope="module")
def order(stand: Any) -> OrderOfEvents:
    """An introduction of 16 beats, choruses of 32, a tag of 40 beats; not changed by any test."""
    chart = tune(stand)
    return OrderOfEvents(chart.unfold(), told(), chart)


def laid_out(stretches: Sequence[Stretch]) -> list[tuple[str, int, float]]:
    """What each stretch is, in which chorus, and on which beat through the choruses it begins."""
    return [(stretch.kind, stretch.chorus, float(stretch.start)) for stretch in stretches]


AS_PLANNED = [("introduction", 1, -16), ("head", 1, 0), ("solos", 2, 32), ("solos", 3, 64), ("head", 4, 96)]
AS_PLANNED += [("ending", 4, 128)]


def test_the_order_begins_with_its_introduction_and_ends_with_the_held_chord(order: OrderOfEvents) -> None:
    assert laid_out(order.plan) == AS_PLANNED
    assert (order.begins, order.hold, order.ends) == (-16, 160, 168)
    assert [order.event(s) for s in order.plan[:4]] == [
        ("introduction", 1, 1),
        ("head", 1, 1),
        ("solos", 1, 2),
        ("solos", 2, 2),
    ]


@pytest.mark.parametrize(
    ("beat", "kind", "chart_beat"),
    [
        (-20, "introduction", -20),  # the count-in
        (-16, "introduction", -16),
        (-1, "introduction", -1),
        (0, "head", 0),
        (31.5, "head", 31.5),
        (32, "solos", 0),
        (95, "solos", 31),
        (96, "head", 0),
        (128, "ending", 32),
        (160, "ending", 64),
        (170, "ending", 74),
    ],
)
def test_an_introductions_beats_are_counted_below_the_form_and_an_endings_above(
    order: OrderOfEvents, beat: float, kind: str, chart_beat: float
) -> None:
    assert (order.at(beat).kind, order.chart_beat(beat)) == (kind, chart_beat)


def test_bars_open_on_their_first_beats_from_the_count_in_to_the_ending(order: OrderOfEvents) -> None:
    opening = [beat / 2 for beat in range(-40, 334) if order.opens_bar(beat / 2)]
    # From 160 on the last chord is held: its two bars are the ending's last one.
    assert [beat for beat in opening if beat < 160] == list(range(-20, 160, 4))


def test_a_bar_of_three_is_counted_in_by_threes(stand: Any) -> None:
    chart = replace(stand.chart(("| C6 | % | Dm7 | G7 |", ""), metre="3/4"), events=WHOLE)
    waltz = OrderOfEvents(chart.unfold(), told(), chart)
    assert [beat for beat in range(-18, 12) if waltz.opens_bar(beat)] == list(range(-18, 12, 3))


def test_what_lies_around_two_beats_goes_on_to_the_stretch_after(order: OrderOfEvents) -> None:
    assert laid_out(order.around(-4, -1)) == AS_PLANNED[:2]
    assert laid_out(order.around(30, 33)) == AS_PLANNED[1:4]
    assert laid_out(order.around(126, 130)) == AS_PLANNED[4:]
    assert order.around(168, 170) == []
    assert order.after(order.plan[-1]) is None and order.after(order.plan[0]) is order.plan[1]


@pytest.mark.parametrize(
    ("here", "gap", "goes"),
    [
        (34, -4, -4),  # a bar back is a bar back, over the double bar too
        (62, 4, 4),
        (42, -8, -8),
        (42, 8, 8),
        (42, -12, 20),  # further than the chorus goes back: the same bar in this chorus
        (42, 24, -8),
        (40, -8, -8),  # onto its first beat
        (40, 24, -8),  # its end is the next one's first beat
    ],
)
def test_a_player_who_leaps_far_stays_in_the_chorus(order: OrderOfEvents, here: float, gap: float, goes: float) -> None:
    assert order.within(here, gap) == goes


def test_who_comes_in_uncounted_with_the_pickup_is_before_the_first_chorus(stand: Any) -> None:
    chart = stand.chart((stand.TEN[0], "GA" + stand.TEN[1]))
    order = OrderOfEvents(chart.unfold(), Settings(), chart)
    assert [order.entrance(place) for place in (31, 31.5, 0, 5, 37)] == pytest.approx([-1, -0.5, 0, 5, 5])


@pytest.mark.parametrize(
    ("number", "planned", "otherwise"),
    [
        (1, AS_PLANNED[:2], [("ending", 1, 32)]),  # told in the head
        (2, AS_PLANNED[2:3], []),  # nobody is told to end in what is only to come
        (3, AS_PLANNED[3:4], [("head", 3, 64), ("ending", 3, 96)]),  # told in the first solo chorus
        (4, AS_PLANNED[4:], [("solos", 4, 96)]),  # one more chorus than planned
        (5, [], []),
    ],
)
def test_every_chorus_is_ready_as_planned_and_as_the_player_may_yet_turn_it(
    order: OrderOfEvents, number: int, planned: list[Any], otherwise: list[Any]
) -> None:
    ready = laid_out(order.possible(number))
    assert ready[: len(planned)] == planned
    assert set(ready) == {*planned, *otherwise}


def test_told_in_the_first_solo_chorus_the_head_and_the_ending_follow_and_told_again_all_is_as_planned(
    stand: Any,
) -> None:
    chart = tune(stand)
    order = OrderOfEvents(chart.unfold(), told(), chart)
    for beat in (-3.0, 100.0, 130.0):
        assert not order.tell(beat) and not order.last_time_told, "nothing can be left out there"
    kept = order.as_it_stands()
    assert order.tell(40.0) and order.last_time_told
    assert laid_out(order.plan) == [*AS_PLANNED[:3], ("head", 3, 64), ("ending", 3, 96)]
    assert laid_out(kept.plan) == AS_PLANNED, "what another thread prepares stays as it was"
    assert order.tell(41.0) and not order.last_time_told
    assert laid_out(order.plan) == AS_PLANNED
    order.tell(40.0)
    order.go_on()
    assert not order.last_time_told and len(order.plan) == 5, "it can't be taken back in the chorus after"


def test_a_head_that_turns_out_a_solo_makes_room_for_it_and_a_solo_that_turns_out_the_head_leads_out(
    stand: Any,
) -> None:
    chart = tune(stand)
    longer, shorter = (OrderOfEvents(chart.unfold(), told(), chart) for _ in range(2))
    longer.instead("solos", 100.0)
    assert laid_out(longer.plan) == [*AS_PLANNED[:4], ("solos", 4, 96), ("head", 5, 128), ("ending", 5, 160)]
    assert longer.event(longer.plan[4]) == ("solos", 3, 3)
    shorter.instead("head", 70.0)
    assert laid_out(shorter.plan) == [*AS_PLANNED[:3], ("head", 3, 64), ("ending", 3, 96)]


def test_the_form_alone_goes_round_as_often_as_was_asked(stand: Any) -> None:
    chart = tune(stand)
    order = OrderOfEvents(chart.unfold(), told("form", choruses=2), chart)
    assert (order.begins, order.ends, order.plan, order.hold, order.ritardando) == (0, 64, (), None, None)
    assert [order.chart_beat(beat) for beat in (-4, 0, 33, 63.5)] == [28, 0, 1, 31.5]
    assert [order.chart_beat(beat) for beat in (32 - 1e-9, 32 + 1e-9, -1e-9)] == [0, 0, 0], "the top, and no 33rd beat"
    assert [stretch.chorus for stretch in order.around(30, 40)] == [1, 2] and order.around(64, 70) == []
    assert [laid_out(order.possible(number)) for number in (2, 3)] == [[("head", 2, 32)], []]
    assert not order.tell(40.0)
    endless = OrderOfEvents(chart.unfold(), told("form"), chart)
    assert endless.ends is None and endless.at(32 * 1000).chorus == 1001


def test_the_tempo_comes_down_in_the_last_bars_before_the_held_chord(order: OrderOfEvents) -> None:
    slowing = order.ritardando
    assert slowing is not None and slowing.high == order.hold
    assert 0 < slowing.high - slowing.low <= 4 * 4, "common practice: a bar or two, never a whole chorus"
    assert slowing.low == 160 - 4 * 2, "the last two bars of a tag"


@pytest.mark.parametrize(
    ("kind", "you", "improvised", "yours"),
    [
        ("head", "melody", False, "melody"), ("head", "melody", True, "solo"), ("solos", "melody", False, "solo"),
        ("solos", "melody,chords", False, "chords,solo"), ("solos", "chords", True, "chords"),
        ("introduction", "melody", False, "melody"), ("ending", "melody", False, "melody"),
    ],
)  # fmt: skip
def test_who_has_the_melody_improvises_in_the_solos(
    order: OrderOfEvents, kind: str, you: str, improvised: bool, yours: str
) -> None:
    stretch = next(s for s in order.plan if s.kind == kind)
    assert roles(stretch, frozenset(you.split(",")), improvised=improvised) == set(yours.split(","))


@pytest.mark.parametrize(
    ("kind", "you", "ours", "played"),
    [
        ("head", "bass", "melody,chords,click", "melody,chords"),
        ("solos", "bass", "melody,chords,click", "chords,solo"),
        ("solos", "solo", "melody,chords", "chords"), ("solos", "bass", "melody,solo", "solo"),
        ("solos", "melody", "chords,bass", "chords,bass"), ("ending", "bass", "melody,chords", "melody,chords"),
    ],
)  # fmt: skip
def test_where_the_companion_has_the_melody_it_plays_the_solos(
    order: OrderOfEvents, kind: str, you: str, ours: str, played: str
) -> None:
    stretch = next(s for s in order.plan if s.kind == kind)
    settings = told(you=frozenset(you.split(",")), parts=tuple(ours.split(",")))
    assert parts(stretch, settings) == tuple(played.split(","))


@pytest.mark.parametrize(
    ("kind", "you", "ours", "led"),
    [
        ("introduction", "melody", "bass", True), ("ending", "melody", "bass", True), ("head", "melody", "bass", False),
        ("head", "solo", "melody,bass", True), ("solos", "solo", "melody,bass", False), ("head", "solo", "bass", False),
        ("head", "chords", "melody,bass", False),
    ],
)  # fmt: skip
def test_where_the_companion_goes_on_by_itself(order: OrderOfEvents, kind: str, you: str, ours: str, led: bool) -> None:
    stretch = next(s for s in order.plan if s.kind == kind)
    assert leads(stretch, told(you=frozenset({you}), parts=tuple(ours.split(",")))) == led


def test_what_comes_before_each_stretch(order: OrderOfEvents) -> None:
    assert [order.before(stretch) for stretch in order.plan] == [None, *order.plan[:-1]]
    assert order.before(replace(order.plan[2], chorus=9)) is None, "it is none of the plan"


def test_without_an_order_no_event_is_named_and_few_choruses_are_kept(stand: Any) -> None:
    chart = stand.chart(stand.TEN)
    endless = OrderOfEvents(chart.unfold(), told("open"), chart)
    assert endless.event(endless.at(0.0)) == ("", 1, None) and endless.begins == 0.0
    first = endless.at(0.0)
    for chorus in range(1, 17):
        endless.at(32.0 * chorus)
    assert list(endless._choruses) == list(range(2, 18)) and endless.at(0.0) == first
    assert endless.at(-40.0).chorus == 1
    assert endless.tell(70.0) and laid_out(endless.plan) == [("head", 3, 64), ("ending", 3, 96)]
    assert endless.event(endless.plan[0]) == ("", 1, None) and endless.event(endless.plan[1])[0] == "ending"
    assert endless.at(10.0).chorus == 1, "what was before goes on as it was"
    assert endless.tell(71.0) and endless.plan == ()
