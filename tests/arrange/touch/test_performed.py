"""Parts as they are performed: swung, struck by hand, every key let go before it is struck again."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

import pytest

from companion.arrange.part import Note
from companion.arrange.plan import arrange
from companion.arrange.request import Request
from companion.arrange.solo.part import improvised_line
from companion.arrange.touch.performed import Performed, _one_at_a_time, performed
from companion.chart.model import Chart, Form
from companion.music.pitch import pitch_in_key
from tests.arrange.behaviour.test_corners_written_out import CHARTS

PARTS = ("melody", "chords", "bass", "solo")


def notes(form: Form, seed: int = 0) -> list[Note]:
    return [note for part in PARTS for note in arrange(form, part, Request(seed=seed))]


def test_no_key_is_down_twice_and_every_note_sounds_once_within_its_hand_of_its_place(shipped: Chart) -> None:
    form = shipped.unfold()
    written = notes(form)
    found = performed(form, written)
    keys: dict[tuple[str, int], list[Performed]] = {}
    for one in sorted(found, key=lambda one: one.start):
        keys.setdefault((one.note.part, one.note.midi), []).append(one)
        assert one.end > one.start
    for row in keys.values():
        assert all(a.end <= b.start + 1e-6 for a, b in pairwise(row) if b.start > a.start + 1e-6)
    assert sorted(map(id, written)) == sorted(id(one.note) for one in found)
    assert all(abs(one.start - one.place) * 60 / form.tempo <= 0.0251 for one in found)


def test_the_same_seed_sounds_the_same_and_another_seed_otherwise(ferry: Chart) -> None:
    form = ferry.unfold()
    written = notes(form)
    once, again, other = (performed(form, written, seed) for seed in (1, 1, 2))
    assert once == again != other


@pytest.mark.parametrize("part", ["bass", "chords", "melody", "solo"])
def test_velocities_differ_and_stay_within_midis(ferry: Chart, part: str) -> None:
    form = ferry.unfold()
    struck = [one.velocity for one in performed(form, arrange(form, part, Request()))]
    assert len(set(struck)) > 8 and min(struck) >= 1 and max(struck) <= 127


# What stands here is how a hand strikes some bars today, not how it should: kept as in test_written_out.py. Of each
# note the part's first letter, the pitch, from when to when it sounds in quarters, and how firmly it is struck.
STRUCK = {
    ("walking over silences", 0, 8): """
b:E2:-0.004-0.840:68 b:B1:0.995-1.827:71 b:C2:1.998-2.840:64 b:E2:2.995-3.849:70 b:F2:3.995-4.851:65
b:Ab2:4.996-5.848:71 c:C4:0.989-1.625:49 c:E4:0.984-1.621:49 c:G4:0.979-1.616:57 c:E4:1.991-2.938:49
c:G4:1.987-2.933:49 c:C5:1.982-2.928:57 c:G4:4.983-5.919:49 c:Ab4:4.978-5.914:49 c:D5:4.976-5.912:57
m:C5:-0.024-1.549:65 m:Eb5:1.661-3.905:72 m:F5:3.977-5.698:75 s:C5:0.002-0.932:74 s:A4:1.004-1.611:68
s:G4:1.633-2.603:78 s:F4:2.637-3.590:72 s:E4:3.633-4.759:68
""",
    ("walking in six eights", 0, 6): """
b:C3:-0.004-0.797:64 b:A2:0.995-1.405:61 b:D2:1.498-2.699:71 b:E2:2.995-3.813:69 b:G2:3.995-4.398:61
b:A2:4.496-5.298:71 b:B2:5.494-5.897:60 c:E3:-0.010-0.715:46 c:G3:-0.013-0.712:46 c:A3:-0.016-0.709:46
c:D4:-0.019-0.706:53 c:F3:1.492-2.216:46 c:A3:1.488-2.212:46 c:C4:1.483-2.207:53 c:F#3:2.985-3.941:50
c:G3:2.982-3.938:50 c:B3:2.979-3.935:50 c:D4:2.978-3.933:57 c:F#3:4.487-5.435:47 c:G3:4.484-5.432:47
c:B3:4.481-5.429:47 c:C#4:4.478-5.426:55 s:A4:0.488-0.971:62 s:B4:0.988-1.931:74 s:C5:1.991-2.473:68
s:D5:2.492-3.721:79
""",
    ("a ballad over silences", 0, 8): """
b:E1:-0.002-0.904:63 b:G1:0.997-1.845:69 b:E2:1.999-3.681:64 b:F1:3.997-4.903:65 b:C2:4.997-5.896:70
c:C4:0.993-2.542:46 c:E4:0.990-2.539:46 c:G4:0.988-2.536:53 c:G3:2.615-3.945:50 c:C4:2.612-3.942:50
c:E4:2.609-3.940:58 c:Ab3:4.990-5.946:50 c:C4:4.987-5.943:50 c:D4:4.986-5.941:58 m:C5:-0.015-1.491:65
m:Eb5:1.594-3.907:72 m:F5:3.986-5.708:75 s:C5:0.001-0.923:71 s:A4:1.003-1.588:66 s:G4:1.590-2.575:76
s:F4:2.592-3.572:73 s:E4:3.590-4.757:65
""",
    ("a bossa in four sections", 28, 33): """
b:F2:28.002-29.231:69 b:C3:29.501-30.327:72 b:F2:30.498-30.912:71 b:C3:31.003-31.411:77 b:F2:31.503-31.919:71
b:Bb2:32.007-33.239:66 c:E4:28.502-29.468:56 c:A4:28.496-29.462:56 c:D5:28.489-29.455:65 c:E4:30.498-31.435:56
c:A4:30.492-31.429:56 c:C5:30.486-31.423:65 c:E4:31.520-31.876:57 c:A4:31.513-31.869:57 c:D5:31.507-31.863:66
m:E5:27.968-31.736:69 m:A5:31.968-35.846:77 s:C5:27.979-28.998:66 s:F4:32.470-33.412:68
""",
}


@pytest.mark.parametrize(("name", "start", "end"), STRUCK)
def test_how_a_hand_strikes_some_bars(compose: Callable[..., Form], name: str, start: int, end: int) -> None:
    changes, treatment, as_told = CHARTS[name]
    form, request = compose(changes, **as_told), Request(treatment, chorus=2, seed=1)
    played = [n for part in ("bass", "chords", "melody") for n in arrange(form, part, request)]
    found = [
        f"{one.note.part[0]}:{one.note.pitch}:{one.start:.3f}-{one.end:.3f}:{one.velocity}"
        for one in performed(form, [*played, *improvised_line(form, seed=2)], 4)
        if start <= one.note.beat < end
    ]
    assert found == STRUCK[name, start, end].split()


@pytest.mark.parametrize(("weight", "velocity"), [(0.0, 1), (0.001, 1), (1.0, 74), (50.0, 127)])
def test_a_note_is_struck_by_its_weight_and_its_parts_level_as_midi_can_say_it(
    compose: Callable[..., Form], weight: float, velocity: int
) -> None:
    """A velocity is 1 to 127: MIDI 1.0."""
    note = Note(Fraction(0), Fraction(1), pitch_in_key(72), "melody", weight=weight)
    (one,) = performed(compose("C6 | C6"), [note], plain=True)
    assert one.velocity == velocity


def test_a_key_is_let_go_where_it_is_struck_again_and_not_before_it_is_struck(compose: Callable[..., Form]) -> None:
    def ends(*notes: tuple[float, float, int]) -> list[float]:
        found = [
            Performed(
                Note(Fraction(at), Fraction(long), pitch_in_key(midi), "melody"), at, at + long, at, at + long, 64
            )
            for at, long, midi in notes
        ]
        return [one.end for one in _one_at_a_time(found)]

    assert ends((0, 2, 60), (1, 1, 60)) == [1, 2] and ends((0, 2, 60), (1, 1, 61)) == [2, 2]
    assert ends((0, 1, 60), (1, 1, 60)) == [1, 2] and ends((0, 1, 60), (2, 1, 60)) == [1, 3]
    assert ends((0, 2, 60), (0, 1, 60)) == [2, 1], "at the same moment it is one stroke"
    assert ends((0, 4, 60), (1, 4, 60), (2, 1, 60)) == [1, 2, 3]
