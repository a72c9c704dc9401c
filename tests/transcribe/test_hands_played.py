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
