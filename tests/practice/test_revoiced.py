"""A passage of a take revoiced: in words by bar, and on the staff as it was played and after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.chords.revoicing import ChordPlayed, Revoiced
from companion.arrange.chords.soundness import ChordFault
from companion.arrange.harmony import harmonies
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.engrave.musicxml_out import musicxml
from companion.engrave.sheet import RIGHT, Sheet
from companion.errors import UseError
from companion.messages import Order, Part
from companion.practice.alignment import Alignment
from companion.practice.judging import JudgedNote
from companion.practice.revoiced import (
    PlacedRevoicing,
    RevoicedPassage,
    passage_lines,
    passage_sheet,
    revoiced_passage,
)
from companion.practice.sweeps import Sweep
from tests.wrapping import lines

QUARTER = 0.5
CHORDS = frozenset({"chords"})


def chart(bars: str = "Dm7 | G7 | Cmaj7 | Cmaj7", melody: str = "") -> Chart:
    sung = f'\nmelody = """\n{melody}\n"""' if melody else ""
    return parse_toml(
        f'format = 1\ntitle = "Row of Pots"\nkey = "C major"\nform = "A"\n[section.A]\nchords = "| {bars} |"{sung}\n'
    )


def laid(chords: Sequence[Sequence[int]], *, choruses: int = 1) -> Alignment:
    """A chord on the first beat of each bar, time after time; an empty one is none."""
    notes = [
        JudgedNote(
            "right", 4.0 * bar, None, key, 2.0 + QUARTER * (4 * bar + 16 * chorus), None, "chords", chorus=chorus + 1
        )
        for chorus in range(choruses)
        for bar, keys in enumerate(chords)
        for key in keys
    ]
    whole = 16.0 * choruses
    sweep = Sweep(0.0, whole, ((0.0, 2.0), (whole, 2.0 + whole * QUARTER)))
    return Alignment((tuple(notes),), (sweep,), ())


BAD = [(53, 57, 60, 64), (53, 57, 59, 66), (53, 55, 59, 62), (52, 55, 59, 62)]
"""F sharp over G7, the fourth over Cmaj7."""


def revoiced(chords: Sequence[Sequence[int]], bars: tuple[int, int] = (1, 4), **more: object) -> RevoicedPassage:
    return revoiced_passage(chart().unfold(), laid(chords), bars, CHORDS, **more)  # type: ignore[arg-type]


def test_what_is_changed_is_said_bar_by_bar_with_its_reason() -> None:
    assert passage_lines(chart().unfold(), revoiced(BAD)) == [
        "bars 1 to 4, 2 notes changed",
        "bar 1, Dm7: as you played it",
        "bar 2, G7: E instead of F♯ (F♯ is no note of G7; E is held from bar 1)",
        "bar 3, Cmaj7: E instead of F (F clashes with Cmaj7 when held)",
        "bar 4, Cmaj7: as you played it",
    ]


def test_a_hand_that_leaps_is_told_to_turn_the_chord_over() -> None:
    found = revoiced([(53, 57, 60, 64), (59, 64, 65, 69), (52, 55, 59, 62), ()], (1, 3))
    assert passage_lines(chart().unfold(), found)[2] == (
        "bar 2, G7: F an octave lower and A an octave lower (the hand need not leap; F and A are held from bar 1)"
    )


def test_a_missing_seventh_is_put_in() -> None:
    found = revoiced([(53, 57, 64), (), (), ()], (1, 1))
    assert found.changes == 1
    assert passage_lines(chart().unfold(), found)[1].endswith("(its seventh was missing)")


def test_bars_in_which_nothing_is_wrong_need_no_change() -> None:
    found = revoiced([(53, 57, 60, 64), (53, 57, 59, 64), (), ()], (1, 2))
    assert passage_lines(chart().unfold(), found) == ["bars 1 to 2: nothing need be changed"]


def test_the_companions_bass_is_what_a_chord_stands_on() -> None:
    """The root is doubled only where a bass sounds with it."""
    rooted = [(50, 53, 57, 60), (), (), ()]
    bass = [Order(1.9, "bass", 0x90, 38, 70), Order(2.6, "bass", 0x80, 38, 0)]
    assert revoiced(rooted, (1, 1)).changes == 0
    found = revoiced(rooted, (1, 1), ours=bass, parts=("bass",))
    assert found.changes == 1 and "D (D is the bass's)" in passage_lines(chart().unfold(), found)[1]


def test_the_charts_melody_lies_over_the_chords() -> None:
    tune = chart(melody="d8 | z8 | z8 | z8 |")
    form = tune.unfold()
    with_it = revoiced_passage(form, laid([(57, 60, 64, 65), (), (), ()]), (1, 1), frozenset({"melody", "chords"}))
    (one,) = with_it.chords
    assert one.chord.played.around.melody == (74,)
    behind_a_solo = revoiced_passage(form, laid([(57, 60, 64, 65), (), (), ()]), (1, 1), CHORDS)
    assert behind_a_solo.chords[0].chord.played.around.melody == ()


def test_of_several_times_through_the_last_one_counts() -> None:
    found = revoiced_passage(chart().unfold(), laid(BAD, choruses=2), (2, 2), CHORDS)
    assert [one.place for one in found.chords] == [Fraction(4)]
    assert found.chords[0].chord.played.beat == pytest.approx(20.0)


def test_what_was_begun_again_counts_as_it_was_played_then() -> None:
    first, second = laid(BAD), laid([(53, 57, 60, 64), (53, 57, 59, 64), (), ()])
    later = [replace(note, seconds=(note.seconds or 0.0) + 6.0) for note in second.judged[0]]
    begun = [note for note in first.judged[0] if note.chart_beat < 8]
    sweeps = (
        Sweep(0.0, 8.0, ((0.0, 2.0), (8.0, 6.0))),
        Sweep(0.0, 8.0, ((0.0, 8.0), (8.0, 12.0))),
    )
    found = revoiced_passage(chart().unfold(), Alignment((tuple(begun), tuple(later)), sweeps, ()), (1, 2), CHORDS)
    assert [one.chord.played.midi for one in found.chords] == [(53, 57, 60, 64), (53, 57, 59, 64)]
    assert found.changes == 0


def test_bars_that_there_are_not_or_without_a_chord_are_said() -> None:
    with pytest.raises(UseError, match="there is no bar 9"):
        revoiced(BAD, (1, 9))
    with pytest.raises(UseError, match="you struck no chord in bar 2"):
        revoiced([BAD[0], (), (), ()], (2, 2))


def test_on_the_staff_the_bars_stand_as_they_were_played_and_after_that_changed() -> None:
    sheet = passage_sheet(chart(), revoiced(BAD), CHORDS)
    assert [(bar.number, bar.heading) for bar in sheet.bars if bar.heading] == [
        (1, "as you played it"),
        (1, "with the fewest changes"),
    ]
    struck = [
        tuple(pitch.midi for voice in bar.voices if voice.staff == RIGHT for pitch in voice.heads[0].pitches)
        for bar in sheet.bars
    ]
    assert struck[:4] == BAD
    assert struck[4:] == [BAD[0], (53, 57, 59, 64), (52, 55, 59, 62), BAD[3]]
    assert "F" in musicxml(sheet) and sheet.title == "Row of Pots, bars 1 to 4"


# By itself: places, what sounds above and below, and the staff

WRITTEN_OUT = """
Row of Pots, bars 2 to 3 on (1, 2)
2 G7@0 as you played it
  1.1 0:- 2:F5
  1.2 0:F3+A3+B3+F#4 3/2:F3+A3+B3+E4 2:F3+A3+B3+E4 7/2:-
  2.6 0:G2
3 Cmaj7@0
  1.1 0:E5 3:-
  1.2 0:F3+G3+B3+D4 2:-
  2.6 0:C2 2:E2
2 G7@0 new line with the fewest changes
  1.1 0:- 2:F5
  1.2 0:F3+A3+B3+E4 3/2:F3+A3+B3+E4 2:F3+A3+B3+E4 7/2:-
  2.6 0:G2
3 Cmaj7@0
  1.1 0:E5 3:-
  1.2 0:E3+G3+B3+D4 2:-
  2.6 0:C2 2:E2
"""
LATE = (53, 57, 59, 64)
"""G7 from its seventh, as it should be."""


def struck(*chords: tuple[float, Sequence[int]], sweeps: Sequence[tuple[float, float]] = ()) -> Alignment:
    """Chords at beats; ``sweeps``: the lowest beat of each stretch, and seconds by which it came later."""
    starts = sweeps or [(0.0, 0.0)]
    judged, laid_out = [], []
    for n, (low, later) in enumerate(starts):
        mine = [one for m, one in enumerate(chords) if len(starts) == 1 or m == n]
        judged.append(
            tuple(
                JudgedNote("right", beat, None, key, 2.0 + later + QUARTER * beat, None, "chords")
                for beat, keys in mine
                for key in keys
            )
        )
        laid_out.append(Sweep(low, 16.0, ((low, 2.0 + later + QUARTER * low), (16.0, 10.0 + later))))
    return Alignment(tuple(judged), tuple(laid_out), ())


def told(sheet: Sheet) -> list[str]:
    """Bars with their chords, and each voice with its heads: onset in the bar, and MIDI numbers; none for a rest."""
    found = [f"{sheet.title} on {sheet.staves}"]
    for bar in sheet.bars:
        chords = " ".join(f"{chord.symbol}@{start}" for start, chord in bar.chords)
        found.append(f"{bar.number} {chords}{' new line' * bar.new_line} {bar.heading or ''}".rstrip())
        for voice in bar.voices:
            heads = [f"{head.start}:{'+'.join(str(pitch) for pitch in head.pitches) or '-'}" for head in voice.heads]
            found.append(f"  {voice.staff}.{voice.number} {' '.join(heads)}")
    return found


def test_bars_from_the_middle_of_a_tune_stand_on_both_staves_with_melody_and_bass() -> None:
    """What stands here is what is written today: bars 2 and 3 as they were played, then with the fewest changes."""
    tune = chart("Dm7 | G7 | Cmaj7 | Am7 D7", melody="d8 | z4 f4 | e6 z2 | c4 A4 |")
    played = struck((0.0, BAD[0]), (4.0, BAD[1]), (5.5, LATE), (8.0, BAD[2]), (12.0, BAD[3]), (14.0, (54, 57, 60, 64)))
    bass = [
        Order(2.0 + QUARTER * (beat + held), "bass", 0x80 if held else 0x90, midi, 70)
        for beat, midi in ((0.0, 38), (4.0, 43), (8.0, 36), (10.0, 40), (12.0, 45))
        for held in (0.0, 0.9)
    ]
    you: frozenset[Part] = frozenset({"melody", "chords"})
    found = revoiced_passage(tune.unfold(), played, (2, 3), you, bass, ("bass",))
    assert told(passage_sheet(tune, found, you)) == lines(WRITTEN_OUT)


def test_without_the_melody_in_hand_it_is_not_on_the_staff() -> None:
    tune = chart(melody="d8 | f8 | e8 | c8 |")
    found = revoiced_passage(tune.unfold(), laid(BAD), (1, 4), CHORDS)
    written = told(passage_sheet(tune, found, CHORDS))
    assert not any(note in line for line in written for note in ("D5", "E5", "F5", "C5"))


@pytest.mark.parametrize(
    ("beat", "place"), [(4.0, 4), (4.1, 4), (5.45, Fraction(11, 2)), (4.3, Fraction(9, 2)), (4.2, 4), (15.9, 0)]
)
def test_a_chord_is_written_at_its_place_or_at_the_nearest_quaver(beat: float, place: Fraction) -> None:
    """The off-beat lies where the feel has it; just before the end of the form it is its beginning."""
    found = revoiced_passage(chart().unfold(), struck((beat, LATE)), (1, 4), CHORDS)
    assert [one.place for one in found.chords] == [place]


@pytest.mark.parametrize(("first", "again", "kept"), [(8.0, 8.15, 1), (8.0, 7.85, 1), (8.0, 8.24, 1), (8.0, 9.0, 2)])
def test_a_chord_struck_again_at_one_place_counts_the_last_time(first: float, again: float, kept: int) -> None:
    """One place is what is written as one."""
    played = struck((first, BAD[2]), (again, BAD[3]), sweeps=((0.0, 0.0), (4.0, 6.0)))
    found = revoiced_passage(chart().unfold(), played, (1, 4), CHORDS)
    assert len(found.chords) == kept and found.chords[-1].chord.played.midi == BAD[3]


@pytest.mark.parametrize(
    ("begun", "ended", "sounds"),
    [(-1.0, 1.0, True), (0.045, 1.0, True), (0.055, 1.0, False), (-1.0, 0.055, True), (-1.0, 0.045, False),
     (-1.0, -0.5, False)],
)  # fmt: skip
def test_the_bass_under_a_chord_is_what_sounds_when_it_is_struck(begun: float, ended: float, sounds: bool) -> None:
    """Seconds from the chord: one that comes just after it is under it, and one that just ends isn't."""
    bass = [Order(4.0 + begun, "bass", 0x90, 43, 70), Order(4.0 + ended, "bass", 0x80, 43, 0)]
    found = revoiced_passage(chart().unfold(), struck((4.0, LATE)), (2, 2), CHORDS, bass, ("bass",))
    assert found.chords[0].chord.played.around.bass == ((43,) if sounds else ())


def test_of_two_bass_notes_the_later_is_under_the_chord_and_one_struck_anew_has_ended() -> None:
    bass = [
        Order(begun + held, part, 0x80 if held else 0x90, midi, 0 if held else 70)
        for begun, part, midi in ((3.0, "bass", 43), (3.8, "bass", 38), (3.9, "chords", 60))
        for held in (0.0, 2.0)
    ]  # type: ignore[arg-type]
    found = revoiced_passage(chart().unfold(), struck((4.0, LATE)), (2, 2), CHORDS, bass, ("bass",))
    assert found.chords[0].chord.played.around.bass == (38,)
    again = [Order(3.0, "bass", 0x90, 43, 70), Order(3.5, "bass", 0x90, 43, 0), Order(5.0, "bass", 0x80, 43, 0)]
    found = revoiced_passage(chart().unfold(), struck((4.0, LATE)), (2, 2), CHORDS, again, ("bass",))
    assert found.chords[0].chord.played.around.bass == (), "velocity 0 ends a note (MIDI 1.0)"


@pytest.mark.parametrize(("beat", "sung"), [(4.0, (76,)), (5.0, (76,)), (6.0, ()), (8.0, (77,)), (12.0, ())])
def test_the_melody_over_a_chord_is_the_note_that_has_begun_and_not_ended(beat: float, sung: tuple[int, ...]) -> None:
    tune = chart(melody="d4 z4 | e4 z4 | f8 | z8 |")
    you: frozenset[Part] = frozenset({"melody", "chords"})
    found = revoiced_passage(tune.unfold(), struck((beat, LATE)), (1, 4), you)
    assert found.chords[0].chord.played.around.melody == sung
    theirs = revoiced_passage(tune.unfold(), struck((beat, LATE)), (1, 4), CHORDS, (), ("melody",))
    assert theirs.chords[0].chord.played.around.melody == sung


def test_the_same_said_of_chords_of_one_bar_is_said_once() -> None:
    form = chart().unfold()
    twice = revoiced_passage(form, struck((4.0, BAD[1]), (6.0, BAD[1])), (1, 4), CHORDS)
    assert passage_lines(form, twice)[1].endswith("(F♯ is no note of G7) (twice)")
    thrice = revoiced_passage(form, struck(*((beat, BAD[1]) for beat in (4.0, 5.0, 6.0))), (1, 4), CHORDS)
    assert passage_lines(form, thrice)[1].endswith("(3 times)")
    assert passage_lines(form, twice)[0] == "bars 1 to 4, 2 notes changed"
    once = revoiced_passage(form, struck((4.0, BAD[1])), (2, 2), CHORDS)
    assert passage_lines(form, once)[0] == "bar 2, a note changed"


FIRST = BAD[0]


@pytest.mark.parametrize("ahead", [0.02, 0.1, 0.14])
def test_a_chord_struck_ahead_of_the_next_time_through_is_not_at_the_beginning_of_this_one(ahead: float) -> None:
    """The last chord of a take, for a downbeat that it doesn't reach: bar 1 is as it was, and bar 4 too."""
    played = struck((0.0, FIRST), (12.0, BAD[3]), (16.0 - ahead, LATE))
    found = revoiced_passage(chart().unfold(), played, (1, 4), CHORDS)
    assert [(one.bar, one.place, one.chord.played.midi) for one in found.chords] == [(1, 0, FIRST), (4, 12, BAD[3])]
    last = revoiced_passage(chart().unfold(), played, (4, 4), CHORDS)
    assert [(one.bar, one.place) for one in last.chords] == [(4, 12)]


def test_a_chord_struck_ahead_of_the_next_time_through_begins_it() -> None:
    played = laid([FIRST, BAD[1], BAD[2], BAD[3]], choruses=2)
    (notes,) = played.judged
    early = [
        replace(note, chart_beat=15.9, chorus=1, seconds=2.0 + QUARTER * 15.9)
        if (note.chorus, note.chart_beat) == (2, 0)
        else note
        for note in notes
    ]
    found = revoiced_passage(chart().unfold(), replace(played, judged=(tuple(early),)), (1, 4), CHORDS)
    assert [(one.bar, one.place) for one in found.chords] == [(1, 0), (2, 4), (3, 8), (4, 12)]
    assert found.chords[0].chord.played.beat == pytest.approx(15.9)
    alone = revoiced_passage(chart().unfold(), struck((15.9, LATE)), (1, 1), CHORDS)
    assert [(one.bar, one.place) for one in alone.chords] == [(1, 0)], "where nothing else was struck there"


# One chord of which it is known what becomes of it: its words, and how it is written


def one_chord(symbol: str, was: Sequence[int], now: Sequence[int], *faults: ChordFault) -> RevoicedPassage:
    """In bar 4, on its last beat."""
    harmony = harmonies(chart(f"C6 | C6 | C6 | {symbol}").unfold())[-1]
    played = ChordPlayed(harmony, tuple(was), 15.0)
    return RevoicedPassage(4, 4, (PlacedRevoicing(4, Fraction(15), Revoiced(played, tuple(now), faults, False)),))


@pytest.mark.parametrize(
    ("symbol", "was", "now", "said"),
    [
        ("Dm7", (53, 60, 64), (57, 60, 65), "A instead of E and F an octave higher"),  # an octave before a semitone
        ("Dm7", (57, 60, 65), (53, 60, 64), "F an octave lower and E instead of A"),
        ("Cmaj7", (59, 64), (62, 69), "D instead of E and A instead of B"),  # the nearest two first
        ("E7", (62, 63, 67), (62, 64, 68), "E instead of E♭ and G♯ instead of G"),  # only what is in it by its letters
        ("Gb7", (58, 61, 69), (58, 62, 71), "D instead of D♭ and C♭ instead of A"),  # nobody reads E or B double flat
        ("G7", (53, 59), (53, 58, 63), "B♭ instead of B and E♭ besides"),
        ("Cmaj7", (53, 65), (52, 64), "E instead of F"),  # in two octaves
        ("G7", (53, 59, 61), (53, 59), "without C♯"),
    ],
)
def test_a_changed_chord_is_said_note_by_note(symbol: str, was: Sequence[int], now: Sequence[int], said: str) -> None:
    """Each note against the nearest; named as the chord has it, or else the key."""
    found = one_chord(symbol, was, now)
    written = symbol.replace("b", "♭")
    assert passage_lines(chart(f"C6 | C6 | C6 | {symbol}").unfold(), found)[1:] == [
        f"bar 4, {written}: {said} (so the next chord lies near)"
    ]


@pytest.mark.parametrize(
    ("faults", "said"),
    [
        ([ChordFault("wrong", (61, 66))], "C♯ and F♯ are no notes of G7"),
        ([ChordFault("wrong", (66,))], "F♯ is no note of G7"),
        ([ChordFault("avoid", (60, 65))], "C and F clash with G7 when held"),
        ([ChordFault("avoid", (60, 72))], "C clashes with G7 when held"),  # in two octaves
        ([ChordFault("rubs", (58, 59)), ChordFault("crosses", (53,))],
         "B♭ and B rub against melody or bass; F crosses melody or bass"),
        ([ChordFault("rubs", (53,)), ChordFault("crosses", (58, 59))],
         "F rubs against melody or bass; B♭ and B cross melody or bass"),
    ],
)  # fmt: skip
def test_why_a_chord_is_changed_is_said_of_one_note_and_of_several(faults: list[ChordFault], said: str) -> None:
    found = one_chord("G7", (53, 61, 66), (53, 59, 64), *faults)
    assert passage_lines(chart("C6 | C6 | C6 | G7").unfold(), found)[1].endswith(f"({said})")


def test_a_chord_of_both_hands_on_the_last_beat_is_parted_at_its_widest_gap_and_ends_with_the_bar() -> None:
    tune = chart("C6 | C6 | C6 | Dm7", melody="d8 | f8 | e8 | c8 |")
    found = one_chord("Dm7", (41, 48, 64, 69), (41, 48, 65, 69))
    sheet = passage_sheet(tune, found, frozenset({"melody", "chords"}))
    assert told(sheet) == lines("""
Row of Pots, bar 4 on (1, 2)
4 Dm7@0 as you played it
  1.1 0:C5
  1.2 0:- 2:- 3:E4+A4
  2.5 0:- 2:- 3:F2+C3
4 Dm7@0 new line with the fewest changes
  1.1 0:C5
  1.2 0:- 2:- 3:F4+A4
  2.5 0:- 2:- 3:F2+C3
""")
