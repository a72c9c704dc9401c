"""Keys go to the part that a listener would hear them in."""

from __future__ import annotations

from companion.music.played import KeyPress
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.hands_played import PartedKeys, part_keys


def parted(keys: list[KeyPress], *you: str, sung: bool = False) -> PartedKeys:
    return part_keys(preferences(CapturePreferences), keys, you, lambda seconds: sung)  # type: ignore[arg-type]


def struck(on: float, *midis: int, lasts: float = 0.4) -> list[KeyPress]:
    return [KeyPress(on + 0.004 * n, on + lasts, midi) for n, midi in enumerate(midis)]


def test_of_two_hands_the_bottom_is_the_bass_and_the_top_the_line():
    """A walking left hand under a melody over a rootless chord (common practice)."""
    found = parted([*struck(0.0, 38, 60, 64, 65, 69, 74)], "melody", "chords", "bass", sung=True)
    assert [key.midi for key in found.bass] == [38]
    assert [key.midi for key in found.line] == [74]
    assert [[key.midi for key in group] for group in found.chords] == [[60, 64, 65, 69]]


def test_a_chord_under_a_held_melody_note_has_no_part_in_the_line():
    found = parted([*struck(0.0, 76, lasts=2.0), *struck(0.7, 57, 60, 64)], "melody", "chords")
    assert [key.midi for key in found.line] == [76]
    assert [[key.midi for key in group] for group in found.chords] == [[57, 60, 64]]


def test_a_chord_in_a_rest_of_the_melody_is_a_chord_to_its_top():
    found = parted([*struck(0.0, 76, lasts=0.3), *struck(1.0, 57, 60, 64, 67)], "melody", "chords")
    assert [key.midi for key in found.line] == [76]
    assert [[key.midi for key in group] for group in found.chords] == [[57, 60, 64, 67]]


def test_who_plays_one_part_plays_nothing_else():
    assert len(parted(struck(0.0, 48, 52, 55), "chords").chords) == 1
    assert [key.midi for key in parted([*struck(0.0, 40), *struck(0.5, 58)], "bass").bass] == [40, 58]
    assert [key.midi for key in parted([*struck(0.0, 40), *struck(0.5, 72)], "solo").line] == [40, 72]


def test_a_bouncing_key_is_one_note():
    assert [key.midi for key in parted([*struck(0.0, 72), *struck(0.02, 72)], "solo").line] == [72]


def test_under_e3_the_lowest_key_is_the_basss_and_above_it_the_chords() -> None:
    assert [key.midi for key in parted(struck(0.0, 51, 60, 64), "chords", "bass").bass] == [51]
    assert parted(struck(0.0, 52, 60, 64), "chords", "bass").bass == ()
    assert [key.midi for key in parted(struck(0.0, 70), "bass").bass] == [70], "who plays nothing else plays the bass"


def test_two_keys_at_once_are_a_line_over_a_note_and_three_a_chord_to_its_top() -> None:
    two = parted(struck(0.0, 60, 72), "melody", "chords")
    assert [key.midi for key in two.line] == [72] and [[k.midi for k in group] for group in two.chords] == [[60]]
    three = parted(struck(0.0, 60, 64, 72), "melody", "chords")
    assert three.line == () and len(three.chords[0]) == 3


def test_a_line_is_held_over_chords_only_while_its_key_is_down() -> None:
    held = parted([*struck(0.0, 76, lasts=0.5), *struck(0.45, 64)], "melody", "chords")
    assert [key.midi for key in held.line] == [76] and len(held.chords) == 1
    free = parted([*struck(0.0, 76, lasts=0.5), *struck(0.55, 64)], "melody", "chords")
    assert [key.midi for key in free.line] == [76, 64] and free.chords == ()
    above = parted([*struck(0.0, 64, lasts=2.0), *struck(0.5, 76)], "melody", "chords")
    assert [key.midi for key in above.line] == [64, 76]


def test_who_plays_melody_and_bass_has_no_chords() -> None:
    found = parted([*struck(0.0, 40, 60, 76)], "melody", "bass")
    assert [key.midi for key in found.bass] == [40] and [key.midi for key in found.line] == [76] and found.chords == ()
    assert [key.midi for key in parted([*struck(0.0, 40, 60)], "bass", "chords").bass] == [40]


def test_a_key_let_go_as_the_next_is_struck_is_held_over_nothing() -> None:
    found = parted([*struck(0.0, 76, lasts=0.5), *struck(0.5, 64)], "melody", "chords")
    assert [key.midi for key in found.line] == [76, 64] and found.chords == ()
