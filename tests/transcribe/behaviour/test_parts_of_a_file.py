"""What each part of a MIDI file is taken for: its tracks, its words, its notes' places, and where its bars begin.

The limits are those of :mod:`companion.transcribe.midi_tune`, each tried just below and just above.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import pytest

from companion.chart.midi.file import MidiFile, MidiNote, Text, Track
from companion.errors import ChartError
from companion.music.chords import Chord, parse_chord
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.transcribe import midi_tune
from companion.transcribe.barring import Heading
from companion.transcribe.lengths import TranscribedNote
from companion.transcribe.midi_tune import SungLine, TuneInFile

F = Fraction
FOUR = Metre(4, 4)


def note(beat: object, length: object = 1, midi: int = 60, *, symbol: bool = False, pace: float = 0.5) -> MidiNote:
    """At 120 quarters a minute unless another pace, in seconds a quarter, is given."""
    at, lasts = Fraction(beat), Fraction(length)  # type: ignore[call-overload]
    key = KeyPress(pace * float(at), pace * float(at + lasts), midi)
    return MidiNote(at, lasts, key, 0, symbol)


def track(name: str, *notes: MidiNote, number: int = 0) -> Track:
    return Track(number, name, notes)


def thick(name: str, singles: int, pairs: int, midi: int = 60, size: int = 2) -> Track:
    """A track of so many notes alone and so many chords of ``size``."""
    alone = [note(n, 1, midi) for n in range(singles)]
    return track(name, *alone, *(note(singles + n, 1, midi + 4 * k) for n in range(pairs) for k in range(size)))


def file(*tracks: Track, **more: object) -> MidiFile:
    head = {"tempi": ((F(0), 120.0),), "metres": ((F(0), FOUR),), "keys": (), "texts": (), "title": "", "drums": 0}
    return MidiFile(tracks, **(head | more))  # type: ignore[arg-type]


# Tracks


def test_a_track_is_asked_for_by_its_number_its_name_or_a_part_of_it() -> None:
    tracks = [track("Lead horn", note(0)), track("HORN", note(0)), track("7", note(0))]
    asked = {"1": 0, "3": 2, "horn": 1, "lead": 0, "7": 2, "Lead Horn": 0}
    assert {word: tracks.index(midi_tune._named(tracks, word)) for word in asked} == asked
    for unknown in ("4", "0", "oboe"):
        with pytest.raises(ChartError, match=f"no track '{unknown}'; there are: 1 Lead horn, 2 HORN, 3 7"):
            midi_tune._named(tracks, unknown)


@pytest.mark.parametrize(
    ("found", "bass"),
    [
        (thick("Upright bass", 1, 9, 72), True),  # by its name
        (thick("", 10, 0, 47), True),
        (thick("", 10, 0, 48), False),
        (thick("", 8, 2, 40), True),  # twelve notes in ten strokes
        (thick("", 7, 3, 40), False),  # thirteen
    ],
)
def test_a_bass_is_called_so_or_plays_single_notes_below_c3(found: Track, bass: bool) -> None:
    assert midi_tune._is_bass(found) == bass


@pytest.mark.parametrize(
    ("found", "chords"),
    [
        (thick("Comping", 5, 5), False),  # a voice and a half at once is no chord
        (thick("Comping", 4, 6), True),
        (thick("", 6, 14, size=3), True),  # 2.4 notes at once
        (thick("", 7, 13, size=3), False),
        (thick("Pad bass", 0, 9, size=4), False),
    ],
)
def test_chords_are_called_so_or_struck_by_more_than_two_at_once(found: Track, chords: bool) -> None:
    lead = thick("Lead", 9, 0, 72)
    assert (midi_tune._chord_track([lead, found], lead) is found) == chords


def test_of_two_tracks_of_chords_the_named_one_is_taken_and_else_the_thicker() -> None:
    lead, three, four, named = thick("", 9, 0), thick("", 0, 5, size=3), thick("", 0, 5, size=4), thick("Pad", 0, 5)
    assert midi_tune._chord_track([lead, three, four, named], lead) is named
    assert midi_tune._chord_track([lead, three, four], lead) is four
    assert midi_tune._chord_track([lead], lead) is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (thick("The tune", 3, 0, 50), thick("", 30, 0, 84)),  # its name before all else
        (thick("", 10, 0, 60), thick("Comp", 12, 0, 90)),
        (thick("", 10, 0, 60), thick("Bass", 12, 0, 90)),
        (thick("", 10, 0, 60), thick("", 9, 1, 60)),  # one voice before two at once, for as many strokes
        (thick("", 10, 0, 72), thick("", 12, 0, 61)),  # higher, where it sings nearly as much
        (thick("", 10, 0, 48), thick("", 30, 0, 47)),  # a bass is no melody
        (thick("", 10, 0, 60), thick("", 7, 3, 73)),
        (thick("", 7, 3, 75), thick("", 10, 0, 49)),
        (thick("player", 1, 0, 40), thick("melody", 30, 0, 84)),  # a companion's own recording
        (thick("", 10, 0, 65), thick("", 15, 0, 46)),
        (thick("", 15, 0, 58), thick("", 9, 0, 80)),
    ],
)
def test_the_melody_is_the_track_called_so_or_the_one_voice_that_lies_high_and_sings_most(
    one: Track, other: Track
) -> None:
    assert midi_tune._melody_track([other, one]) is one and midi_tune._melody_track([one, other]) is one


def test_chords_in_the_melodys_own_track_stand_under_it() -> None:
    """Of four notes at once and more, where a track has so many strokes of several; or as symbols, of three."""
    chord = [note(0, 1, midi) for midi in (50, 53, 57, 72)]
    three = [note(4, 1, midi) for midi in (52, 55, 76)]
    line, blocks = midi_tune._parted(track("", *chord, *three, note(8, 1, 74)))
    assert [n.key.midi for n in line] == [72, 76, 74] and [len(block) for block in blocks] == [4]
    line, blocks = midi_tune._parted(track("", *chord, *(note(4 + n, 1, 70 + n) for n in range(5))))
    assert len(line) == 6 and blocks == [], "one and a half at once on average is a voice"
    line, blocks = midi_tune._parted(track("", *chord, *(note(4 + n, 1, 70 + n) for n in range(4))))
    assert [len(block) for block in blocks] == [4]
    symbols = [note(0, 1, midi, symbol=True) for midi in (48, 52, 55)]
    line, blocks = midi_tune._parted(track("", *symbols, note(0, 1, 79), note(4, 1, 50, symbol=True), note(4, 1, 77)))
    assert [n.key.midi for n in line] == [79, 77] and [[n.key.midi for n in b] for b in blocks] == [[48, 52, 55]]


@pytest.mark.parametrize(
    ("struck", "bass", "under"),
    [
        ("0", "0", 24),
        ("7/2", "4", 24),  # off the beat it anticipates the next
        ("33/8", "4", 24),  # an eighth of a beat late
        ("17/4", "4", None),  # a whole beat from the fifth
        ("17/4", "41/10", 24),
        ("0", "1", None),
    ],
)
def test_the_bass_under_a_chord_is_the_note_near_its_beat(struck: str, bass: str, under: int | None) -> None:
    found = midi_tune._under(track("", note(struck, 1, 64)), track("", note(bass, 1, 48), note(20, 1, 41)))
    assert [key.midi for key in found] == ([] if under is None else [under])
    assert [key.on for key in found] == [0.5 * float(F(struck)) for _ in found]


def test_chords_written_as_notes_are_symbols_with_the_lowest_note_as_bass() -> None:
    blocks = [[note("1/50", 1, midi) for midi in (36, 52, 55, 59)], [note(4, 1, midi) for midi in (53, 57, 60, 64)]]
    assert [(beat, chord.symbol) for beat, chord in midi_tune._blocks(blocks)] == [(0, "Cmaj7"), (4, "Fmaj7")]


# Notes


@pytest.mark.parametrize(
    ("beat", "place"),
    [("0.06", "1/16"), ("0.03", "0"), ("0.34", "1/3"), ("0.09", "1/12"), ("1.26", "5/4"), ("-0.24", "-1/4")],
)
def test_the_nearest_place_of_a_beat_is_a_sixteenth_or_a_twelfth_of_it(beat: str, place: str) -> None:
    assert midi_tune._on_grid(F(beat)) == F(place)


@pytest.mark.parametrize(("off", "many", "exact"), [("0.012", 1, True), ("0.013", 1, True), ("0.013", 2, False)])
def test_a_file_is_written_where_of_twenty_notes_one_at_most_lies_beside_its_place(
    off: str, many: int, exact: bool
) -> None:
    beats = [F(n, 4) for n in range(20 - many)] + [F(30 + n) + F(off) for n in range(many)]
    assert midi_tune._is_exact(beats) == exact
    assert midi_tune._is_exact([F("0.012")] * 20) and not midi_tune._is_exact([F("0.013")] * 20)


@pytest.mark.parametrize(("near", "unrelated"), [(6, True), (7, False)])
def test_a_file_without_a_click_has_a_third_of_its_notes_near_beats(near: int, unrelated: bool) -> None:
    """Less than seven in twenty, where anywhere would be one in five."""
    line = [note(n + F(side)) for n, side in zip(range(near), ("0.09", "0.91") * 9, strict=False)]
    line += [note(50 + n + F(side)) for n, side in zip(range(20 - near), ("0.11", "0.89", "0.5") * 9, strict=False)]
    assert midi_tune._unrelated(line) == unrelated


def standing(*notes: tuple[str, str]) -> list[tuple[Fraction, Fraction]]:
    return [(n.beat, n.length) for n in midi_tune._as_they_stand([note(beat, length) for beat, length in notes])]


def test_written_notes_end_where_the_next_begins_or_where_the_file_ends_them() -> None:
    assert standing(("0", "1"), ("1", "1/2"), ("2", "1")) == [(0, 1), (1, F(1, 2)), (2, 1)]
    assert standing(("0", "2"), ("1", "1")) == [(0, 1), (1, 1)], "one voice"
    assert standing(("0", "47/48"), ("1", "1")) == [(0, 1), (1, 1)], "less than a sixteenth of a beat is no rest"
    assert standing(("0", "15/16"), ("1", "1")) == [(0, F(15, 16)), (1, 1)]
    assert standing(("0", "1/100"), ("1", "1")) == [(1, 1)], "nor is what has no length a note"
    assert standing(("0", "1"), ("1/100", "1"), ("2", "1")) == [(0, 1), (2, 1)]


def sung(*notes: MidiNote, metre: Metre = FOUR) -> SungLine:
    return midi_tune._written_melody(notes, file(track("", *notes)), metre)


def test_what_lies_on_its_places_is_taken_at_its_word_and_the_rest_is_moved() -> None:
    exact = sung(*(note(n) for n in range(8)))
    assert not exact.played and [n.beat for n in exact.notes] == list(range(8))
    loose = sung(*(note(n + F(side, 50)) for n, side in zip(range(8), (1, -1, 2, -2) * 2, strict=False)))
    assert loose.played and not loose.timed and [n.beat for n in loose.notes] == list(range(8))
    assert sung() == SungLine((), BeatMap(((0.0, 0.0), (1.0, 0.5))))


# Words


def words(*texts: tuple[object, str], kind: str = "marker") -> list[Text]:
    return [Text(F(beat), kind, text) for beat, text in texts]  # type: ignore[arg-type]


def read(texts: Sequence[Text]) -> tuple[list[tuple[Fraction, str]], list[str]]:
    chords, others = midi_tune._symbols(texts)
    return [(beat, chord.symbol) for beat, chord in chords], [text.text for text in others]


def test_the_kind_of_words_of_which_most_are_chords_has_the_chords() -> None:
    three, two = words((0, "Cm7"), (4, "F7"), (8, "soon")), words((0, "Cm7"), (4, "ah"), (8, "soon"))
    assert read(three) == ([(0, "Cm7"), (4, "F7")], ["soon"])
    assert read(two) == ([], ["Cm7", "ah", "soon"]), "six in ten have to be"
    five = words((0, "Cm7"), (1, "F7"), (2, "Bb6"), (3, "ah"), (4, "oh"))
    assert len(read(five)[0]) == 3
    more = words((0, "Dm7"), (4, "G7"), (8, "C6"), kind="lyrics")
    assert read([*three, *more])[0] == [(0, "Dm7"), (4, "G7"), (8, "C6")]
    assert read([*three, *more[:2]])[0] == [(0, "Cm7"), (4, "F7")], "of as many the markers"


def test_letters_alone_name_sections() -> None:
    assert read(words((0, "A"), (32, "B"), (64, "A"))) == ([], ["A", "B", "A"])
    assert read(words((0, "A"), (32, "B7"), (64, "A")))[0] == [(0, "A"), (32, "B7"), (64, "A")]


def test_of_two_symbols_on_one_beat_the_later_holds_and_the_same_again_is_one() -> None:
    assert read(words((0, "Cm7"), ("1/100", "F7"), (4, "F7"), (8, "Cm7")))[0] == [(0, "F7"), (8, "Cm7")]


def test_other_words_are_kept_with_their_beat_or_for_the_whole() -> None:
    texts = [*words((0, "la"), (8, "lo"), kind="lyrics"), *words((0, "for Ada"), (4, "slower"), kind="text"),
             *words((0, "me, 2026"), kind="copyright"), *words((4, "Bridge"))]  # fmt: skip
    found = midi_tune._words(file(), texts)
    assert [(beat, str(remark)) for beat, remark in found] == [
        (0, "words to sing: la"), (8, "words to sing: lo"), (None, "a text: for Ada"), (4, "a text: slower"),
        (None, "a text: me, 2026"),
    ]  # fmt: skip


def test_a_tempo_that_changes_all_the_time_is_one_remark() -> None:
    steps = tuple((F(n), 100.0 + n) for n in range(9))
    few, many = file(tempi=steps[:8]), file(tempi=steps)
    assert [str(remark) for _, remark in midi_tune._changes(many, FOUR)] == [
        "the tempo changes: 100 to 108, in 9 steps"
    ]
    assert [(beat, str(remark)) for beat, remark in midi_tune._changes(few, FOUR)] == [
        (n, f"the tempo changes: {100 + n}") for n in range(1, 8)
    ]
    keys = file(keys=((F(0), 0, False), (F(16), -3, True)))
    assert [(beat, str(remark)) for beat, remark in midi_tune._changes(keys, FOUR)] == [
        (16, "the key changes: C minor")
    ]


def test_tracks_that_are_left_out_are_told_with_the_reason() -> None:
    lead, comp = thick("", 9, 0, 72), thick("Comp", 0, 4, size=3)
    low, pair, flute = thick("", 9, 0, 40), thick("Guitar", 4, 6), replace(thick("", 5, 5), number=6)
    told = [
        str(remark)
        for _, remark in midi_tune._left_out(file(lead, comp, low, pair, flute, drums=3), lead, comp, low, "")
    ]
    assert told == [
        "a track that is left out: track 1, 9 notes: a chart has no bass part; it has told the roots of the chords",
        "a track that is left out: Guitar, 16 notes: it strikes too few notes at once for chords",
        "a track that is left out: track 7, 15 notes: the melody is track 1",
        "drums are left out: 3 notes",
    ]
    told = [str(remark) for _, remark in midi_tune._left_out(file(lead, pair), lead, None, None, "another track")]
    assert told == ["a track that is left out: Guitar, 16 notes: the chords are from another track"]


# What is refused


@pytest.mark.parametrize(("bars", "refused"), [(2000, False), (2001, True)])
def test_a_melody_has_two_thousand_bars_at_most(bars: int, refused: bool) -> None:
    lead = track("", note(8), note(8 + 4 * bars - 1))
    if refused:
        with pytest.raises(ChartError, match="more than 2000 bars"):
            midi_tune._check_length(lead, FOUR)
    else:
        midi_tune._check_length(lead, FOUR)


@pytest.mark.parametrize(
    ("count", "pace", "refused"), [(12, 0.0199, True), (12, 0.0201, False), (11, 0.001, False), (0, 1.0, False)]
)
def test_fifty_notes_a_second_are_more_than_a_hand_plays(count: int, pace: float, refused: bool) -> None:
    line = [note(40 + n, 1, pace=pace) for n in range(count)]
    if refused:
        with pytest.raises(ChartError, match="more than 50 notes a second"):
            midi_tune._check_speed(line)
    else:
        midi_tune._check_speed(line)


# Bars


def lengths(*metres: tuple[int, int, int], end: int = 16, zero: int = 0) -> list[Fraction]:
    found = file(metres=tuple((F(beat), Metre(beats, kind)) for beat, beats, kind in metres))
    return midi_tune._lengths(found, F(zero), [TranscribedNote(F(0), F(end), KeyPress(0, 1, 60))])


def test_bars_have_the_length_of_the_metre_that_rules_them_and_end_where_it_changes() -> None:
    assert lengths((0, 4, 4)) == lengths((0, 4, 4), (8, 4, 4)) == lengths() == []
    assert lengths((0, 4, 4), (8, 3, 4)) == [4, 4, 3, 3, 3]
    assert lengths((0, 4, 4), (6, 3, 4), end=12) == [4, 2, 3, 3]
    assert lengths((0, 4, 4), (9, 3, 4), end=12, zero=1) == [4, 4, 3, 3]
    assert lengths((4, 3, 4), (10, 2, 4), end=12) == [3, 1, 3, 3, 2]


def first_bar(
    melody: Sequence[tuple[object, object]],
    chords: Sequence[tuple[object, str]] = (),
    headings: Sequence[object] = (),
    metre: Metre = FOUR,
) -> Fraction:
    notes = tuple(TranscribedNote(F(b), F(n), KeyPress(0.0, 1.0, 60)) for b, n in melody)  # type: ignore[arg-type]
    symbols = tuple[tuple[Fraction, Chord], ...]((F(b), parse_chord(s)) for b, s in chords)  # type: ignore[arg-type]
    named = tuple(Heading(F(beat), "A") for beat in headings)  # type: ignore[arg-type]
    return midi_tune._first_downbeat(TuneInFile(SungLine(notes, BeatMap.steady(120, 0)), symbols, metre, 120.0, named))


SCALE = [(n, 1) for n in range(16)]


@pytest.mark.parametrize(
    ("melody", "chords", "headings", "zero"),
    [
        (SCALE, [], [], 0),  # the file's own bars, in doubt
        ([(n + 8, 1) for n in range(16)], [], [], 8),  # silent bars before it are left away
        ([(n + 7, 1) for n in range(16)], [], [], 4),
        ([(0, 1), *((1 + 4 * n, 4) for n in range(4))], [], [], 1),  # long notes on first beats
        (SCALE, [(1, "C6"), (5, "F6"), (9, "G7"), (13, "C6")], [], 1),
        (SCALE, [(0, "C6"), (5, "F6"), (9, "G7"), (13, "C6")], [], 1),
        (SCALE, [(0, "C6"), (4, "F6"), (9, "G7"), (13, "C6")], [], 0),
        (SCALE, [("3/2", "C6"), ("11/2", "F6")], [], "3/2"),
        (SCALE, [], [2], 2),  # a named section
        (SCALE, [], [2, 7], 2),
        (SCALE, [(0, "C6"), (4, "F6"), (8, "G7"), (12, "C6")], [2], 0),
        ([(0, "1/2"), *((F(1, 2) + 2 * n, 2) for n in range(8))], [], [], "1/2"),
        ([(3, 1), *((4 + n, 1) for n in range(12))], [(4, "C6"), (8, "F6")], [], 4),  # a bar that holds the pickup
        ([(3, 1), *((4 + n, 1) for n in range(12))], [(0, "G7"), (4, "C6"), (8, "F6")], [], 0),
        ([(3, 1), *((4 + n, 1) for n in range(12))], [], [], 0),
        (  # two chords a bar agree as well as one
            [(8 + n, 1) for n in range(16)],
            [(8 + 4 * n + late, symbol) for n in range(4) for late, symbol in ((0, "C6"), (1, "F6"))],
            [10],
            8,
        ),
        ([], [(3, "C6")], [], 3),
        ([], [], [], 0),
        ([(0, 8), (9, 4), (13, 4), (17, 4)], [], [], 1),  # a note of two bars counts as one
        ([(0, 3), (3, 1), (4, 3), (7, 1), (9, 4)], [], [], 0),
    ],
)
def test_the_first_full_bar_is_where_chords_long_notes_names_and_the_file_agree_best(
    melody: list[tuple[object, object]], chords: list[tuple[object, str]], headings: list[object], zero: object
) -> None:
    assert first_bar(melody, chords, headings) == F(zero)  # type: ignore[arg-type]


def test_in_three_four_too() -> None:
    assert first_bar([(0, 1), *((1 + 3 * n, 3) for n in range(4))], metre=Metre(3, 4)) == 1


def test_how_many_notes_begin_at_once_on_average() -> None:
    chord = [note(0, 1, midi) for midi in (60, 64, 67)]
    assert midi_tune._together(track("", *chord)) == 3.0
    assert midi_tune._together(track("", *chord, note(2, 1, 72))) == 2.0
    assert midi_tune._together(track("")) == 0.0


@pytest.mark.parametrize(
    ("length", "written"), [(F(15, 16), F(15, 16)), (F(11, 12), F(11, 12)), (F(3, 4), F(3, 4)), (F(5, 4), 1)]
)
def test_a_note_ends_where_it_stands_but_not_after_the_next_begins(length: Fraction, written: Fraction) -> None:
    first, second = midi_tune._as_they_stand([note(0, length), note(1, 1)])
    assert (first.beat, first.length, second.beat, second.length) == (0, written, 1, 1)
