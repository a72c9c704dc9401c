"""Chords of a take, named as they were played: with a human touch, through the whole of the review."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Heard, NoteKind, Part
from companion.music.kinds import degrees
from companion.practice.alignment import Alignment, align
from companion.practice.findings import Finding
from companion.practice.judging import JudgedNote
from companion.practice.review import review
from companion.practice.sweeps import Sweep
from companion.practice.voicings_played import PlayedVoicing, voicing_findings, voicings_played
from companion.stage.settings import Settings

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
QUARTER = 0.5
PCS = dict(zip(ROOTS, range(12), strict=True))


def two_five_one(root: str) -> Chart:
    """Eight bars of ii, V and I in a key."""
    ii, v = ROOTS[(PCS[root] + 2) % 12], ROOTS[(PCS[root] + 7) % 12]
    bars = f"{ii}m7 | {v}7 | {root}maj7 | {root}maj7"
    return parse_toml(
        f'format = 1\ntitle = "t"\nkey = "{root} major"\nform = "A"\n[section.A]\nchords = "| {bars} | {bars} |"\n'
    )


def stacked(root: str, text: str, low: int) -> list[int]:
    notes, last = [], low - 1
    for one in degrees(text):
        last += 1 + (PCS[root] + one.pc - last - 1) % 12
        notes.append(last)
    return notes


def played(
    root: str, forms: Sequence[str], *, bass: bool = False, seed: int = 1, late_voice: bool = False
) -> list[PlayedVoicing]:
    """Twice through the chart, each chord in its form, on beats 1 and 3, by a hand with a touch of 8 ms."""
    dice = random.Random(seed)
    form = two_five_one(root).unfold()
    notes = []
    for beat in range(0, 64, 2):
        name = (ROOTS[(PCS[root] + 2) % 12], ROOTS[(PCS[root] + 7) % 12], root, root)[beat // 4 % 4]
        keys = stacked(name, forms[min(beat // 4 % 4, 2)], 50)
        lags = [0.5 if late_voice and n == len(keys) - 1 else 0.0 for n in range(len(keys))]
        for key, lag in [*zip(keys, lags, strict=True), *([(36 + PCS[name], 0.0)] if bass else [])]:
            at = beat + lag + dice.gauss(0, 0.008) / QUARTER
            chorus, within = (1, at) if at < 32 else (2, at - 32)
            notes.append(JudgedNote("right", within, None, key, 2.0 + QUARTER * at, None, "chords", chorus=chorus))
    sweep = Sweep(0.0, 64.0, ((0.0, 2.0), (64.0, 2.0 + 64 * QUARTER)))
    notes.sort(key=lambda note: note.seconds or 0.0)
    return voicings_played(form, Alignment((tuple(notes),), (sweep,), ()))


STILL = ("b3 5 b7 9", "b7 9 3 13", "3 5 7 9")
"""ii, V and I with the hand kept still (Levine, The Jazz Piano Book, 1989, from memory)."""
NAMES = ("rootless from the third", "rootless from the seventh", "rootless from the third")


@pytest.mark.parametrize("bass", [False, True])
@pytest.mark.parametrize("root", ROOTS)
def test_a_two_five_one_is_named_in_every_key(root: str, bass: bool) -> None:
    found = played(root, STILL, bass=bass, seed=PCS[root])
    assert [one.bar for one in found] == [bar for _ in range(2) for bar in range(1, 9) for _ in range(2)]
    assert [one.text for one in found] == [NAMES[min((one.bar - 1) % 4, 2)] for one in found]
    assert not voicing_findings(two_five_one(root).unfold(), found)


def test_what_is_missing_is_said() -> None:
    found = played("C", ("b3 5 b7", "b7 9 3 13", "3 5 7 9"))
    assert {one.text for one in found if one.bar == 1} == {"rootless from the third, 9 missing"}


def test_a_fourth_voice_may_come_late() -> None:
    found = played("C", STILL, late_voice=True)
    assert {one.text for one in found if one.bar == 1} == {"rootless from the third, the last voice late"}


def test_another_chord_than_the_charts_is_told_with_its_name() -> None:
    found = played("C", ("3 b13 b7 #9", "b7 9 3 13", "3 5 7 9"))  # D7 altered, where the chart has Dm7
    told = [one for _, one in voicing_findings(two_five_one("C").unfold(), found)]
    assert {(one.bar, one.what) for one in told} == {(1, "voicing"), (5, "voicing")}
    assert all("where the chart has Dm7" in one.text for one in told)


def test_chords_are_named_through_the_whole_of_the_review() -> None:
    chart = two_five_one("C")
    dice = random.Random(2)
    heard = []
    for beat in range(0, 64, 2):
        keys = stacked(("D", "G", "C", "C")[beat // 4 % 4], STILL[min(beat // 4 % 4, 2)], 50)
        for key in keys:
            on = 2.0 + QUARTER * beat + dice.gauss(0, 0.008)
            heard += [Heard(on, 0x90, key, round(dice.gauss(60, 5))), Heard(on + 0.2, 0x80, key, 0)]
    heard.sort(key=lambda one: (one.seconds, one.status))
    settings = Settings(you=frozenset({"chords"}), tempo=120.0, start=2.0)
    found = review(chart.unfold(), align(chart, settings, heard), settings.you, heard)
    assert sum(one.text in NAMES for one in found.voicings) >= 0.95 * 32
    assert any(line.startswith("chords: ") and "rootless from the third" in line for line in found.figures)
    assert not [one for one in found.findings if one.what in ("voicing", "clash")]


def test_a_note_a_semitone_under_the_melody_rubs_unless_the_chord_has_it() -> None:
    parts: tuple[Part, ...] = ("chords", "chords", "chords", "melody")
    form = two_five_one("C").unfold()
    keys = list(zip((53, 57, 60, 61), parts, strict=True))  # C sharp over the C of Dm7
    notes = [JudgedNote("right", 0.0, 61 if part == "melody" else None, key, 2.0, None, part) for key, part in keys]
    own = list(zip((52, 55, 59, 60), parts, strict=True))  # C over the B of Cmaj7
    notes += [JudgedNote("right", 8.0, 60 if part == "melody" else None, key, 6.0, None, part) for key, part in own]
    sweep = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
    found = voicings_played(form, Alignment((tuple(notes),), (sweep,), ()))
    (one,) = [finding for _, finding in voicing_findings(form, found) if finding.what == "clash"]
    assert (one.bar, one.figure) == (1, 1.0)


# Where the limits lie, of single chords: eight bars of Dm7, G7, Cmaj7, Cmaj7, a quarter to half a second


TUNE = two_five_one("C").unfold()


def struck(
    *keys: tuple[int, float], beat: float = 0.0, melody: int | None = None, chorus: int = 1, kind: NoteKind = "right"
) -> list[PlayedVoicing]:
    """The voicings of keys that come so many quarters after a beat."""
    at = 2.0 + (beat + 32 * (chorus - 1)) / 2
    notes = [
        JudgedNote("right", beat + late, None, key, at + late / 2, None, "chords", chorus=chorus) for key, late in keys
    ]
    if melody is not None:
        notes.append(JudgedNote(kind, beat, melody, melody, at, 0.0, chorus=chorus))
    notes.sort(key=lambda note: note.seconds or 0.0)
    sweep = Sweep(0.0, 64.0, ((0.0, 2.0), (64.0, 34.0)))
    return voicings_played(TUNE, Alignment((tuple(notes),), (sweep,), ()))


def together(*keys: int) -> list[tuple[int, float]]:
    return [(key, 0.0) for key in keys]


@pytest.mark.parametrize(
    ("beat", "chord", "bar"),
    [
        (0.0, "Dm7", 1), (3.2, "Dm7", 1), (3.26, "G7", 1), (3.87, "G7", 1), (3.89, "G7", 2), (4.0, "G7", 2),
        (31.9, "Dm7", 1), (-0.2, "Dm7", 1),
    ],
)  # fmt: skip
def test_a_chord_may_be_the_coming_one_from_three_quarters_of_a_beat_before_it(
    beat: float, chord: str, bar: int
) -> None:
    """F A C E is Dm7 from its third and F A B E G7 from its seventh (Levine, 1989, from memory)."""
    keys = (53, 57, 60, 64) if chord == "Dm7" else (53, 57, 59, 64)
    (one,) = struck(*together(*keys), beat=beat)
    assert (one.chord, one.bar, one.called.price) == (chord, bar, 0.0)


@pytest.mark.parametrize(
    ("late", "following", "text"),
    [
        (0.5, None, "rootless from the third, the last voice late"),
        (1.09, None, "rootless from the third, the last voice late"),
        (1.11, None, "rootless from the third, 9 missing"),
        (0.5, 0.4, "rootless from the third, 9 missing"),  # another chord came before it
    ],
)
def test_a_voice_belongs_to_the_chord_before_it_for_a_beat(late: float, following: float | None, text: str) -> None:
    later = [] if following is None else [(53, following), (57, following), (60, following)]
    assert struck(*together(53, 57, 60), (64, late), *later)[0].text == text


def test_two_voices_that_come_late_are_none_of_the_chord_and_one_that_makes_it_no_better_neither() -> None:
    assert struck(*together(53, 57, 60), (64, 0.5), (62, 0.8))[0].text == "rootless from the third, 9 missing"
    assert struck(*together(53, 57, 60, 64), (66, 0.5))[0].text == "rootless from the third"


@pytest.mark.parametrize(
    ("keys", "melody", "rubs"),
    [
        ((53, 57, 60), 61, ((60, 61),)), ((53, 57, 60), 73, ((60, 73),)), ((53, 57, 60), 62, ()),
        ((53, 57, 60), 59, ()), ((53, 57, 60), None, ()), ((38, 63, 65, 69), None, ()),
    ],
)  # fmt: skip
def test_a_melody_rubs_a_semitone_or_a_minor_ninth_over_a_note_of_the_chord(
    keys: tuple[int, ...], melody: int | None, rubs: tuple[tuple[int, int], ...]
) -> None:
    assert struck(*together(*keys), melody=melody)[0].rubs == rubs
    if melody is not None:
        assert struck(*together(*keys), melody=melody, kind="wrong")[0].rubs == (), "a slip is a fault of its own"


def test_a_chord_has_its_moment_bar_chorus_and_bass_and_a_single_key_is_none() -> None:
    (one,) = struck(*together(38, 53, 57, 60, 64), beat=4.0, chorus=2)
    assert (one.bar, one.chorus, one.chart_beat, one.seconds) == (2, 2, 4.0, 20.0)
    assert (one.bass, one.midi) == (38, (53, 57, 60, 64))
    assert struck((60, 0.0)) == [] and struck((60, 0.0), melody=72) == [], "nothing is named of one key"


def test_what_is_told_of_chords_has_its_figure_and_place() -> None:
    (rub,) = voicing_findings(TUNE, struck(*together(53, 57, 60), melody=73))
    assert rub == (2.0, Finding(1, 1, "clash", 13.0, "bar 1: C under D♭"))
    (other,) = voicing_findings(TUNE, struck(*together(54, 58, 61, 64), beat=2.0))
    assert other[0] == 3.0 and other[1].figure == 1.0 and other[1].what == "voicing"


def test_a_chord_four_fifths_of_a_beat_before_the_next_one_is_held_against_its_own_moments() -> None:
    """F A B E, which is G7, over Dm7 still: then it is named by that."""
    (one,) = struck(*together(53, 57, 59, 64), beat=3.2)
    assert (one.chord, one.text) == ("Dm7", "b3 5 6 2")


def test_two_keys_are_named_and_a_voice_after_one_under_the_melody_makes_no_chord_of_them() -> None:
    assert [one.midi for one in struck(*together(53, 60))] == [(53, 60)]
    assert struck((60, 0.0), (65, 0.5), melody=72) == []


def test_a_key_struck_with_the_melody_begins_a_chord_of_its_own_and_is_no_late_voice() -> None:
    chord = [JudgedNote("right", 0.0, None, key, 2.0, None, "chords") for key in (53, 57, 60)]
    then = [JudgedNote("right", 1.0, None, 64, 2.5, None, "chords"), JudgedNote("right", 1.0, 72, 72, 2.5, 0.0)]
    sweep = Sweep(0.0, 32.0, ((0.0, 2.0), (32.0, 18.0)))
    (one,) = voicings_played(TUNE, Alignment(((*chord, *then),), (sweep,), ()))
    assert one.text == "rootless from the third, 9 missing"
