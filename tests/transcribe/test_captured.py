"""Charts from what was played to a click: which chords were meant where, what is remarked on, and the key."""

from __future__ import annotations

from fractions import Fraction

import pytest

from companion.errors import ChartError
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.transcribe import captured
from companion.transcribe.captured import KnownTune, Pass, captured_chart, shifted, struck_chords
from companion.transcribe.lengths import TranscribedNote

F = Fraction
FOUR = Metre(4, 4)
CLICK = BeatMap.steady(120.0, 1.0)
"""Half a second a beat, the first downbeat at a second."""


def keys(beat: float, length: float, *midis: int, apart: float = 0.004) -> list[KeyPress]:
    """Keys of a chord, each a little after the one below, in beats of the click."""
    on, off = CLICK.seconds(beat), CLICK.seconds(beat + length)
    return [KeyPress(on + apart * n, off, midi) for n, midi in enumerate(midis)]


def sounding(*groups: list[KeyPress]) -> Pass:
    return Pass(tuple(key for group in groups for key in group), CLICK)


def named(*groups: list[KeyPress], metre: Metre = FOUR, key: tuple[int, bool] | None = (0, False)) -> list[str]:
    return [f"{beat}:{chord.symbol}" for beat, chord in struck_chords(sounding(*groups), metre, key=key)]


C, F7, G7, DM = (48, 52, 55, 59), (53, 57, 60, 63), (43, 53, 59, 62), (50, 53, 57, 60)


@pytest.mark.parametrize(
    ("strokes", "metre", "found"),
    [
        ([(0, C), (4, DM)], (4, 4), ["0:Cmaj7", "4:Dm7"]),
        ([(0, C), (3.5, DM)], (4, 4), ["0:Cmaj7", "4:Dm7"]),  # anticipates the bar
        ([(0, C), (1.5, DM)], (4, 4), ["0:Cmaj7", "2:Dm7"]),  # and the half bar
        ([(0, C), (5, DM)], (4, 4), ["0:Cmaj7", "4:Dm7"]),  # late in a bar in which nothing else is struck
        ([(0, C), (4, DM), (6, G7)], (4, 4), ["0:Cmaj7", "4:Dm7", "6:G7"]),
        ([(0, C), (4, DM), (7, G7)], (4, 4), ["0:Cmaj7", "4:Dm7", "6:G7"]),
        ([(0, C), (4, DM), (5, G7)], (4, 4), ["0:Cmaj7", "4:Dm7", "5:G7"]),
        ([(0, C), (4, C), (8, DM)], (4, 4), ["0:Cmaj7", "8:Dm7"]),  # the same again is one
        ([(0, C), (2, DM)], (3, 4), ["0:Cmaj7", "2:Dm7"]),
        ([(0, C), (4, DM)], (3, 4), ["0:Cmaj7", "3:Dm7"]),
        ([(1, C)], (4, 4), ["0:Cmaj7"]),
        ([], (4, 4), []),
    ],
)
def test_a_chord_rules_from_the_beat_it_anticipates_or_its_empty_bar(
    strokes: list[tuple[float, tuple[int, ...]]], metre: tuple[int, int], found: list[str]
) -> None:
    assert named(*(keys(beat, 1.2, *midis) for beat, midis in strokes), metre=Metre(*metre)) == found


def test_a_late_fourth_voice_and_a_rolled_chord_are_one_chord() -> None:
    late = keys(1.5, 2.0, 62)
    assert named(keys(0, 4, 48, 52, 55), late, keys(4, 1, *DM))[0] == "0:Cadd9"
    assert named(keys(0, 4, 48, 52, 55), keys(1.5, 2.0, 45), keys(4, 1, *DM))[0] != "0:Cadd9", "not from below"
    rolled = keys(0, 4, 48, 52, 55, 59, apart=0.09)
    assert named(rolled, keys(4, 1, *DM)) == ["0:Cmaj7", "4:Dm7"]


def gathered(*groups: list[KeyPress]) -> list[tuple[float, float, list[int]]]:
    return [(on, off, sorted(notes)) for on, off, notes in captured._gathered(sounding(*groups))]


@pytest.mark.parametrize(
    ("later", "joins"),
    [
        (KeyPress(1.5, 2.9, 62), True),
        (KeyPress(2.94, 3.5, 62), True),  # while the chord is still held
        (KeyPress(2.96, 3.5, 62), False),
        (KeyPress(1.5, 2.9, 52), False),  # struck again
        (KeyPress(1.5, 2.9, 47), False),  # below its lowest note
        (KeyPress(1.29, 2.9, 52), True),  # within the time of a roll
        (KeyPress(1.31, 2.9, 52), False),
    ],
)
def test_a_single_note_that_comes_late_to_a_held_chord_is_drawn_to_it(later: KeyPress, joins: bool) -> None:
    chord = [KeyPress(1.0, 3.0, midi) for midi in (48, 52, 55)]
    assert len(gathered(chord, [later])) == (1 if joins else 2)
    if joins:
        assert gathered(chord, [later]) == [(1.0, max(3.0, later.off), sorted({48, 52, 55, later.midi}))]


def test_two_notes_draw_no_third_and_two_late_ones_are_a_chord_of_their_own() -> None:
    pair = [KeyPress(1.0, 3.0, 48), KeyPress(1.0, 3.0, 52)]
    assert len(gathered(pair, [KeyPress(1.5, 2.9, 62)])) == 2
    three = [*pair, KeyPress(1.0, 3.0, 55)]
    assert len(gathered(three, [KeyPress(1.5, 2.9, 62), KeyPress(1.5, 2.9, 65)])) == 2


def test_what_lies_between_its_places_is_remarked_on_the_most_doubtful_forty() -> None:
    def doubtful(*doubts: float) -> dict[int, list[str]]:
        notes = [TranscribedNote(F(n), F(1), KeyPress(n, n + 1, 60), doubt) for n, doubt in enumerate(doubts)]
        return {bar: [said.what for said in found] for bar, found in captured._remarks(notes, [], CLICK, FOUR).items()}

    look = "look at the note on beat {}: it was played between two places"
    assert doubtful(0.0, 2.59, 2.61, 0.0, 3.0, 2.6) == {1: [look.format(3)], 2: [look.format(1)]}
    many = doubtful(*(3.0 + n for n in range(50)))
    assert sum(map(len, many.values())) == 40 and min(many) == 3, "the ten that are least so are left out"


def test_a_remark_tells_the_bar_and_the_beat_of_the_metre() -> None:
    notes = [TranscribedNote(F(beat), F(1), KeyPress(0, 1, 60), 9.0) for beat in (F(-1), F(9, 2))]
    found = captured._remarks(notes, [KeyPress(CLICK.seconds(5.0), 4.0, 60)], CLICK, Metre(6, 8))
    assert {bar: [said.what.split(":")[0] for said in told] for bar, told in found.items()} == {
        0: ["look at the note on beat 2.333"],
        2: ["look at the note on beat 2", "a grace note is left out"],
    }


def test_what_comes_long_before_the_first_bar_is_remarked_on_with_the_pickup() -> None:
    early = [TranscribedNote(F(-5), F(1), KeyPress(0, 1, 60), 9.0)]
    graces = [KeyPress(CLICK.seconds(beat), 4.0, 60) for beat in (-0.5, -5.0)]
    found = captured._remarks(early, graces, CLICK, FOUR)
    assert {bar: len(told) for bar, told in found.items()} == {0: 3}


@pytest.mark.parametrize(
    ("beat", "metre", "rules"),
    [("0", FOUR, "0"), ("1/2", FOUR, "1"), ("7/2", FOUR, "4"), ("3", FOUR, "3"), ("-1", FOUR, "0"), ("-1/2", FOUR, "0"),
     ("1", Metre(6, 8), "3/2"), ("3/2", Metre(6, 8), "3/2"), ("5/2", Metre(6, 8), "3")],
)  # fmt: skip
def test_a_chord_off_the_beat_is_the_next_beats(beat: str, metre: Metre, rules: str) -> None:
    assert captured._ruled_from(F(beat), metre) == F(rules)


@pytest.mark.parametrize(
    ("struck", "metre", "found"),
    [
        ("1", FOUR, "0"),  # nothing else in the bar
        ("3", FOUR, "0"),
        ("0 3", FOUR, "0 2"),  # its half bar is its own
        ("0 2 3", FOUR, "0 2 3"),
        ("1 3", FOUR, "0 2"),
        ("1 2 5 7", FOUR, "0 2 4 6"),
        ("2", Metre(3, 4), "0"),  # three beats have no half
        ("1 2", Metre(3, 4), "0 2"),
        ("3/2", Metre(6, 8), "0"),
        ("0 3/2", Metre(6, 8), "0 3/2"),
    ],
)
def test_a_chord_rules_the_half_bar_or_bar_in_which_it_is_the_first(struck: str, metre: Metre, found: str) -> None:
    placed = {F(beat): {60 + n} for n, beat in enumerate(struck.split())}
    wide = captured._widened(placed, metre)
    assert wide == {F(beat): {60 + n} for n, beat in enumerate(found.split())}


def test_the_last_chord_lasts_for_a_bar_of_four() -> None:
    spans = captured._lengths([(F(0), parse_chord("C6")), (F(6), parse_chord("F6"))])
    assert [(span.start, span.end) for span in spans] == [(0, 6), (6, 10)] and captured._lengths([]) == []


def test_a_chord_struck_again_with_or_without_its_ninth_is_the_same() -> None:
    alike = {("Cmaj7", "Cmaj9"): True, ("C7", "C9"): True, ("C7", "C7b9"): False, ("C6", "C6/E"): False,
             ("C6", "Am7"): False, ("C7", "C7"): True, ("C7", "C13"): False}  # fmt: skip
    for (one, other), same in alike.items():
        assert captured._same_but_for_ninth(parse_chord(one), parse_chord(other)) == same, (one, other)


def test_a_pass_on_another_clock_is_the_same_pass_later() -> None:
    moved = shifted(sounding(keys(0, 1, 60)), 2.5)
    assert (moved.keys[0].on, moved.keys[0].off, moved.keys[0].midi) == (3.5, 4.0, 60)
    assert moved.beats.seconds(3.0) == CLICK.seconds(3.0) + 2.5


LINE = [key for n, midi in enumerate((60, 64, 67, 65, 64, 62, 60, 59)) for key in keys(n, 0.9, midi)]


def test_what_is_known_of_a_tune_is_taken_and_the_rest_is_found() -> None:
    found = captured_chart(Pass(tuple(LINE), CLICK)).chart
    assert (found.tempo, found.fifths, found.minor, found.feel) == (120, 0, False, "swing")
    known = KnownTune("Other Fish", key=(-1, True), feel="swing", tempo=97.0, bars=3)
    told = captured_chart(Pass(tuple(LINE), CLICK), wanted=known).chart
    assert (told.title, told.tempo, told.fifths, told.minor, told.feel) == ("Other Fish", 97, -1, True, "swing")
    assert len(told.unfold().bars) == 3
    with pytest.raises(ChartError, match="no note was played; play the melody after the count-in"):
        captured_chart(Pass((), CLICK))


@pytest.mark.parametrize(("beat", "bars", "left"), [(8, None, False), (7, None, True), (8, 3, True), (9, None, True)])
def test_a_last_chord_after_the_melodys_last_bar_is_the_next_time_throughs(
    beat: int, bars: int | None, left: bool
) -> None:
    spans = [(F(0), parse_chord("C6")), (F(beat), parse_chord("F6"))]
    form = captured_chart(Pass(tuple(LINE), CLICK), spans, KnownTune(bars=bars)).chart.unfold()
    assert ("F6" in [span.chord.symbol for span in form.chords]) == left


def test_a_melody_of_twelve_notes_tells_the_key_by_which_its_chords_are_named() -> None:
    """Eb or D sharp: the diminished chord before E minor, and that in E flat."""
    chord = keys(0, 2, 51, 54, 57, 60)
    flats = [TranscribedNote(F(n), F(1), KeyPress(n, n + 1, 63 + (0, 2, 4, 5, 7, 9, 11)[n % 7])) for n in range(12)]
    sharps = [TranscribedNote(F(n), F(1), KeyPress(n, n + 1, 64 + (0, 2, 3, 5, 7, 8, 11)[n % 7])) for n in range(12)]
    names = [[c.symbol for _, c in struck_chords(sounding(chord), FOUR, line)] for line in (flats, sharps, sharps[:11])]
    assert names == [["Ebdim7"], ["D#dim7"], ["Ebdim7"]], "of eleven notes the chord is named by itself"


def test_the_chords_tell_the_key_by_how_long_they_last() -> None:
    spans = [(F(0), parse_chord("C6")), (F(30), parse_chord("F#6"))]
    assert captured._key([], spans)[0] in (0, 1, -1)
    assert captured._key([], [(F(0), parse_chord("F#6")), (F(30), parse_chord("C6"))])[0] in (6, -6, 5, -5)


def test_overlapping_long_notes_and_notes_struck_again_are_notes_of_their_own() -> None:
    """What is struck together is so within milliseconds, and what bounces does."""
    legato = [*keys(0, 3.5, 64), *keys(1, 3.5, 67), *keys(2, 3.5, 72), *keys(4, 0.4, 60), *keys(5, 0.9, 60)]
    form = captured_chart(Pass(tuple(legato), CLICK), wanted=KnownTune(key=(0, False))).chart.unfold()
    assert [(note.beat, note.pitch.midi) for note in form.melody] == [(0, 64), (1, 67), (2, 72), (4, 60), (5, 60)]


def test_a_late_note_is_drawn_to_the_chord_that_sounds_and_not_to_an_earlier_one() -> None:
    first, second = ([KeyPress(on, on + 2.0, midi) for midi in (48, 52, 55)] for on in (1.0, 4.0))
    assert gathered(first, second, [KeyPress(4.5, 5.9, 62)]) == [(1.0, 3.0, [48, 52, 55]), (4.0, 6.0, [48, 52, 55, 62])]


def test_a_note_is_spelled_by_the_chord_that_rules_it() -> None:
    notes = [TranscribedNote(F(beat), F(1), KeyPress(0.0, 1.0, 68)) for beat in (0, 3, 4, 5)]
    spans = [(F(0), parse_chord("Fm6")), (F(4), parse_chord("E7"))]
    assert [str(note.pitch) for note in captured.spelled(notes, spans, (0, False))] == ["Ab4", "Ab4", "G#4", "G#4"]
