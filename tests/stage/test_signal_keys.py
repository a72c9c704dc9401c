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
from companion.preferences.signals import TaughtPress
from companion.stage.signal_keys import CROWDED, SignalTable, key_name, press_name, signals_for, wish_text

PIANO, KEYS_76, KEYS_61, KEYS_49 = (21, 108), (28, 103), (36, 96), (36, 84)
EVERY_YOU: list[set[Any]] = [
    {"melody"},
    {"solo"},
    {"chords"},
    {"bass"},
    {"melody", "chords"},
    {"melody", "bass"},
    {"bass", "solo"},
]
EVERY_YOU += [{"melody", "chords", "bass"}]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Writes a signals.toml of the player's own."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))

    def write(text: str) -> None:
        (tmp_path / "configs").mkdir(exist_ok=True)
        (tmp_path / "configs" / "signals.toml").write_text(text, encoding="utf-8")

    return write


def test_on_a_piano_everything_can_be_told_by_keys_clear_of_the_players_notes(shipped: Chart) -> None:
    melody = [note.pitch.midi for note in shipped.unfold().melody]
    for you in EVERY_YOU:
        table = signals_for([shipped], you, WISHES, keyboard=PIANO)
        assert set(table.keys.values()) == set(WISHES)
        yours = (melody if "melody" in you else []) + ([28, 55] if "bass" in you else [])
        assert all(abs(key - note) > 12 for key in table.keys for note in yours)


def test_a_bass_that_goes_to_the_lowest_key_meets_no_signal(shipped: Chart) -> None:
    for keyboard in (PIANO, KEYS_76, KEYS_61, KEYS_49):
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
    assert [key_name(k) for k in (21, 22, 107, 108)] == ["lowest A", "B♭", "B", "highest C"]
    assert [press_name(TaughtPress(key=k)) for k in (21, 22)] == ["lowest A", "B♭0"]
    assert [key_name(k, KEYS_61) for k in (36, 37, 95, 96)] == ["lowest C", "C♯", "B", "highest C"]


LOW = "21 last time, 22 slower, 23 again, 24 next, 25 faster, 26 stop"
LOWER = "28 keep, 29 stay, 31 start"
HIGH = "98 start, 100 stay, 101 keep, 103 stop, 104 slower, 105 next, 106 faster, 107 again, 108 last time"


@pytest.mark.parametrize(
    ("you", "keyboard", "note", "keys"),
    [
        # A melody keeps an octave beyond it, and beyond what a solo may have (B flat 3 to D flat 6), free of commands.
        ("melody", PIANO, "C8", f"{LOW}, {HIGH}"), ("chords", PIANO, "C8", f"{LOW}, {HIGH}"),
        # Up to G6; to A6, where the black keys would be one; to B6; to C7. What has no key there has one lower down.
        ("melody", PIANO, "g'8", f"{LOW}, {LOWER}, 104 slower, 105 next, 106 faster, 107 again, 108 last time"),
        ("melody", PIANO, "a'8", f"{LOW}, {LOWER}, 107 again, 108 last time"),
        ("melody", PIANO, "b'8", f"{LOW}, {LOWER}, 108 last time"), ("solo", PIANO, "c''8", f"{LOW}, {LOWER}"),
        ("chords", KEYS_61, "C8", "92 slower, 93 next, 94 faster, 95 again, 96 last time"),
        ("chords", KEYS_49, "C8", ""),
        ("bass", KEYS_49, "C8",
         "74 start, 76 stay, 77 keep, 79 stop, 80 slower, 81 next, 82 faster, 83 again, 84 last time"),
        ("melody", KEYS_61, "C8", "36 last time, 37 slower, 38 again, 39 faster, 40 next, 41 stop, 43 keep, 45 stay"),
        ("melody,bass", KEYS_76, "C8", "98 stop, 99 slower, 100 next, 101 again, 102 faster, 103 last time"),
        ("melody,bass", KEYS_61, "C8", ""),
    ],
)  # fmt: skip
def test_which_keys_tell_what(stand: Any, you: str, keyboard: tuple[int, int], note: str, keys: str) -> None:
    found = signals_for([stand.chart(("| C |", f"| {note} |"))], you.split(","), WISHES, keyboard=keyboard)  # type: ignore[arg-type]
    assert ", ".join(f"{key} {wish}" for key, wish in sorted(found.keys.items())) == keys
    assert found.crowded == (not keys) and found.keyboard == keyboard


def test_a_keyboard_of_which_nothing_is_said_is_a_pianos(stand: Any) -> None:
    chart = stand.chart(("| C |", "| C8 |"))
    assert signals_for([chart], {"melody"}, WISHES) == signals_for([chart], {"melody"}, WISHES, keyboard=PIANO)


@pytest.mark.parametrize(("key", "close"), [(53, False), (54, True), (57, True), (86, True), (89, True), (90, False)])
def test_a_taught_key_near_the_players_notes_is_known_to_be(
    stand: Any, own: Callable[[str], None], key: int, close: bool
) -> None:
    """Within four semitones of what may be played: B flat 3 to D flat 6 (configs/signals.toml, configs/solo.toml)."""
    own(f"[taught]\nagain = {{ key = {key} }}\n")
    table = signals_for([stand.chart(("| C |", "| C8 |"))], {"melody"}, WISHES, keyboard=PIANO)
    assert table.keys[key] == "again" and (key in table.close) == close


@pytest.mark.parametrize(("key", "close"), [(55, False), (56, True), (64, True), (65, False)])
def test_of_who_plays_no_part_middle_c_alone_is_for_playing(
    stand: Any, own: Callable[[str], None], key: int, close: bool
) -> None:
    own(f"[taught]\nagain = {{ key = {key} }}\nstop = {{ key = 60 }}\n")
    table = signals_for([stand.chart(("| C |", "| C8 |"))], (), WISHES, keyboard=PIANO)
    assert table.keys[key] == "again" and (key in table.close) == close and 60 not in table.keys


@pytest.mark.parametrize(("pedals", "told_by"), [("[64]", 0), ("[64, 67]", 67), ("[]", 67)])
def test_a_pedal_that_the_instrument_lacks_tells_nothing(
    ferry: Chart, own: Callable[[str], None], tmp_path: Path, pedals: str, told_by: int
) -> None:
    own("")
    (tmp_path / "configs" / "instruments.toml").write_text(f"pedals = {pedals}\n", encoding="utf-8")
    assert signals_for([ferry], {"melody"}, WISHES, keyboard=PIANO).over_a_bar_line == told_by


@pytest.mark.parametrize("key", [58, 72, 85])
def test_from_the_lowest_to_the_highest_note_that_may_be_played_no_key_can_be_taught(
    stand: Any, own: Callable[[str], None], key: int
) -> None:
    own(f"[taught]\nagain = {{ key = {key} }}\n")
    assert key not in signals_for([stand.chart(("| C |", "| C8 |"))], {"melody"}, WISHES, keyboard=PIANO).keys


@pytest.mark.parametrize(
    ("press", "keyboard", "name"),
    [
        (TaughtPress(key=60), PIANO, "C4"), (TaughtPress(key=59), PIANO, "B3"), (TaughtPress(key=22), PIANO, "B♭0"),
        (TaughtPress(key=21), PIANO, "lowest A"), (TaughtPress(key=108), PIANO, "highest C"),
        (TaughtPress(key=36), KEYS_61, "lowest C"), (TaughtPress(key=36), PIANO, "C2"),
        (TaughtPress(controller=66), PIANO, "sostenuto pedal"), (TaughtPress(controller=80), PIANO, "controller 80"),
        (TaughtPress(program=1), PIANO, "program 1"), (TaughtPress(program=5), PIANO, "program 5"),
    ],
)  # fmt: skip
def test_what_was_taught_is_named_as_keyboards_name_it(
    press: TaughtPress, keyboard: tuple[int, int], name: str
) -> None:
    """Middle C is C4; 66 is the sostenuto pedal, programs are counted from 1 (MIDI 1.0)."""
    assert press_name(press, keyboard) == name


@pytest.mark.parametrize(
    ("table", "lines"),
    [
        (SignalTable(), []), (SignalTable(crowded=True), [CROWDED]),
        (SignalTable({64: "stop", 65: "again"}), ["E: stop", "F: again"]),  # the middle of 21 to 108 is 64
        (SignalTable({21: "stop"}), ["lowest A: stop"]), (SignalTable({108: "stop"}), ["highest C: stop"]),
        (SignalTable({21: "stop", 23: "again", 107: "again", 108: "stop"}),
         ["lowest A: stop; B: again", "highest C: stop; B: again"]),
        (SignalTable({36: "stop", 84: "next"}, keyboard=KEYS_49), ["lowest C: stop", "highest C: next passage"]),
        (SignalTable({}, {80: "keep"}, {0: "stay"}, over_a_bar_line=66),
         ["controller 80: keep this take; program 1: this one only; sostenuto pedal over a bar line: last time"]),
    ],
)  # fmt: skip
def test_a_table_in_lines(table: SignalTable, lines: list[str]) -> None:
    assert table.lines() == lines


def test_a_wish_is_said_by_its_name_where_that_says_it() -> None:
    assert [wish_text(wish) for wish in ("last time", "next", "stay", "keep")] == [
        "last time", "next passage", "this one only", "keep this take"
    ]  # fmt: skip
