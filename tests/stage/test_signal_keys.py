"""Which keys are left to tell something, tune by tune and keyboard by keyboard.

Common practice: a piano has 88 keys from A0 (MIDI 21) to C8 (108); smaller keyboards have 76 from E1 (28) to G7, 61
from C2 (36) to C7 and 49 from C2 to C6.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.messages import WISHES
from companion.stage.signal_keys import CROWDED, key_name, signals_for

PIANO, KEYS_76, KEYS_61, KEYS_49 = (21, 108), (28, 103), (36, 96), (36, 84)
EVERY_YOU = [{"melody"}, {"solo"}, {"chords"}, {"bass"}, {"melody", "chords"}, {"melody", "bass"}, {"bass", "solo"}]
EVERY_YOU += [{"melody", "chords", "bass"}]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Writes a signals.toml of the player's own."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))

    def write(text: str) -> None:
        (tmp_path / "configs").mkdir(exist_ok=True)
        (tmp_path / "configs" / "signals.toml").write_text(text, encoding="utf-8")

    return write


@pytest.mark.parametrize("you", EVERY_YOU, ids=lambda you: "+".join(sorted(you)))
def test_on_a_piano_everything_can_be_told_by_keys_clear_of_the_players_notes(shipped: Chart, you: set[Any]) -> None:
    table = signals_for([shipped], you, WISHES, keyboard=PIANO)
    assert set(table.keys.values()) == set(WISHES)
    melody = [note.pitch.midi for note in shipped.unfold().melody]
    yours = (melody if "melody" in you else []) + ([28, 55] if "bass" in you else [])
    assert all(abs(key - note) > 12 for key in table.keys for note in yours)


@pytest.mark.parametrize("keyboard", [PIANO, KEYS_76, KEYS_61, KEYS_49], ids=["88", "76", "61", "49"])
def test_a_bass_that_goes_to_the_lowest_key_meets_no_signal(shipped: Chart, keyboard: tuple[int, int]) -> None:
    for you in ({"bass"}, {"bass", "solo"}, {"melody", "bass"}):
        table = signals_for([shipped], you, WISHES, keyboard=keyboard)
        assert all(key > 67 for key in table.keys)


def test_the_ends_say_the_same_counted_from_the_very_end(ferry: Chart) -> None:
    keys = signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO).keys
    assert [keys[key] for key in (21, 23, 24, 26)] == [keys[key] for key in (108, 107, 105, 103)]
    assert [keys[key] for key in (22, 25)] == [keys[key] for key in (104, 106)] == ["slower", "faster"]


def test_only_what_can_be_wished_has_a_key_and_the_others_keep_their_place(ferry: Chart) -> None:
    every = signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO).keys
    some = signals_for([ferry], {"melody"}, ("again", "stop"), keyboard=PIANO).keys
    assert some == {key: wish for key, wish in every.items() if wish in ("again", "stop")}


def test_a_small_keyboard_gives_the_end_that_the_hand_leaves_free(ferry: Chart) -> None:
    """With 61 keys and the melody the left hand has the low end, though the companion's own bass lies there."""
    keys = signals_for([ferry], {"melody"}, WISHES, keyboard=KEYS_61).keys
    assert {"last time", "again", "next", "stop", "slower", "faster"} <= set(keys.values())
    assert min(note.pitch.midi for note in ferry.unfold().melody) - max(k for k in keys if k < 60) >= 12


def test_with_no_key_to_spare_there_are_pedals_only_and_one_line_says_so(ferry: Chart) -> None:
    table = signals_for([ferry], {"melody", "bass"}, WISHES, keyboard=KEYS_49)
    assert not table.keys
    assert table.lines() == [CROWDED, "soft pedal over a bar line: last time"]


def test_a_line_an_end_tells_what_there_is(ferry: Chart) -> None:
    lines = signals_for([ferry], {"melody"}, ("last time", "again", "stop", "keep"), keyboard=PIANO).lines()
    assert lines == [
        "lowest A: last time; B: again; D: stop",
        "highest C: last time; B: again; G: stop; F: keep this take",
        "soft pedal over a bar line: last time",
    ]


def test_a_melody_in_another_key_leaves_other_keys(stand: Any) -> None:
    low, high = (stand.chart(("| C |", f"| {note} |")) for note in ("C8", "g'8"))
    both = signals_for([low, high], {"melody"}, WISHES, keyboard=PIANO).keys
    assert min(key for key in both if key > 60) > 91 + 12
    assert min(key for key in signals_for([low], {"melody"}, WISHES, keyboard=PIANO).keys if key > 60) < 91 + 12


def test_what_a_player_taught_takes_the_place_of_the_end_key(ferry: Chart, own: Callable[[str], None]) -> None:
    own("[taught]\nagain = { controller = 66 }\nstop = { program = 5 }\nkeep = { key = 108 }\n")
    table = signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO)
    assert table.controllers == {66: "again"} and table.programs == {4: "stop"}
    assert not {"again", "stop"} & set(table.keys.values())
    assert [key for key, wish in table.keys.items() if wish == "keep"] == [108]
    assert table.keys[21] == "last time" and table.lines()[-1] == (
        "sostenuto pedal: again; program 5: stop; soft pedal over a bar line: last time"
    )


def test_a_taught_key_that_the_tune_needs_is_for_playing(ferry: Chart, own: Callable[[str], None]) -> None:
    own("[taught]\nagain = { key = 72 }\n")
    keys = signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO).keys
    assert 72 not in keys and keys[23] == "again"
    assert signals_for([ferry], {"bass"}, WISHES, keyboard=PIANO).keys[72] == "again"


def test_a_taught_soft_pedal_tells_that_and_no_last_time(ferry: Chart, own: Callable[[str], None]) -> None:
    own("[taught]\nagain = { controller = 67 }\n")
    assert signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO).over_a_bar_line == 0


def test_the_pedal_over_a_bar_line_is_named_only_where_it_is_listened_for(ferry: Chart) -> None:
    assert signals_for([ferry], {"melody"}, WISHES, over_a_bar_line=False).over_a_bar_line == 0
    assert signals_for([ferry], {"melody"}, ("again",)).over_a_bar_line == 0
    assert signals_for([ferry], {"melody"}, ("last time",)).over_a_bar_line == 67


def test_who_wants_no_keys_has_none(ferry: Chart, own: Callable[[str], None]) -> None:
    own("[end-keys]\non = false\n[last-time]\npedal = 0\n")
    table = signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO)
    assert not table.keys and not table.lines()


def test_a_key_is_named_as_it_is_found() -> None:
    assert [key_name(k, KEYS_61) for k in (36, 37, 95, 96)] == ["lowest C", "C♯", "B", "highest C"]
