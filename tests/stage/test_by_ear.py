"""Phrases are played, answered and judged, slower or shorter until they are right; in virtual time."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.messages import Beat, Heard, State, Wish
from companion.resources import DATA_VARIABLE
from companion.stage.by_ear import Answer, AnsweredNote, ByEar, Question, answer_text, halved, judge, questions
from tests.stage.written import played, told
from tests.wrapping import lines, wrapped


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


@pytest.fixture
def waltz(stand):
    """Four bars of three beats with a pickup; one chord lasts for two of them, one bar has none."""
    return stand.chart(("| F6 | C7 | % | N.C. |", "C2 | F4 A2 | G6- | G2 A2 c2 | d6 |"), metre="3/4", key="F").unfold()


def begun(*more):
    """A lesson that begins at 0 seconds."""
    by_ear = ByEar(*more)
    by_ear.advance(0.0, [])
    return by_ear


@pytest.mark.parametrize(
    ("first", "last", "phrase", "found"),
    [
        # Melody: beat, length, MIDI number. Roots in the octave from 36: C is 36, F is 41.
        (1, 2, 2, [("melody", (1, 2), 6, [(-1, 1, 60), (0, 2, 65), (2, 1, 69), (3, 3, 67)]),
                   ("roots", (1, 2), 6, [(0, 3, 41), (3, 3, 36)])]),
        (3, 3, 4, [("melody", (3, 3), 3, [(1, 1, 69), (2, 1, 72)]), ("roots", (3, 3), 3, [(0, 3, 36)])]),
        (1, 1, 1, [("melody", (1, 1), 3, [(-1, 1, 60), (0, 2, 65), (2, 1, 69)]), ("roots", (1, 1), 3, [(0, 3, 41)])]),
        (4, None, 4, [("melody", (4, 4), 3, [(0, 3, 74)])]),
        (2, 99, 3, [("melody", (2, 4), 9, [(0, 4, 67), (4, 1, 69), (5, 1, 72), (6, 3, 74)]),
                    ("roots", (2, 4), 9, [(0, 6, 36)])]),
    ],
)  # fmt: skip
def test_what_is_asked_of_some_bars(waltz, first, last, phrase, found):
    asked = questions(waltz, first, last, phrase)
    assert [(q.what, q.bars, q.length, list(q.notes)) for q in asked] == found


def test_unless_said_otherwise_a_phrase_has_four_bars(form):
    assert [q.bars for q in questions(form)][::2] == [(1, 4), (5, 8), (9, 12), (13, 16)]


def test_roots_lie_in_the_octave_above_the_lowest(stand):
    chart = stand.chart(("| C6 | B7 | C#7 | G7/B |", ""))
    (asked,) = questions(chart.unfold())
    assert [midi for _, _, midi in asked.notes] == [36, 47, 37, 47]


def test_a_bass_of_the_players_own_has_its_lowest_root_where_they_say(stand, tmp_path, monkeypatch):
    """From E1, 28, up: E, F, E flat and C lie on 28, 29, 39 and 36."""
    (tmp_path / "configs").mkdir()
    (tmp_path / "configs" / "by-ear.toml").write_text("[sound]\nlowest-root = 28\n", encoding="utf-8")
    monkeypatch.setenv(DATA_VARIABLE, str(tmp_path))
    (asked,) = questions(stand.chart(("| Em7 | F6 | Eb6 | C6 |", "")).unfold())
    assert [midi for _, _, midi in asked.notes] == [28, 29, 39, 36]


@pytest.mark.parametrize(
    ("asked", "heard", "judged"),
    [
        ([60, 62, 64], [60, 62, 64], "60=60 62=62 64=64"),
        ([60, 62, 64], [60, 63, 64], "60=60 62/63 64=64"),
        ([60, 62, 64], [], "60- 62- 64-"),
        ([60, 62, 64], [62, 64], "60- 62=62 64=64"),
        ([60, 62, 64], [60, 62], "60=60 62=62 64-"),
        ([60, 62, 64], [60, 61, 62, 64], "60=60 +61 62=62 64=64"),
        ([60, 62, 64], [55, 60, 62, 64, 67], "+55 60=60 62=62 64=64 +67"),
        # A wrong note costs more than a missing one, and less than one missing and one too many.
        ([60, 62], [62, 60], "+62 60=60 62-"),
        ([60, 62, 64, 65], [71, 62, 70, 65], "60/71 62=62 64/70 65=65"),
    ],
)
def test_an_answer_is_laid_beside_its_question(asked, heard, judged):
    words = {"right": "{}={}", "wrong": "{}/{}", "missing": "{}-", "extra": "+{1}"}
    found = judge(question(*asked), heard)
    assert " ".join(words[note.kind].format(note.expected, note.played) for note in found) == judged
    assert [note.beat for note in found if note.kind != "extra"] == list(range(len(asked)))


@pytest.mark.parametrize(
    ("bars", "half"),
    [((1, 4), (1, 2)), ((5, 7), (5, 6)), ((5, 6), (5, 5)), ((3, 3), None)],
)
def test_a_half_has_whole_bars_and_the_longer_one_comes_first(bars, half):
    count = bars[1] - bars[0] + 1
    notes = tuple((Fraction(3 * n), Fraction(4), 60 + n) for n in range(count))
    found = halved(Question("roots", bars, notes, Fraction(3 * count)))
    if half is None:
        assert found is None
        return
    kept = half[1] - half[0] + 1
    lengths = [4] * (kept - 1) + [3]  # what would sound on into the other half ends
    assert found == Question("roots", half, tuple((3 * n, lengths[n], 60 + n) for n in range(kept)), Fraction(3 * kept))


def test_a_half_without_a_note_is_none():
    assert halved(Question("melody", (1, 2), ((Fraction(4), Fraction(1), 60),), Fraction(8))) is None


LESSON = """
1.200 listening 0.00 120.0; 0@2.700 100 1; 1@3.200 100 1; 2@3.700 100 1; 3@4.200 100 1; 4@4.700 100 1;
5@5.200 100 1; 5.700 answering 0.00 120.0; 0@7.200 100 1; 1@7.700 100 1; 2@8.200 100 1; 3@8.700 100 1;
4@9.200 100 1; 5@9.700 100 1; 11.700 listening 0.00 96.0; 0@13.575 100 1; 1@14.200 100 1; 2@14.825 100 1;
3@15.450 100 1; 4@16.075 100 1; 5@16.700 100 1; 17.325 answering 0.00 96.0; 0@19.200 100 1; 1@19.825 100 1;
2@20.450 100 1; 3@21.075 100 1; 22.325 listening 0.00 96.0; 0@24.200 100 1; 1@24.825 100 1; 2@25.450 100 1;
26.075 answering 0.00 96.0; 0@27.950 100 1; 1@28.575 100 1; 2@29.200 100 1; 31.700 listening 0.00 96.0;
0@33.575 100 1; 1@34.200 100 1; 2@34.825 100 1; 3@35.450 100 1; 4@36.075 100 1; 5@36.700 100 1;
37.325 answering 0.00 96.0; 0@39.200 100 1; 1@39.825 100 1; 2@40.450 100 1; 3@41.075 100 1; 4@41.700 100 1;
5@42.325 100 1; 44.825 listening 0.00 120.0; 0@44.825 100 1; 1@45.325 100 1; 2@45.825 100 1; 3@46.325 100 1;
4@46.825 100 1; 5@47.325 100 1; 47.825 answering 0.00 120.0; 0@49.325 100 1; 1@49.825 100 1; 2@50.325 100 1;
3@50.825 100 1; 4@51.325 100 1; 5@51.825 100 1; 53.325 ended 120.0;
click
1.200 76.64/50 1.700 77.64/50 2.200 77.64/50 2.700 76.64/50 3.200 77.64/50 3.700 77.64/50 4.200 76.64/50
4.700 77.64/50 5.200 77.64/50 5.700 76.64/50 6.200 77.64/50 6.700 77.64/50 7.200 76.64/50 7.700 77.64/50
8.200 77.64/50 8.700 76.64/50 9.200 77.64/50 9.700 77.64/50 10.200 76.64/50 10.700 77.64/50 11.700 76.64/50
12.325 77.64/50 12.950 77.64/50 13.575 76.64/50 14.200 77.64/50 14.825 77.64/50 15.450 76.64/50 16.075 77.64/50
16.700 77.64/50 17.325 76.64/50 17.950 77.64/50 18.575 77.64/50 19.200 76.64/50 19.825 77.64/50 20.450 77.64/50
21.075 76.64/50 22.325 76.64/50 22.950 77.64/50 23.575 77.64/50 24.200 76.64/50 24.825 77.64/50 25.450 77.64/50
26.075 76.64/50 26.700 77.64/50 27.325 77.64/50 27.950 76.64/50 28.575 77.64/50 29.200 77.64/50 29.825 76.64/50
30.450 77.64/50 31.700 76.64/50 32.325 77.64/50 32.950 77.64/50 33.575 76.64/50 34.200 77.64/50 34.825 77.64/50
35.450 76.64/50 36.075 77.64/50 36.700 77.64/50 37.325 76.64/50 37.950 77.64/50 38.575 77.64/50 39.200 76.64/50
39.825 77.64/50 40.450 77.64/50 41.075 76.64/50 41.700 77.64/50 42.325 77.64/50 42.950 76.64/50 43.575 77.64/50
44.825 76.64/50 45.325 77.64/50 45.825 77.64/50 46.325 76.64/50 46.825 77.64/50 47.325 77.64/50 47.825 76.64/50
48.325 77.64/50 48.825 77.64/50 49.325 76.64/50 49.825 77.64/50 50.325 77.64/50 50.825 76.64/50 51.325 77.64/50
51.825 77.64/50 52.325 76.64/50
melody
2.200 60.78/450 2.700 65.78/900 3.700 69.78/450 4.200 67.78/1350 12.950 60.78/562 13.575 65.78/1125 14.825 69.78/562
15.450 67.78/1688 23.575 60.78/562 24.200 65.78/1125 25.450 69.78/562 32.950 60.78/562 33.575 65.78/1125
34.825 69.78/562 35.450 67.78/1688
bass
44.825 41.66/1350 46.325 36.66/1350
"""


def test_a_lesson_written_out(waltz):
    """A wrong note: slower. Two notes missing: half of it. Then all, in another octave; and the roots."""
    answers = [
        (60, 6.7, 7.1), (65, 7.2, 8.1), (70, 8.2, 8.6), (67, 8.7, 10.0),
        (65, 19.3, 19.7),
        (60, 27.3, 27.9), (65, 28.0, 29.1), (69, 29.2, 29.6),
        (48, 38.6, 39.1), (53, 39.2, 40.3), (57, 40.4, 40.9), (55, 41.0, 42.7),
        (41, 49.4, 50.8), (36, 50.9, 52.0),
    ]  # fmt: skip
    keys = [key for midi, on, off in answers for key in (Heard(on, 0x90, midi, 70), Heard(off, 0x80, midi, 0))]
    by_ear = ByEar(waltz, questions(waltz, 1, 2), 120)
    steps = by_ear.advance(0.0, []), by_ear.advance(60.0, keys)
    reports, orders = ([*first, *then] for first, then in zip(*((s.reports, s.orders) for s in steps), strict=True))
    assert [*wrapped(map(told, reports)), *played(orders)] == lines(LESSON)
    assert [answer.right for answer in by_ear.answers] == [False, False, True, True, True] and steps[1].wake is None


@pytest.mark.parametrize(
    ("keys", "judged"),
    [
        # Two notes in a bar of four seconds, and a click a second. What comes next begins a second after it.
        ([(0.0, 0.9), (1.0, 1.9)], 4.0),  # as many as were asked for: after half a bar
        ([(0.0, 0.9), (1.0, 2.1)], 5.0),
        ([(0.0, 0.9), (1.0, 1.4), (1.5, 1.9)], 4.0),
        ([(0.0, 0.9)], 5.0),  # too few: after a bar
        ([(0.0, 1.1)], 6.0),
        ([(0.0, 9.1)], 14.0),  # as long as a key is held it isn't over
        ([(0.0, 0.5), (3.9, 4.1)], 7.0),
        ([(-3.9, -3.8), (-3.7, -3.6)], 2.0),  # ahead of its first beat: not before it might have begun
        ([], 8.0),  # nothing at all: after the question's length and a bar
    ],
)
def test_when_an_answer_is_over(form, keys, judged):
    asked = replace(question(60, 62), bars=(1, 1), length=Fraction(4))
    by_ear = begun(form, [asked, asked], 60)
    events = [Heard(9.2 + at, status, 60, 64) for key in keys for at, status in zip(key, (0x90, 0x80), strict=True)]
    # It begins after 1.2 s; the question lasts for four, then there is a bar of click.
    states = [r for r in by_ear.advance(60.0, events).reports if isinstance(r, State)]
    assert [state.name for state in states[:2]] == ["answering", "listening"]
    assert states[1].seconds - 9.2 == pytest.approx(judged + 1.0)


def test_what_is_played_while_it_is_to_be_listened_to_is_no_answer(form):
    asked = replace(question(60, 62), bars=(1, 1), length=Fraction(4))
    by_ear = begun(form, [asked], 60)
    by_ear.advance(16.0, [Heard(2.0, 0x90, 60, 64), Heard(2.5, 0x80, 60, 0), Heard(3.0, 0x90, 62, 64)])
    assert not by_ear.answers
    by_ear.advance(18.0, [])
    assert [note.kind for note in by_ear.answers[0].notes] == ["missing", "missing"]


def test_a_pedal_in_an_answer_is_no_note(form):
    asked = replace(question(60), bars=(1, 1), length=Fraction(4))
    by_ear = begun(form, [asked], 60)
    by_ear.advance(30.0, [Heard(9.2, 0x90, 60, 64), Heard(9.3, 0xB0, 64, 127), Heard(9.4, 0x80, 60, 0)])
    assert [(note.kind, note.played) for note in by_ear.answers[0].notes] == [("right", 60)]


def test_who_wakes_it_when_it_asks_gets_every_sound_in_time(form):
    by_ear = ByEar(form, questions(form, 1, 2)[:1], 100)
    now, step = 0.0, by_ear.advance(0.0, [])
    while not by_ear.answers:
        assert step.wake is not None and step.wake >= now
        now = step.wake
        step = by_ear.advance(now, [])
        strokes = [order.seconds - now for order in step.orders if order.status == 0x90]
        assert by_ear.answers or min(strokes) == pytest.approx(0.3), "so long ahead"
        assert step.orders or by_ear.answers
    assert now == pytest.approx(1.2 + 2 * 8 * 0.6 + 2 * 4 * 0.6)  # question, click, the question's length, silence


@pytest.mark.parametrize("stop", ["wish", "finish"])
def test_who_stops_in_a_question_hears_no_more_of_it(form, stop):
    asked = replace(question(60, 62, 64, 65), bars=(1, 1), length=Fraction(4))
    by_ear = begun(form, [asked], 60)
    orders = list(by_ear.advance(2.5, []).orders)  # the second note is ordered for 2.2
    last = by_ear.advance(2.5, [Wish(2.5, "stop")]) if stop == "wish" else by_ear.finish(2.5)
    later = by_ear.advance(99.0, [Heard(3.0, 0x90, 60, 64), Wish(4.0, "stop")])
    orders += last.orders
    assert [o.data1 for o in orders if o.status == 0x90 and o.part == "melody"] == [60, 62]
    assert {60, 62} <= {o.data1 for o in orders if o.status == 0x80}
    assert [(r.name, r.seconds) for r in last.reports if isinstance(r, State)] == [("ended", 2.5)]
    assert not later.orders and not later.reports and later.wake is None and last.wake is None


@pytest.mark.parametrize(("extra", "right"), [(0, True), (1, True), (2, False)])
def test_one_note_too_many_is_forgiven(extra, right):
    notes = (AnsweredNote("right", Fraction(0), 60, 60), *[AnsweredNote("extra", None, None, 61)] * extra)
    assert Answer(question(60), notes, 120.0, 0.0).right is right


@pytest.mark.parametrize(
    ("tries", "tempi", "bars"),
    [
        # Slower at the first failure, half of it at the next, and so on; never below half the first tempo.
        (6, [200, 160, 160, 128, 128, 102.4], [4, 4, 2, 2, 1, 1]),
        (8, [200, 160, 160, 128, 128, 102.4, 102.4, 100], [4, 4, 2, 2, 1, 1, 1, 1]),
    ],
)
def test_what_goes_wrong_again_and_again_comes_slower_and_shorter(form, tries, tempi, bars):
    by_ear = begun(form, questions(form, 1, 4)[:1], 200)
    by_ear.rules = replace(by_ear.rules, answer=replace(by_ear.rules.answer, tries=tries))
    by_ear.advance(600.0, [])
    assert [answer.tempo for answer in by_ear.answers] == pytest.approx(tempi)
    assert [answer.question.bars for answer in by_ear.answers] == [(1, last) for last in bars]


def answer_to(asked, *heard):
    return Answer(asked, judge(asked, heard), 120.0, 0.0)


@pytest.mark.parametrize(
    ("what", "heard", "said"),
    [
        ("melody", [60, 65, 69, 67], "bars 1-2, melody: right"),
        ("melody", [60, 65, 69, 67, 60], "bars 1-2, melody: right; 1 more than were asked for"),
        ("melody", [], "bars 1-2, melody: nothing was heard"),
        ("melody", [61, 65, 70], ("bars 1-2, melody: 1 of 4 right; pickup: C4, not Db4; "
                                  "bar 1, beat 3: A4, not Bb4; bar 2, beat 1: G4, missing")),
        ("roots", [41], "bars 1-2, roots: 1 of 2 right; bar 2, beat 1: C, missing"),
        ("roots", [70, 41, 36, 71], "bars 1-2, roots: 2 of 2 right; 2 more than were asked for"),
    ],
)  # fmt: skip
def test_an_answer_in_a_line(waltz, what, heard, said):
    asked = next(q for q in questions(waltz, 1, 2) if q.what == what)
    assert answer_text(answer_to(asked, *heard), waltz) == said


@pytest.mark.parametrize(("wrong", "told"), [(5, 5), (6, 4), (7, 4)])
def test_of_many_faults_the_first_are_told_and_the_others_counted(form, wrong, told):
    asked = replace(question(*[60] * 8), bars=(2, 2))
    said = answer_text(answer_to(asked, *[66] * wrong, *[60] * (8 - wrong)), form).split("; ")
    assert said[0] == f"bar 2, melody: {8 - wrong} of 8 right" and said[1] == "bar 2, beat 1: C4, not F#4"
    assert sum("not F#4" in text for text in said) == told
    assert said[told + 1 :] == ([f"and {wrong - told} more"] if wrong > told else [])


def test_where_in_the_bar_is_told_by_the_beats_of_the_metre(stand):
    """In six-eight the beats are dotted quarters (common practice): the fourth quaver is beat 2."""
    form = stand.chart(("| C6 | F6 |", ""), metre="6/8", feel="straight").unfold()
    notes = tuple((beat, Fraction(1, 2), 60) for beat in (Fraction(3, 2), Fraction(7, 2)))
    said = answer_text(answer_to(Question("melody", (1, 2), notes, Fraction(6)), 61, 61), form)
    assert "bar 1, beat 2:" in said and "bar 2, beat 1.33:" in said


def test_however_long_an_answer_takes_no_bar_after_the_phrase_is_told(form):
    by_ear = begun(form, questions(form, 15, 16)[:1], 120)
    reports = by_ear.advance(90.0, [Heard(11.0, 0x90, 60, 70)]).reports  # a key that is held
    told_beats = [r.chart_beat for r in reports if isinstance(r, Beat)]
    assert by_ear.state == "answering" and (min(told_beats), max(told_beats)) == (56.0, 63.0) and form.length == 64
