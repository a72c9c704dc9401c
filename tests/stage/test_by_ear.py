"""Phrases are played, answered and judged, slower or shorter until they are right; in virtual time."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.messages import Heard, State
from companion.stage.by_ear import ByEar, Question, answer_text, judge, questions


@pytest.fixture
def form(stand):
    return stand.tune().unfold()


def question(*pitches):
    notes = tuple((Fraction(k), Fraction(1), pitch) for k, pitch in enumerate(pitches))
    return Question("melody", (1, 2), notes, Fraction(8))


def drive(by_ear, reply, until=400.0):
    """``reply(question, number)`` gives the pitches of an answer, played from its first beat on."""
    reports, now, queue, answered = [], 0.0, [], -1
    while now < until and by_ear.state != "ended":
        due = [event for event in queue if event.seconds <= now]
        queue = [event for event in queue if event.seconds > now]
        step = by_ear.advance(now, due)
        reports += step.reports
        if by_ear.state == "answering" and answered < len(by_ear.answers):
            answered = len(by_ear.answers)
            for k, pitch in enumerate(reply(by_ear._question, answered)):
                at = now + 1.0 + 0.3 * k
                queue += [Heard(at, 0x90, pitch, 70), Heard(at + 0.2, 0x80, pitch, 0)]
        now += 0.05
    return reports


def right(asked, _number=0):
    return [pitch for _, _, pitch in asked.notes]


def test_every_phrase_asks_for_its_melody_and_then_for_its_roots(form):
    asked = questions(form, 1, 8)
    assert [(q.what, q.bars) for q in asked] == [
        ("melody", (1, 4)), ("roots", (1, 4)), ("melody", (5, 8)), ("roots", (5, 8))
    ]  # fmt: skip
    assert [pitch % 12 for _, _, pitch in asked[1].notes] == [0, 4, 9, 2, 7]  # Cmaj7 Em7 A7 Dm7 G7


def test_right_answers_lead_from_question_to_question_and_to_the_end(form):
    asked = questions(form, 1, 8)
    by_ear = ByEar(form, asked, 240)
    reports = drive(by_ear, right)
    assert [answer.question for answer in by_ear.answers] == asked
    assert all(answer.right for answer in by_ear.answers)
    assert [r.name for r in reports if isinstance(r, State)] == ["listening", "answering"] * 4 + ["ended"]


def test_a_phrase_that_goes_wrong_comes_slower_then_shorter_and_whole_again(form):
    asked = questions(form, 1, 4)[:1]
    by_ear = ByEar(form, asked, 240)
    drive(by_ear, lambda q, number: [60, 61] if number < 2 else right(q))
    tempi = [answer.tempo for answer in by_ear.answers]
    bars = [answer.question.bars for answer in by_ear.answers]
    assert tempi[0] == 240 and tempi[1] == pytest.approx(192)
    assert bars == [(1, 4), (1, 4), (1, 2), (1, 4)]
    assert [answer.right for answer in by_ear.answers] == [False, False, True, True]


def test_an_answer_in_another_octave_is_right():
    assert {note.kind for note in judge(question(60, 64, 67), [72, 76, 79])} == {"right"}


def test_a_missing_note_does_not_spoil_those_after_it():
    kinds = [(note.kind, note.expected) for note in judge(question(60, 62, 64, 65), [60, 64, 65])]
    assert kinds == [("right", 60), ("missing", 62), ("right", 64), ("right", 65)]


def test_an_answer_is_told_note_by_note_with_bar_and_beat(form):
    asked = questions(form, 1, 4)[0]
    played = right(asked)
    played[2] += 1
    by_ear = ByEar(form, [asked], 240)
    drive(by_ear, lambda q, number: played if number == 0 else right(q))
    assert answer_text(by_ear.answers[0], form) == "bars 1-4, melody: 12 of 13 right; bar 1, beat 3: G4, not Ab4"
    assert answer_text(by_ear.answers[-1], form).endswith("melody: right")


def test_silence_is_no_answer_and_ends_after_so_many_tries(form):
    by_ear = ByEar(form, questions(form, 1, 2)[:1], 300)
    drive(by_ear, lambda q, number: [])
    assert len(by_ear.answers) == 6 and not any(answer.right for answer in by_ear.answers)
    assert by_ear.state == "ended"


def test_who_stops_before_the_first_question_hears_nothing(form):
    step = ByEar(form, questions(form), 120).finish(0.0)
    assert not [order for order in step.orders if order.status & 0xF0 == 0x90]


def test_cutting_an_advance_in_two_changes_nothing(form):
    one, other = (ByEar(form, questions(form, 1, 4), 240) for _ in range(2))
    whole = [one.advance(0.0, []), one.advance(30.0, [])]
    cut = [other.advance(k / 7, []) for k in range(211)]
    assert [o for step in whole for o in step.orders] == [o for step in cut for o in step.orders]
