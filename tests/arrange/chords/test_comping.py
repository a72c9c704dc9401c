"""Where the chords fall."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.arrange import treatments
from companion.arrange.audit.chords import chords_of
from companion.arrange.chords.comping import _accents, _answer, _leads_in, _liking, _runs_on, _shortened, _unheard
from companion.arrange.chords.context import BarPlan, CompingContext, Found, Strike, bar_plan
from companion.arrange.chords.rhythms import CompingRhythm
from companion.arrange.chords.riffs import PastBar
from companion.arrange.harmony import harmonies
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.chart.model import Form
from tests.arrange.chords.test_sliding import context
from tests.arrange.dice import Thrown

Composer = Callable[..., Form]


def beats(form: Form, treatment: str, **how: Any) -> list[float]:
    return [float(beat) for beat, _ in chords_of(arrange(form, "chords", Request(treatment=treatment, **how)))]


@given(st.integers(1, 6), st.integers(0, 3))
def test_in_the_gaps_no_chord_is_struck_with_a_moving_melody_note(minor_swing: Form, chorus: int, seed: int) -> None:
    moving = [float(n.beat) for n in minor_swing.melody if n.length < 2]
    for beat in beats(minor_swing, "walking", chorus=chorus, seed=seed):
        assert all(abs(beat - onset) > 0.125 for onset in moving)


@given(st.integers(1, 6), st.integers(0, 3))
def test_a_bar_without_a_melody_note_is_answered(minor_swing: Form, chorus: int, seed: int) -> None:
    struck = beats(minor_swing, "walking", chorus=chorus, seed=seed)
    for bar in range(32):
        if not any(4 * bar <= n.beat < 4 * bar + 4 for n in minor_swing.melody):
            assert any(4 * bar <= beat < 4 * bar + 4 for beat in struck), f"bar {bar + 1}"


def test_a_long_note_has_begun_before_the_answer_comes(compose: Composer) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | A7", melody=[(4 * k, 4, 77) for k in range(4)])
    struck = beats(form, "in-two")
    assert len(struck) >= 4
    assert all(beat % 4 >= 1 for beat in struck)


def test_a_chord_is_released_when_the_melody_goes_on(minor_swing: Form) -> None:
    onsets = [float(n.beat) for n in minor_swing.melody]
    for note in arrange(minor_swing, "chords", Request(treatment="walking")):
        start, end = float(note.beat), float(note.beat + note.length)
        assert not any(start < onset < end - 1e-6 for onset in onsets)


@given(st.integers(1, 8))
def test_behind_a_soloist_no_rhythm_runs_on_like_a_machine(minor_swing: Form, chorus: int) -> None:
    struck = beats(minor_swing, "solos", chorus=chorus, player=frozenset({"solo"}))
    rhythms = [tuple(beat - 4 * bar for beat in struck if 4 * bar <= beat < 4 * bar + 4) for bar in range(32)]
    running = 1
    for before, after in pairwise(rhythms):
        running = running + 1 if before == after else 1
        assert running <= 4


def test_chords_come_off_the_beat_about_as_often_as_on_it(minor_swing: Form) -> None:
    struck = [beat for c in range(1, 9) for beat in beats(minor_swing, "solos", chorus=c, player=frozenset({"solo"}))]
    off = sum(beat % 1 != 0 for beat in struck) / len(struck)
    assert 0.3 <= off <= 0.75


def test_a_chord_on_the_quaver_before_a_bar_is_the_chord_to_come(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7", "G7", "Cmaj7", "Fmaj7"] * 8))
    early = 0
    for chorus in range(1, 5):
        for note in arrange(form, "chords", Request(treatment="solos", chorus=chorus, player=frozenset({"solo"}))):
            if float(note.beat) % 4 == 3.5 and "a quaver before" in note.reason:
                following = form.chord_at(note.beat + 1).chord
                degrees = (
                    {(following.root.pc + s) % 12 for s in (2, 3, 4, 5, 7, 9, 10, 11)} if following.root else set()
                )
                assert note.midi % 12 in degrees
                early += 1
    assert early


def test_a_chorus_may_begin_on_the_quaver_before_its_first_bar(compose: Composer) -> None:
    form = compose(" | ".join(["Dm7", "G7", "Cmaj7", "Ebmaj7"] * 4))
    leads = []
    for chorus in range(1, 13):
        struck = beats(form, "solos", chorus=chorus, player=frozenset({"solo"}))
        before = beats(form, "solos", chorus=chorus - 1, player=frozenset({"solo"})) if chorus > 1 else []
        if struck[0] < 0:
            leads.append(chorus)
            assert struck[0] == -0.5
            assert before[-1] <= form.length - 1, "the chorus before makes room"
            notes = arrange(form, "chords", Request(treatment="solos", chorus=chorus, player=frozenset({"solo"})))
            first = [n for n in notes if n.beat < 0]
            assert {0, 5} <= {n.midi % 12 for n in first} <= {0, 4, 5, 7, 9}, (
                "of F A C E G, the chord to come, not Ebmaj7"
            )
    assert 1 not in leads
    assert 2 <= len(leads) <= 9


def test_in_the_last_bar_the_pickup_to_the_next_chorus_is_left_alone(compose: Composer) -> None:
    melody = [(-1.5, 0.5, 72), (-1, 1, 74), (0, 4, 76), (8, 4, 74)]
    form = compose("Cmaj7 | A7 | Dm7 | G7", melody=melody)
    for chorus in range(1, 9):
        for note in arrange(form, "chords", Request(treatment="walking", chorus=chorus)):
            assert not 14.5 < note.beat < 16 and not -1.5 <= note.beat < 0
            assert note.beat + note.length <= 14.5 or note.beat >= 16
        assert any(beat >= 12 for beat in beats(form, "walking", chorus=chorus)), "the rest before it is answered"


def test_accents_go_with_the_melody(compose: Composer) -> None:
    form = compose("Cmaj7 | F7 | Cmaj7 | G7", melody=[(4 * k + b, 1.5, 76) for k in range(4) for b in (0, 2.5)])
    onsets = {float(n.beat) for n in form.melody}
    struck = beats(form, "block")
    assert struck
    assert set(struck) <= onsets


@pytest.mark.parametrize("metre", ["4/4", "3/4", "2/4", "2/2", "6/8", "6/4", "3/2", "5/4", "12/8", "7/8"])
def test_every_metre_is_comped(compose: Composer, metre: str) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | A7", metre=metre)
    for treatment in ("walking", "sparse", "solos"):
        struck = beats(form, treatment)
        assert len(struck) >= 3
        assert all(0 <= beat < form.length for beat in struck)


def test_where_no_chord_is_written_none_is_struck(compose: Composer) -> None:
    assert beats(compose("N.C. | N.C."), "walking") == []
    for treatment in ("walking", "solos", "sliding", "sparse"):
        struck = [beat for seed in range(6) for beat in beats(compose("N.C. | C7 | N.C. | C7"), treatment, seed=seed)]
        assert struck and all(4 <= beat < 8 or beat >= 12 for beat in struck), "not even a quaver early"


def test_over_a_pedal_a_chord_rings_on_while_the_melody_moves_and_nothing_rubs(compose: Composer) -> None:
    melody = [(4 * k + b, n, p) for k in range(4) for b, n, p in ((0, 2.5, 79), (2.5, 0.5, 77), (3, 1, 76))]
    form = compose("Dm7 | Em7 | Dm7 | Em7", melody=melody, tempo=60.0)
    held = [n for seed in range(4) for n in arrange(form, "chords", Request(treatment="ballad", seed=seed))]
    assert any(n.length >= 2 for n in held)
    for note in held:
        for above in form.melody:
            if above.beat < note.beat + note.length and note.beat < above.beat + above.length:
                assert note.midi < above.pitch.midi
                assert above.pitch.midi - note.midi not in (1, 13)


def test_where_chords_answer_the_second_of_a_bar_is_heard_while_the_melody_holds(compose: Composer) -> None:
    form = compose(" | ".join(["Eb9sus4 Eb13"] * 4), fifths=-5, tempo=60.0, melody=[(4 * k, 4, 72) for k in range(4)])
    for seed in range(4):
        for bar in range(4):
            struck = beats(form, "ballad", seed=seed)
            assert any(4 * bar + 1.5 <= beat < 4 * bar + 4 for beat in struck), "the resolution of the fourth"


# by hand

F = Fraction


def known(compose: Composer, changes: str, melody: Sequence[tuple[float, float, int]] = ()) -> CompingContext:
    return replace(context(compose, changes, melody), chance=Thrown())


def bar_of(here: CompingContext, n: int, **told: Any) -> BarPlan:
    return replace(bar_plan(here, ((F(0), here.form.length, treatments.treatment("walking")),), n), **told)


def had(*places: tuple[float, ...]) -> list[PastBar]:
    return [PastBar("", one) for one in places]


A, B, C = (0.0,), (1.0,), (2.0,)


@pytest.mark.parametrize(
    ("fresh", "recent", "runs"),
    [
        (False, [], False),
        (False, [A], False),
        (False, [A, A], True),  # twice running is enough
        (False, [B, A, A], True),
        (False, [A, A, B], False),
        (False, [A, B, A, B], True),  # in turn with another
        (False, [A, C, A, B], False),
        (False, [C, B, A, B], False),
        (False, [C, A, B, A, B], True),
        (True, [A], True),  # where something new begins it is neither of the last two
        (True, [A, B], True),
        (True, [A, B, C], False),
        (True, [], False),
    ],
)
def test_no_rhythm_runs_on_nor_comes_in_turn_with_another(
    compose: Composer, fresh: bool, recent: list[tuple[float, ...]], runs: bool
) -> None:
    here = known(compose, "Dm7 | G7")
    assert here.comping.placement.same_rhythm == 2
    assert _runs_on(here, A, fresh, had(*recent)) == runs
    assert not _runs_on(here, (), fresh, had(*recent))


@pytest.mark.parametrize(
    ("last", "recent", "answer"),
    [
        (-64.0, [], (0.5, 2)),  # rather not on the first beat
        (-64.0, [(1.5,)], (1.5, 2)),  # an echo of the bar before
        (-64.0, [(2.0,), B], (1, 2)),  # the first of the echoes
        (-64.0, [(1.5,), (9.0,), (8.0,)], (0.5, 2)),  # three bars ago is no longer heard
        (-64.0, [(0.5,), (0.5,)], (1, 2)),  # not for the third time
        (2.25, [], (2.5, 1.5)),
        (2.5, [], (2.5, 1.5)),
        (3.0, [], (3, 1)),
        (3.25, [], (3.5, 2)),
        (3.75, [], None),
    ],
)
def test_a_bar_that_no_rhythm_fits_is_answered_at_its_best_place(
    compose: Composer, last: float, recent: list[tuple[float, ...]], answer: tuple[float, float] | None
) -> None:
    here = known(compose, "Dm7 | G7")
    found = _answer(here, bar_of(here, 0), last, False, had(*recent))
    assert (found and (found.beat, found.length)) == answer


@pytest.mark.parametrize(("last", "quiet"), [(0.0, True), (0.01, False), (-64.0, True)])
def test_after_two_quiet_bars_a_small_gap_will_do(compose: Composer, last: float, quiet: bool) -> None:
    here = known(compose, "Dm7 | G7 | C6 | C6", [(8 + n, 0.5, 76) for n in range(5)])
    found = _answer(here, bar_of(here, 2), last, False, [])
    assert (found and (found.beat, found.length)) == ((8.5, 0.5) if quiet else None)


@pytest.mark.parametrize(
    ("melody", "accents"),
    [
        ([(0, 1, 76), (1, 0.5, 76), (1.5, 0.5, 74), (2.5, 1.5, 76)], "0/1 5/2/3/2"),
        ([(0, 1, 76), (0.5, 2, 77), (3, 1, 76)], "0/1 3/1"),  # none within a beat of the last
        ([(0, 1, 76), (1, 1, 74)], "0/1 1/1"),
        ([(3.5, 2, 76)], "7/2/2"),  # it comes early, and is the chord to come
        ([(0, 0.9, 76)], ""),
        ([(4, 1, 76)], ""),
    ],
)
def test_chords_go_with_the_melodys_notes_of_a_beat_and_more(
    compose: Composer, melody: list[tuple[float, float, int]], accents: str
) -> None:
    here = known(compose, "Dm7 | G7", melody)
    found = _accents(here, bar_of(here, 0, placement="accents"))
    assert " ".join(f"{one.beat}/{one.length}" for one in found) == accents
    assert all(one.weight == here.comping.placement.accent for one in found)
    assert [one.harmony.root for one in found if one.beat == F(7, 2)] in ([], [7])


def test_a_rhythm_is_liked_for_what_it_keeps_and_disliked_for_what_it_loses(compose: Composer) -> None:
    here = known(compose, "Dm7 | G7")
    rules, taste = here.comping.placement, here.comping.phrases
    places = (0.0, 1.5, 3.5)
    rhythm = CompingRhythm("", tuple((F(at), F(1)) for at in places), tuple((at, 1.0) for at in places))

    def liking(*there: int, early: bool = False, taken: bool = False, recent: Sequence[PastBar] = ()) -> float:
        found = [(n, Found(here.chords[early and n == 2], 1.0, early and n == 2)) for n in there]
        return _liking(here, replace(rhythm, taken_up=taken), found, recent)

    assert liking(0, 1, 2) == pytest.approx(2 * rules.kept), "two are as good as three"
    assert liking(0, 1) == pytest.approx(2 * rules.kept - rules.lost)
    assert liking(0) == pytest.approx(rules.kept - 2 * rules.lost)
    assert liking(0, recent=had(A)) == pytest.approx(rules.kept - 2 * rules.lost - rules.worn)
    assert liking(0, 1, taken=True) == pytest.approx(2 * rules.kept - rules.lost + taste.taken_up)
    assert liking(0, taken=True) == pytest.approx(rules.kept - 2 * rules.lost), "one is no rhythm"
    assert liking(0, 2, early=True) == pytest.approx(2 * rules.kept - rules.lost - taste.idle_push)
    turned = replace(here, chords=harmonies(compose("G7 | Cmaj7")), form=compose("G7 | Cmaj7"))
    pushed = [(2, Found(turned.chords[1], 1.0, True))]
    assert _liking(turned, rhythm, pushed, ()) == pytest.approx(rules.kept - 2 * rules.lost + taste.push)


def test_where_chords_answer_the_next_one_is_struck_as_the_harmony_moves(compose: Composer) -> None:
    here = known(compose, "Dm7 G7 | Cmaj7", [(0, 8, 79)])
    bar = bar_of(here, 0, placement="answering")

    def unheard(*struck: float, last: float = -64.0) -> list[tuple[float, float, int]]:
        before = [Strike(F(at), F(1), here.harmony(at), bar.treatment, "") for at in struck]
        return [(float(s.beat), float(s.length), s.harmony.root) for s in _unheard(here, bar, before, last)]

    assert unheard() == [(2.0, 2.0, 7)]
    assert unheard(1) == [(2.0, 2.0, 7)] and unheard(1.5) == [], "a beat after the last at the soonest"
    assert unheard(2) == unheard(3) == [], "it is heard already"
    assert unheard(last=2.0) == [(2.0, 2.0, 7)] and unheard(last=2.5) == []
    quick = known(compose, "Dm7 G7 Em7 A7 | Cmaj7", [(0, 8, 79)])
    assert _unheard(quick, bar_of(quick, 0, placement="answering"), [], -64.0) == [], "of two beats and more"
    moving = known(compose, "Dm7 G7 | Cmaj7", [(0, 2, 79), (2, 0.5, 77)])
    assert _unheard(moving, bar_of(moving, 0, placement="answering"), [], -64.0) == []


def test_a_chorus_after_the_first_may_lead_in_and_the_one_before_ends_half_a_beat_early(compose: Composer) -> None:
    assert [_leads_in(1.0, 0, chorus) for chorus in (0, 1, 2, 3)] == [False, False, True, True]
    assert not any(_leads_in(0.0, 0, chorus) for chorus in range(9))
    led = sum(_leads_in(0.4, seed, chorus) for seed in range(20) for chorus in range(2, 12))
    assert 60 <= led <= 100, "two in five of two hundred"
    here = known(compose, "Dm7 | G7")
    first, last = bar_of(here, 0), bar_of(here, 1)
    assert (_shortened(first, F(8), 7.5).size, _shortened(last, F(8), 7.5).size, last.size) == (4.0, 3.5, 4.0)


def test_a_bar_has_the_treatment_of_its_place_and_the_bars_that_are_left_of_it(compose: Composer) -> None:
    here = known(compose, "Dm7 | G7 | Cmaj7 | A7", [(4, 2, 76)])
    walking, sparse = treatments.treatment("walking"), treatments.treatment("sparse")
    halves = ((F(0), F(8), walking), (F(8), F(12), sparse))
    found = [bar_plan(here, halves, n) for n in range(4)]
    assert [one.treatment.name for one in found] == ["walking", "walking", "sparse", "sparse"]
    assert [one.left for one in found] == [2, 1, 1, 0] and [one.rests for one in found] == [True, False, True, True]
    assert [(one.start, one.end, one.at, one.size) for one in found] == [
        (4 * n, 4 * n + 4, 4.0 * n, 4.0) for n in range(4)
    ]
    silent = known(compose, "Dm7 | G7")
    assert bar_plan(silent, ((F(0), F(8), walking),), 0).placement == "free", "without a melody there are no gaps"
