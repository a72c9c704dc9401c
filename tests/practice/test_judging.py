"""What a right note is: planted faults are found at their notes, and good playing has none."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.load import load
from companion.messages import NoteKind, Part
from companion.music.played import BeatMap
from companion.music.swing import straight_quarters, to_sounding
from companion.practice.judging import JudgedNote, Judgement, Struck, judge, without_repeats
from companion.resources import chart_path

TEMPO = 120.0
BEATS = BeatMap(tuple((float(beat), beat * 60 / TEMPO) for beat in range(129)))


@pytest.fixture(scope="module")
def form() -> Form:
    return load(chart_path("ferry-without-lights")).unfold()


def played(form: Form, ratio: float = 1.5, touch: float = 0.008, seed: int = 1) -> list[Struck]:
    """The melody, once through, as a good player strikes it."""
    rng = random.Random(seed)
    even = straight_quarters(note.beat for note in form.melody)
    notes = [(to_sounding(note.beat, ratio, even), note.pitch.midi) for note in form.melody]
    return [Struck(beat * 60 / TEMPO + rng.gauss(0, touch), midi) for beat, midi in notes]


def kinds(judgement: Judgement) -> Counter[str]:
    return Counter(note.kind for note in judgement.notes if not note.forgiven)


def of_melody(form: Form, notes: list[Struck], **more: float) -> Judgement:
    return judge(form, {"melody"}, notes, BEATS, low=-4.0, high=float(form.length), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.2])
def test_a_good_player_has_every_note_right_however_they_swing(form: Form, ratio: float) -> None:
    judgement = of_melody(form, played(form, ratio))
    assert kinds(judgement) == {"right": len(form.melody)}
    assert max(abs(note.deviation_ms or 0) for note in judgement.notes) < 45


def test_each_planted_fault_is_found_where_it_was_planted(form: Form) -> None:
    rng = random.Random(3)
    for _ in range(30):
        notes = played(form, seed=rng.randrange(999))
        wrong, missing = rng.sample(range(2, len(notes) - 2), 2)
        gone = form.melody[missing]
        sharp = form.melody[wrong]
        notes[wrong] = replace(notes[wrong], pitch=notes[wrong].pitch + 1)
        del notes[missing]
        judgement = of_melody(form, notes)
        faults = {(note.kind, note.chart_beat) for note in judgement.notes if note.kind != "right"}
        assert faults == {("wrong", float(sharp.beat)), ("missing", float(gone.beat))}


def test_a_late_note_is_late_by_as_much_and_the_others_are_not(form: Form) -> None:
    notes = played(form, touch=0.004)
    notes[10] = replace(notes[10], seconds=notes[10].seconds + 0.12)
    late = {note.chart_beat: note.deviation_ms or 0.0 for note in of_melody(form, notes).notes}
    beat = float(form.melody[10].beat)
    assert late.pop(beat) == pytest.approx(120, abs=30)
    assert max(abs(off) for off in late.values()) < 45


def test_a_hesitation_shifts_what_follows_without_a_fault_in_every_note(form: Form) -> None:
    notes = played(form)
    notes = [*notes[:20], *(replace(note, seconds=note.seconds + 0.9) for note in notes[20:])]
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_a_player_who_lies_behind_the_click_is_late_against_it_and_not_against_their_own_beat(form: Form) -> None:
    notes = [replace(note, seconds=note.seconds + 0.06) for note in played(form)]
    own = [note.deviation_ms or 0.0 for note in of_melody(form, notes).notes]
    clicked = judge(form, {"melody"}, notes, BEATS, own_beat=False, low=-4.0, high=float(form.length))
    against = [note.deviation_ms or 0.0 for note in clicked.notes]
    assert abs(sum(own) / len(own)) < 10
    assert 35 < sum(against) / len(against) < 65  # off-beat quavers have some room, so less than the whole


def test_a_tune_an_octave_higher_is_right(form: Form) -> None:
    notes = [replace(note, pitch=note.pitch + 12) for note in played(form)]
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_grace_notes_and_doubled_octaves_are_forgiven_and_other_notes_are_too_many(form: Form) -> None:
    notes = played(form)
    graced = sorted([*notes, replace(notes[8], seconds=notes[8].seconds - 0.09, pitch=notes[8].pitch - 1)],
                    key=lambda note: note.seconds)  # fmt: skip
    assert kinds(of_melody(form, graced)) == {"right": len(form.melody)}
    doubled = sorted([*notes, replace(notes[8], pitch=notes[8].pitch - 12)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, doubled))["extra"] == 0
    between = (notes[8].seconds + notes[9].seconds) / 2
    more = sorted([*notes, Struck(between, notes[8].pitch + 5)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, more))["extra"] == 1


def test_a_finger_that_catches_two_keys_strikes_one_too_many(form: Form) -> None:
    notes = played(form)
    caught = [Struck(notes[20].seconds - by, notes[20].pitch - 1) for by in (0.010, 0.060)]
    assert [kinds(of_melody(form, [*notes, key]))["extra"] for key in caught] == [1, 0], "the other is its ornament"


def test_a_key_that_bounces_is_one_note(form: Form) -> None:
    notes = played(form)
    notes = sorted([*notes, replace(notes[5], seconds=notes[5].seconds + 0.03)], key=lambda note: note.seconds)
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_the_other_hands_notes_are_no_faults_of_the_melody(form: Form) -> None:
    low = [Struck(beat * 60 / TEMPO, 40) for beat in range(32)]
    notes = sorted([*played(form), *low], key=lambda note: note.seconds)
    assert kinds(of_melody(form, notes)) == {"right": len(form.melody)}


def test_nothing_played_is_everything_missing(form: Form) -> None:
    assert kinds(of_melody(form, [])) == {"missing": len(form.melody)}


CHORDS = parse_toml("""
format = 1
title = "Two Chords"
key = "C major"
form = "A"

[section.A]
chords = "| Dm7 | G7 | Cmaj7 | C6 |"
""").unfold()
FOUR_BARS = BeatMap(tuple((float(beat), beat * 0.5) for beat in range(17)))


def test_free_chords_are_held_against_the_chord_of_their_moment() -> None:
    # Rootless voicings from the third (F A C E over Dm7, F A B E over G7, E G B D over Cmaj7): common practice.
    voicings = [(0, (53, 57, 60, 64)), (3.5, (53, 57, 59, 64)), (8, (52, 55, 59, 62)), (12, (52, 55, 57, 62))]
    notes = [Struck(beat * 0.5, midi) for beat, chord in voicings for midi in chord]
    assert kinds(judge(CHORDS, {"chords"}, notes, FOUR_BARS)) == {"right": 16}
    wrong = [replace(note, pitch=54) if note.pitch == 53 and note.seconds == 0 else note for note in notes]
    assert kinds(judge(CHORDS, {"chords"}, wrong, FOUR_BARS)) == {"right": 15, "wrong": 1}


def test_a_bar_in_which_nothing_is_played_is_missing() -> None:
    notes = [Struck(0.0, 53), Struck(0.0, 60), Struck(4.0, 52), Struck(6.0, 52)]
    missing = [note for note in judge(CHORDS, {"chords"}, notes, FOUR_BARS).notes if note.kind == "missing"]
    assert [(note.chart_beat, note.expected) for note in missing] == [(4.0, None)]


def test_a_free_bass_may_approach_by_a_semitone() -> None:
    walk = [38, 41, 45, 44, 43, 47, 50, 49, 48, 52, 55, 54, 53, 52, 50, 47]  # A flat and C sharp lead on
    notes = [Struck(beat * 0.5, midi) for beat, midi in enumerate(walk)]
    assert kinds(judge(CHORDS, {"bass"}, notes, FOUR_BARS)) == {"right": 16}


def test_of_a_solo_nothing_is_missing() -> None:
    assert kinds(judge(CHORDS, {"solo"}, [Struck(1.0, 65)], FOUR_BARS)) == {"right": 1}


# What explaining a round away costs, by hand: the prices are those at the head of the module

OCTAVES = parse_toml("""
format = 1
title = "Two Octaves"
key = "C major"
form = "A A B"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| C2 D2 E2 F2 | G2 A2 B2 c2 | d2 e2 f2 g2 | a2 b2 c'2 d'2 |"

[section.B]
chords = "| C6 | C6 |"
melody = "| c'2 a2 g2 e2 | c2 z c zB zG |"
""").unfold()
"""Forty notes: thirty-seven of them on the beat, the last three off it."""
FORTY = [Struck(float(note.beat) / 2, note.pitch.midi) for note in OCTAVES.melody]


def of_octaves(notes: list[Struck]) -> tuple[float, dict[str, int]]:
    """What it costs, and how many notes aren't right."""
    ordered = sorted(notes, key=lambda note: note.seconds)
    judgement = judge(OCTAVES, {"melody"}, ordered, BEATS, low=0.0, high=float(OCTAVES.length))
    return judgement.cost, {kind: many for kind, many in kinds(judgement).items() if kind != "right"}


def but(*changes: tuple[int, int], late: float = 0.0, since: int = 0) -> list[Struck]:
    """The forty notes, some by their number so many semitones off, and all since one of them so many seconds late."""
    off = dict(changes)
    return [
        Struck(note.seconds + (late if n >= since else 0.0), note.pitch + off.get(n, 0)) for n, note in enumerate(FORTY)
    ]


@pytest.mark.parametrize(
    ("notes", "cost", "faults"),
    [
        (FORTY, 0.0, {}),
        (FORTY[:5] + FORTY[6:], 1.0, {"missing": 1}),
        (FORTY[1:], 1.0, {"missing": 1}),
        (FORTY[:-1], 1.0, {"missing": 1}),
        ([*FORTY, Struck(2.75, 61)], 1.0, {"extra": 1}),
        ([*FORTY, Struck(-0.5, 61)], 1.0, {"extra": 1}),
        ([*FORTY, Struck(20.2, 61)], 1.0, {"extra": 1}),
        (but((5, 1)), 1.3, {"wrong": 1}),
        (but((0, 1)), 1.3, {"wrong": 1}),
        (but((39, 1)), 1.3, {"wrong": 1}),
        (but((5, 12)), 0.4, {}),
        (but((5, -12), (7, 12)), 0.8, {}),
        (but(late=-0.25, since=6), 0.9 * 0.5, {}),  # half a beat early from there on
        (but(late=-0.85), 0.9 * 1.7, {}),
        (but(late=-0.95), 1.6, {}),  # two beats early: as much as it ever costs
        (but(late=-0.25), 0.9 * 0.5, {}),
        (but((5, 1), late=-0.37), 1.3 + 0.9 * 0.74, {"wrong": 1}),
        (but((5, 1), late=-0.38), 2.0 + 0.9 * 0.76, {"missing": 1, "extra": 1}),  # too far off to be meant for it
        (FORTY[:4] + FORTY[27:], 23.0, {"missing": 23}),
        (FORTY[:4] + FORTY[28:], 32.0, {"missing": 28, "extra": 4}),  # so many in a row are never left out
        (but(*((n, 12) for n in range(40))), 0.0, {}),
        (but(*((n, 24) for n in range(40))), 0.0, {}),
        (but(*((n, 36) for n in range(40))), 40 * 0.4, {}),  # nobody takes a tune three octaves higher
        ([], 40.0, {"missing": 40}),
    ],
)  # fmt: skip
def test_what_a_player_did_costs_what_it_is_worth(notes: list[Struck], cost: float, faults: dict[str, int]) -> None:
    found, kinds_found = of_octaves(notes)
    assert found == pytest.approx(cost, abs=1e-6)
    assert kinds_found == faults


def test_the_swing_of_off_beat_quavers_takes_up_some_of_a_delay() -> None:
    """2.5 to 1 at most: five fourteenths of a quarter and half of one are 0.214 apart, at 0.9 a quarter."""
    room = 2.5 / 3.5 - 0.5
    assert of_octaves(but(late=0.25))[0] == pytest.approx(0.9 * 0.5 + 0.9 * room)


def test_eleven_keys_between_two_notes_of_a_line_are_too_many_and_more_break_it() -> None:
    between = [Struck(2.52 + 0.035 * n, 97 + n % 3) for n in range(12)]
    assert of_octaves([*FORTY, *between[:11]]) == (pytest.approx(11.0), {"extra": 11})
    assert of_octaves([*FORTY, *between])[0] > 12.5


ALONE = parse_toml("""
format = 1
title = "One Note"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| z8 | z8 | C8 | z8 |"
""").unfold()


@pytest.mark.parametrize(
    ("beat", "pitch", "kind"),
    [
        (12.0, 60, "right"), (12.1, 60, "extra"), (4.0, 60, "right"), (3.9, 60, "extra"),
        (8.0, 59, "wrong"), (8.75, 61, "wrong"), (8.8, 61, "extra"), (7.25, 61, "wrong"), (7.2, 61, "extra"),
    ],
)  # fmt: skip
def test_a_key_may_be_a_note_within_a_bar_of_it_and_another_pitch_within_three_quarters_of_a_beat(
    beat: float, pitch: int, kind: str
) -> None:
    found = judge(ALONE, {"melody"}, [Struck(beat / 2, pitch)], BEATS, low=0.0, high=16.0)
    assert [note.kind for note in found.notes if note.pitch] == [kind]


@pytest.mark.parametrize(
    ("by", "pitch", "forgiven"),
    [
        (-0.151, 70, False), (-0.149, 70, True), (-0.149, 71, True), (-0.149, 67, True), (-0.149, 66, False),
        (-0.149, 72, False), (-0.026, 70, True), (-0.024, 70, False), (0.03, 70, False),
        (-0.044, 57, True), (-0.046, 57, False), (0.044, 57, True), (0.046, 57, False), (0.044, 81, True),
        (0.044, 58, False),
    ],
)  # fmt: skip
def test_an_ornament_leads_to_its_note_by_a_tone_at_most_and_a_doubled_octave_sounds_with_it(
    by: float, pitch: int, forgiven: bool
) -> None:
    """The sixth note is A4 (69), two seconds and a half in."""
    ordered = sorted([*FORTY, Struck(2.5 + by, pitch)], key=lambda note: note.seconds)
    found = judge(OCTAVES, {"melody"}, ordered, BEATS, low=0.0, high=40.0)
    assert [(note.kind, note.pitch, note.forgiven) for note in found.notes if note.kind != "right"] == [
        ("extra", pitch, forgiven)
    ]


def test_a_key_struck_again_within_60_ms_is_one_note_and_each_bounce_is_counted_from_the_one_before() -> None:
    assert len(without_repeats([Struck(1.0, 60), Struck(1.059, 60)])) == 1
    assert len(without_repeats([Struck(1.0, 60), Struck(1.061, 60)])) == 2
    assert len(without_repeats([Struck(0.0, 60), Struck(0.06, 60)])) == 1
    assert len(without_repeats([Struck(1.0, 60), Struck(1.05, 60), Struck(1.1, 60)])) == 1
    assert len(without_repeats([Struck(1.0, 60), Struck(1.0, 61)])) == 2
    assert [note.seconds for note in without_repeats([Struck(2.0, 60), Struck(1.0, 61)])] == [1.0, 2.0]


@pytest.mark.parametrize(("pitch", "extra"), [(47, 0), (48, 1)])
def test_what_lies_more_than_an_octave_under_the_melody_is_the_other_hands(pitch: int, extra: int) -> None:
    assert of_octaves([*FORTY, Struck(2.75, pitch)])[1].get("extra", 0) == extra


@pytest.mark.parametrize(
    ("kind", "expected", "part", "forgiven", "fault"),
    [
        ("right", 60, "melody", False, False), ("wrong", 60, "melody", False, True),
        ("missing", 60, "melody", False, True), ("extra", None, "melody", False, True),
        ("extra", None, "melody", True, False), ("wrong", None, "solo", False, False),
        ("wrong", None, "bass", False, False), ("wrong", None, "chords", False, True),
        ("wrong", 40, "bass", False, True), ("missing", None, "bass", False, True),
    ],
)  # fmt: skip
def test_a_line_made_up_as_it_goes_is_free_and_what_is_written_is_not(
    kind: NoteKind, expected: int | None, part: Part, forgiven: bool, fault: bool
) -> None:
    assert JudgedNote(kind, 0.0, expected, 61, 1.0, None, part, forgiven).is_fault is fault


OFF = (4, -9, 13, 2, -17, 8, 0, 21, -6, 11, -12, 5, 16, -3, -8, 10)
"""Milliseconds by which a hand is off."""


@pytest.mark.parametrize(
    ("ratio", "own_beat", "deviations"),
    [
        (1.6, True, [-3.0, -8.0, 11.8, -5.8, -21.5, 10.9, -8.3, 28.1, -41.9, 116.9, -54.8, 7.1, 3.4, -89.0, -188.1,
                     100.3, 90.5, -27.0, 22.0, -3.1, -25.7, 15.9, -5.9, -3.0]),
        (3.5, True, [-3.7, -3.1, 7.3, 7.3, -31.9, -3.2, 4.5, 11.3, -19.7, 129.2, 2.7, -4.1, 19.2, -54.1, -200.0,
                     114.3, 63.2, -4.6, 7.3, 5.5, -5.8, 9.1, -29.3, 28.6]),
        (1.6, False, [4.2, -25.8, 13.0, -11.6, -13.0, 14.3, -9.0, 30.0, -8.3, 108.9, 0.0, 54.0, 72.3, 61.0, 82.3,
                      354.3, 404.0, 356.0, 434.0, 434.3, 493.3, 533.0, 540.3, 519.0]),
        (3.5, False, [4.2, 5.3, 13.0, 19.8, -13.0, 14.3, 22.6, 30.0, 23.4, 176.1, 49.7, 54.0, 72.3, 61.0, 82.3, 422.0,
                      404.0, 423.8, 434.0, 434.3, 493.3, 533.0, 540.3, 587.7]),
    ],
)  # fmt: skip
def test_how_far_each_note_of_a_phrase_is_off_stays_what_it_is(
    form: Form, ratio: float, own_beat: bool, deviations: list[float]
) -> None:
    """Twenty-four notes that slow down; the tenth is late by 110 ms, and before the sixteenth the player breathes.

    Kept as it is today: when it changes, see whether the deviations are nearer to what was planted.
    """
    even = straight_quarters(note.beat for note in form.melody)
    notes = []
    for n, note in enumerate(form.melody[:24]):
        beat = to_sounding(note.beat, ratio, even)
        late = OFF[n % 16] / 1000 + 0.11 * (n == 9) + 0.3 * (n >= 15)
        notes.append(Struck(beat / 2 + beat**2 / 4000 + late, note.pitch.midi))
    beats = BeatMap(tuple((float(beat), beat / 2) for beat in range(-4, 80)))
    high = float(form.melody[24].beat)
    found = judge(form, {"melody"}, notes, beats, own_beat=own_beat, low=-4.0, high=high).notes
    assert [note.deviation_ms for note in found] == pytest.approx(deviations, abs=0.11)


# Free parts

APART = parse_toml("""
format = 1
title = "Far Apart"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | F#7 | N.C. | C6 |"
""").unfold()


def free(part: str, *notes: tuple[float, int], low: float = 0.0, high: float = 16.0) -> Judgement:
    return judge(APART, {part}, [Struck(beat / 2, pitch) for beat, pitch in notes], BEATS, low=low, high=high)


@pytest.mark.parametrize(("beat", "kind"), [(3.4, "wrong"), (3.5, "right"), (4.0, "right"), (7.9, "right")])
def test_a_chord_may_be_struck_half_a_beat_before_its_bar(beat: float, kind: str) -> None:
    """A sharp, of F sharp 7 and not of C6."""
    assert [note.kind for note in free("chords", (beat, 70)).notes if note.pitch] == [kind]


@pytest.mark.parametrize(
    ("beat", "missing"),
    [(3.4, [4.0]), (3.5, []), (4.0, []), (7.4, []), (7.45, [4.0]), (7.5, [4.0])],
)
def test_what_is_struck_half_a_beat_before_a_bar_is_struck_in_it(beat: float, missing: list[float]) -> None:
    found = free("chords", (0.0, 60), (beat, 66), (12.0, 60)).notes
    assert [note.chart_beat for note in found if note.kind == "missing"] == missing


@pytest.mark.parametrize(
    ("low", "high", "missing"),
    [
        (0.0, 16.0, [0.0, 4.0, 12.0]),  # bar 3 has no chord
        (0.0, 15.9, [0.0, 4.0]),
        (0.1, 16.0, [4.0, 12.0]),
        (4.0, 8.0, [4.0]),
        (12.0, 20.0, [12.0, 16.0]),
        (-4.0, 4.0, [0.0]),
        (16.0, 32.0, [16.0, 20.0, 28.0]),
    ],
)
def test_of_bars_that_are_whole_in_the_window_nothing_played_is_missing(
    low: float, high: float, missing: list[float]
) -> None:
    for part in ("chords", "bass"):
        found = free(part, low=low, high=high).notes
        assert [(note.chart_beat, note.part) for note in found] == [(beat, part) for beat in missing]
    assert not free("solo", low=low, high=high).notes
    both = judge(APART, {"melody", "chords"}, [], BEATS, low=low, high=high)
    assert not both.notes, "who has the melody as well answers where it leaves room"


@pytest.mark.parametrize(("part", "leads"), [("bass", True), ("solo", True), ("chords", False)])
@pytest.mark.parametrize(("after", "near"), [(62, True), (63, True), (64, False), (60, True), (59, True), (58, False)])
def test_a_note_outside_the_chord_may_lead_by_a_tone_to_the_next_one_but_for_a_chords(
    part: str, leads: bool, after: int, near: bool
) -> None:
    """C sharp over C6."""
    assert (free(part, (1.0, 61), (2.0, after)).notes[0].kind == "right") is (leads and near)


def test_a_note_leads_to_the_very_next_one() -> None:
    assert [note.kind for note in free("bass", (1.0, 61), (2.0, 62), (3.0, 48)).notes if note.pitch] == ["right"] * 3
    assert free("bass", (0.0, 60), (1.0, 61), (2.0, 48)).notes[1].kind == "wrong"


def test_an_octave_struck_45_ms_after_a_note_is_struck_with_it() -> None:
    found = judge(OCTAVES, {"melody"}, [FORTY[0], Struck(0.045, 72), *FORTY[1:]], BEATS, low=0.0, high=40.0)
    assert [(note.kind, note.forgiven) for note in found.notes if note.kind != "right"] == [("extra", True)]


def test_a_last_note_outside_the_chord_leads_nowhere() -> None:
    assert free("solo", (1.0, 61)).notes[0].kind == "wrong"


@pytest.mark.parametrize(("apart", "pitch"), [(0.044, 64), (0.046, 60)])
def test_a_key_over_the_melodys_own_is_taken_for_it_if_it_is_struck_with_it(apart: float, pitch: int) -> None:
    notes = [Struck(4.0, 60), Struck(4.0 + apart, 64)]
    found = judge(ALONE, {"melody", "chords"}, notes, BEATS, low=8.0, high=12.0)
    assert [note.pitch for note in found.notes if note.part == "melody"] == [pitch]


WRITTEN = parse_toml("""
format = 1
title = "Chords Written"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | Dm7 | G7 | C6 |"

[[arrangement]]
section = "A"
chords = "| [CEG]4 z4 | [DFA]4 z4 | [DGB]4 z4 | [EGc]4 z4 |"
""").unfold()


def of_chords(first: tuple[int, ...], roll: float = 0.0, up: int = 0) -> Judgement:
    """The four chords, the first of them with other keys than C4, E4 and G4."""
    rows = [first, (62, 65, 69), (62, 67, 71), (64, 67, 72)]
    keys = [Struck(2.0 * bar + roll * n, key + up) for bar, row in enumerate(rows) for n, key in enumerate(row)]
    return judge(WRITTEN, {"chords"}, keys, FOUR_BARS)


@pytest.mark.parametrize(
    ("keys", "cost", "faults"),
    [
        ((60, 64, 67), 0.0, []),
        ((60, 67), 1.0, [(64, None)]),
        ((60, 65, 67), 1.3, [(64, 65)]),
        ((61, 64, 69), 2.6, [(60, 61), (67, 69)]),
        ((60, 66), 2.3, [(64, None), (67, 66)]),
        ((60, 64, 67, 70), 0.5, [(None, 70)]),
        ((60, 65, 67, 70), 1.8, [(64, 65), (None, 70)]),
        ((61,), 3.3, [(60, 61), (64, None), (67, None)]),
        ((72,), 2.4, [(64, None), (67, None)]),
        ((61, 66, 68), 5.3, [(60, 61), (64, 66), (67, 68)]),
        ((), 3.0, [(60, None), (64, None), (67, None)]),
    ],
)
def test_a_written_chord_costs_by_its_keys(
    keys: tuple[int, ...], cost: float, faults: list[tuple[int | None, int | None]]
) -> None:
    found = of_chords(keys)
    assert found.cost == pytest.approx(cost)
    wrong = {(note.expected, note.pitch) for note in found.notes if note.kind != "right"}
    assert wrong == set(faults)


def test_written_chords_may_be_rolled_and_be_played_an_octave_lower() -> None:
    """Each key within 45 ms of the one before."""
    assert of_chords((60, 64, 67), roll=0.044).cost == 0.0
    assert of_chords((60, 64, 67), roll=0.046).cost > 8
    assert of_chords((60, 64, 67), up=-12).cost == 0.0
    lower = of_chords((60, 65, 67), up=-12)
    assert [(note.expected, note.pitch) for note in lower.notes if note.kind == "wrong"] == [(64, 53)]


@pytest.mark.parametrize(("as_written", "cost"), [(2, 0.4 * 2), (1, 0.4)])
def test_a_tune_is_taken_an_octave_higher_if_two_notes_more_say_so_than_do_not(as_written: int, cost: float) -> None:
    """Three notes an octave higher, and one or two where they are written: the odd ones cost."""
    line = [Struck(note.seconds, note.pitch + (12 if n < 3 else 0)) for n, note in enumerate(FORTY[: 3 + as_written])]
    found = judge(OCTAVES, {"melody"}, line, BEATS, low=0.0, high=3.0 + as_written)
    assert found.cost == pytest.approx(cost if as_written == 1 else 3 * 0.4)


@pytest.mark.parametrize(("many", "known"), [(3, False), (4, True)])
def test_from_four_off_beats_on_it_is_known_how_one_swings(many: int, known: bool) -> None:
    """Off-beats at seven tenths, but for the last: where the others show the manner, it is early."""
    quavers = parse_toml("""
format = 1
title = "Off the Beat"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| z C z D z E z F | z8 | z8 | z8 |"
""").unfold()
    line = [Struck((n + 0.7) / 2, pitch) for n, pitch in enumerate((60, 62, 64, 65)[:many])]
    found = judge(quavers, {"melody"}, [*line[:-1], replace(line[-1], seconds=line[-1].seconds - 0.08)], BEATS,
                  own_beat=False, low=0.0, high=float(many))  # fmt: skip
    last = found.notes[-1].deviation_ms
    assert last is not None
    assert (last < -30) is known


def test_without_a_window_the_beats_tell_it() -> None:
    later = BeatMap(((4.0, 9.0), (8.0, 11.0)))
    found = judge(ALONE, {"melody"}, [Struck(13.0, 60)], BeatMap(((0.0, 9.0), (12.0, 15.0))))
    assert [(note.kind, note.chart_beat) for note in found.notes] == [("right", 8.0)]
    assert judge(ALONE, {"melody"}, [], later).notes == (), "the note is due on beat 8, where the window ends"
    assert judge(ALONE, {"melody"}, [], later).cost == 0.0
    assert judge(ALONE, {"melody"}, [Struck(9.5, 60)], later).cost == 1.0, "a key where none was asked for"


def test_low_keys_of_a_player_of_chords_as_well_are_their_chords() -> None:
    found = judge(ALONE, {"melody", "chords"}, [Struck(1.0, 36), Struck(4.0, 60)], BEATS, low=0.0, high=16.0)
    assert [(note.part, note.pitch) for note in found.notes] == [("chords", 36), ("melody", 60)]


def test_a_doubled_octave_is_forgiven_at_its_own_note_alone() -> None:
    found = judge(OCTAVES, {"melody"}, sorted([*FORTY, Struck(2.74, 57)], key=lambda n: n.seconds), BEATS,
                  low=0.0, high=40.0)  # fmt: skip
    assert [note.forgiven for note in found.notes if note.kind == "extra"] == [False]


@pytest.mark.parametrize(
    ("late", "cost"), [(0.45, 0.9 * 0.9), (0.55, 0.4 * 4 + 0.9 * 1.1), (-0.45, 0.9 * 0.9), (-0.55, 0.4 * 4 + 0.9 * 1.1)]
)
def test_an_octave_is_told_by_keys_within_a_beat_of_where_they_are_due(late: float, cost: float) -> None:
    """Four notes an octave higher, so many seconds late; a quarter lasts half a second."""
    four = parse_toml("""
format = 1
title = "Four Far Apart"
key = "C major"
form = "A"

[section.A]
chords = "| C6 | C6 | C6 | C6 |"
melody = "| C8 | E8 | ^G8 | B8 |"
""").unfold()
    line = [Struck(2.0 * n + late, pitch) for n, pitch in enumerate((72, 76, 80, 83))]
    assert judge(four, {"melody"}, line, BEATS, low=0.0, high=16.0).cost == pytest.approx(cost)
