"""An arrangement written into a chart: the same notes come back, bars made anew lead from and into the others."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from companion.arrange.explain import explain
from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.writing import write_arrangement
from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.chart.toml.write import write_toml
from companion.load import load
from companion.resources import shipped_folder

CHARTS = sorted((shipped_folder() / "charts").glob("*.toml"))
PARTS = ("melody", "chords", "bass")
MINOR = "ferry-without-lights"


def chart(name: str = MINOR) -> Chart:
    return load(shipped_folder() / "charts" / f"{name}.toml")


def text(name: str = MINOR) -> str:
    return (shipped_folder() / "charts" / f"{name}.toml").read_text(encoding="utf-8")


def bare(notes: tuple[Note, ...]) -> list[Note]:
    """The notes without degree and reason, which aren't written."""
    return sorted((replace(n, degree="", reason="") for n in notes), key=lambda n: (n.beat, n.midi))


def in_bars(made: Chart, part: str, first: int, last: int) -> list[Note]:
    form = made.unfold()
    bars = [*form.bars, form.length]
    return [n for n in arrange(form, part) if bars[first - 1] <= n.beat < bars[last]]


@pytest.mark.parametrize(
    ("file", "treatment"), [*zip(CHARTS[::2], [None, "walking", "sparse", "ballad", "block"] * 9, strict=False)]
)
def test_an_arrangement_comes_back_note_for_note_from_its_file(file: Path, treatment: str | None) -> None:
    seed, before = len(file.stem), load(file)
    made = write_arrangement(before, parts=PARTS, seed=seed, treatment=treatment)
    again = parse_toml(update_toml(file.read_text(encoding="utf-8"), made)).unfold()
    for part in PARTS:
        free = arrange(before.unfold(), part, Request(seed=seed, treatment=treatment))
        assert bare(arrange(again, part, Request(chorus=2, seed=99))) == bare(free)


@pytest.mark.parametrize("treatment", [None, "open", "in-two", "sliding", "turned", "waltz", "bossa"])
def test_every_way_of_playing_can_be_written(treatment: str | None) -> None:
    made = write_arrangement(chart(), parts=PARTS, seed=5, treatment=treatment)
    assert parse_toml(write_toml(made)).written == made.written


def test_what_is_written_is_the_same_in_every_chorus_and_what_is_free_is_not() -> None:
    made = write_arrangement(chart(), seed=1).unfold()
    assert arrange(made, "bass", Request(chorus=1)) == arrange(made, "bass", Request(chorus=2, seed=7))
    assert bare(arrange(made, "bass", Request(chorus=1, free=True))) != bare(
        arrange(made, "bass", Request(chorus=2, free=True))
    )
    walking = arrange(made, "bass", Request(treatment="walking"))
    assert walking == arrange(chart().unfold(), "bass", Request(treatment="walking"))


def test_a_bar_edited_by_hand_is_played() -> None:
    file = update_toml(text(), write_arrangement(chart(), seed=3))
    table = file.index("[[arrangement]]")
    start = file.index('bass = """\n|', table) + len('bass = """\n|')
    end = file.index("|", start)
    edited = parse_toml(f"{file[:start]} G,,2 z2 D,,2 D,2 {file[end:]}")
    assert [str(n.pitch) for n in in_bars(edited, "bass", 1, 1)] == ["G2", "D2", "D3"]
    first, second = explain(edited.unfold(), last=2)
    assert "G2 the root says Gm6" in str(first) and "walking" in second.treatment


def test_bars_made_anew_leave_the_others_to_the_letter() -> None:
    written = update_toml(text(), write_arrangement(chart(), seed=3))
    file = written.replace('section = "A2"', 'section = "A2"  # with the pickup', 1)
    anew = update_toml(file, write_arrangement(parse_toml(file), bars=range(5, 9), seed=7))
    changed = [n for n, (a, b) in enumerate(zip(file.splitlines(), anew.splitlines(), strict=True)) if a != b]
    assert changed
    place = file.splitlines().index("[[arrangement]]  # bars 9-16")
    assert all(n < place for n in changed)
    assert "# with the pickup" in anew
    before, after = parse_toml(file), parse_toml(anew)
    for part in ("bass", "chords"):
        for first, last in ((1, 4), (9, 32)):
            there, still = ([replace(n, reason="") for n in in_bars(c, part, first, last)] for c in (before, after))
            assert there == still, "a reason may name the chord before, which is another"
        assert in_bars(before, part, 5, 8) != in_bars(after, part, 5, 8)


@pytest.mark.parametrize("seed", range(6))
def test_a_bass_made_anew_leads_from_the_bar_before_and_into_the_bar_after(seed: int) -> None:
    before = write_arrangement(chart(), parts=("bass",), treatment="walking", seed=3)
    after = write_arrangement(before, parts=("bass",), bars=range(5, 9), treatment="walking", seed=seed)
    line = [n for n in in_bars(after, "bass", 4, 9) if n.weight >= 0.6]
    edges = [(a, b) for a, b in pairwise(line) if (a.beat < 16) != (b.beat < 16) or (a.beat < 32) != (b.beat < 32)]
    assert len(edges) == 2
    steps = [abs(a.midi - b.midi) for a, b in edges]
    assert all(step in (1, 2, 5, 7) for step in steps), "by semitone, step, fifth or fourth (common practice)"


def test_chords_made_anew_come_from_the_hand_before_and_go_to_the_hand_after() -> None:
    """A voice moves two semitones or less on the mean (common practice)."""
    before = write_arrangement(chart(), treatment="walking", seed=3)
    moves = []
    for seed in range(6):
        after = write_arrangement(before, parts=("chords",), bars=range(5, 9), treatment="walking", seed=seed)
        chords: dict[Fraction, list[int]] = {}
        for note in in_bars(after, "chords", 3, 10):
            chords.setdefault(note.beat, []).append(note.midi)
        for edge in (16, 32):
            hand = max(beat for beat in chords if beat < edge), min(beat for beat in chords if beat >= edge)
            few, many = sorted((chords[beat] for beat in hand), key=len)
            moves += [min(abs(x - y) for y in many) for x in few]
    assert sum(moves) / len(moves) <= 2.0


def test_bars_that_are_not_written_stay_free_among_those_that_are() -> None:
    made = write_arrangement(chart(), parts=("bass",), bars=range(1, 5), seed=3)
    assert made.written[0].bars == {1, 2, 3, 4}
    one, two = (bare(arrange(made.unfold(), "bass", Request(chorus=chorus))) for chorus in (1, 2))
    assert [n for n in one if n.beat < 16] == [n for n in two if n.beat < 16]
    assert [n for n in one if n.beat >= 16] != [n for n in two if n.beat >= 16]
    assert len(one) >= 4 * 24, "every bar has a bass"


def test_the_melody_is_written_only_where_it_is_varied() -> None:
    plain = write_arrangement(chart(), seed=3)
    assert [part.bars <= set(range(29, 33)) for part in plain.written if part.part == "melody"] == [True]
    turned = write_arrangement(chart(), treatment="turned", seed=3)
    (melody,) = (part for part in turned.written if part.part == "melody")
    assert melody.bars and melody.bars <= set(range(29, 33)), "the ending of what comes again"
    assert bare(arrange(turned.unfold(), "melody")) == bare(
        arrange(chart().unfold(), "melody", Request(treatment="turned", seed=3))
    )


def test_an_accented_note_of_a_written_melody_is_struck_so() -> None:
    file = write_toml(write_arrangement(chart(), parts=("melody",), seed=3))
    edited = parse_toml(file[: file.index("[[arr")] + file[file.index("[[arr") :].replace("G6", "!>!G6", 1))
    (accented,) = (n for n in arrange(edited.unfold(), "melody") if n.weight != 1)
    assert (accented.beat, str(accented.pitch)) == (0, "G4")


def test_chords_listen_to_the_bass_and_the_melody_that_are_written() -> None:
    made = write_arrangement(chart(), parts=("bass",), seed=3)
    low = replace(made, written=(replace(made.written[0], notes=tuple(
        replace(n, pitch=replace(n.pitch, octave=n.pitch.octave + 1)) for n in made.written[0].notes)),))  # fmt: skip
    bass = arrange(low.unfold(), "bass")
    for note in arrange(low.unfold(), "chords"):
        under = [n.midi for n in bass if n.beat <= note.beat < n.beat + n.length]
        assert all(midi < note.midi for midi in under)


def test_written_notes_are_explained_as_the_arranger_explains_its_own() -> None:
    form, made = chart().unfold(), write_arrangement(chart(), seed=3).unfold()
    for part, least in (("bass", 0.85), ("chords", 0.95)):
        own = {(n.beat, n.midi): n for n in arrange(form, part, Request(seed=3))}
        given = arrange(made, part)
        assert all(n.reason for n in given)
        assert sum(own[n.beat, n.midi].degree == n.degree for n in given) >= least * len(given)
        called = [(re.split("[:;]", own[n.beat, n.midi].reason)[0], n.reason) for n in given]
        assert sum(name in reason for name, reason in called) >= least * len(given)
