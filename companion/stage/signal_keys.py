"""Which keys, pedals and switches tell the companion something while a tune is played, and which are for playing.

Keys at either end of the keyboard tell, as far as the tune leaves them free: in order from the very end inwards, the
same at both ends, so that they are counted and not looked for. What the player plays keeps some room beyond it: they
may slip by an octave, or add something. At the low end nothing is taken from a player of the bass. What the companion
plays is left out as well (an instrument that returns what it is sent would give commands) unless there are too few keys
for that. A key, pedal or switch that the player taught takes the place of the end key of the same wish.

Which keys an instrument has, and which are for what, is in ``configs/instruments.toml`` and ``configs/signals.toml``.

Conventions: MIDI numbers (21 and 108 are the ends of a piano's 88 keys), controllers as in MIDI 1.0, programs from 0.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

from companion.chart.model import Chart, Form
from companion.messages import TUNE_PARTS, Part, WishName
from companion.preferences import preferences
from companion.preferences.bass import BassPreferences
from companion.preferences.instruments import InstrumentPreferences
from companion.preferences.signals import PIANO_PEDALS, SignalPreferences, TaughtPress
from companion.preferences.solo import SoloPreferences
from companion.preferences.voicings import VoicingPreferences

PIANO = (21, 108)
"""Lowest and highest key of a piano (common practice)."""
WHITE = frozenset((0, 2, 4, 5, 7, 9, 11))
"""Pitch classes of the white keys."""
NAMES = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")
WORDS: dict[WishName, str] = {"next": "next passage", "stay": "this one only", "keep": "keep this take"}
"""What is wished, where its name alone doesn't say it."""

CROWDED = "no key to spare here: teach pedals or switches ('companion signals teach')"
Range = tuple[int, int]
"""Lowest and highest MIDI number."""


@dataclass(frozen=True)
class SignalTable:
    """What tells what. Whatever isn't in it is for playing."""

    keys: Mapping[int, WishName] = field(default_factory=dict)
    """By MIDI number."""
    controllers: Mapping[int, WishName] = field(default_factory=dict)
    programs: Mapping[int, WishName] = field(default_factory=dict)
    close: frozenset[int] = frozenset()
    """Those of the keys that lie so near to the player's own notes that these say nothing about them."""
    keyboard: Range = PIANO
    over_a_bar_line: int = 0
    """The pedal that tells the last time and is for playing as well; 0: none."""
    crowded: bool = False
    """Whether keys were to tell something, and there is none to spare."""

    def lines(self) -> list[str]:
        """What there is to be told and how, for the player to read: a line an end, a line for pedals and switches."""
        low, high = self.keyboard
        middle = (low + high) // 2
        lower = [f"{key_name(key, self.keyboard)}: {wish_text(self.keys[key])}" for key in sorted(self.keys)]
        split = sum(key <= middle for key in self.keys)
        upper = lower[: split - 1 if split else None : -1]
        feet = [f"{controller_name(number)}: {wish_text(wish)}" for number, wish in self.controllers.items()]
        feet += [f"{program_name(number)}: {wish_text(wish)}" for number, wish in self.programs.items()]
        if self.over_a_bar_line:
            feet.append(f"{controller_name(self.over_a_bar_line)} over a bar line: last time")
        lines = ["; ".join(part) for part in (lower[:split], upper, feet) if part]
        return [CROWDED, *lines] if self.crowded else lines


def wish_text(wish: WishName) -> str:
    """What is wished, in words."""
    return WORDS.get(wish, wish)


def key_name(key: int, keyboard: Range = PIANO) -> str:
    """A key as it is found on the keyboard: by its letter, and at the very end as the lowest or the highest.

    >>> key_name(21), key_name(22), key_name(108)
    ('lowest A', 'B♭', 'highest C')
    """
    end = {keyboard[0]: "lowest ", keyboard[1]: "highest "}.get(key, "")
    return end + NAMES[key % 12]


def controller_name(number: int) -> str:
    """A pedal by its name, anything else by its number."""
    return f"{PIANO_PEDALS[number]} pedal" if number in PIANO_PEDALS else f"controller {number}"


def program_name(number: int) -> str:
    """A switch that sends a program (from 0), as keyboards count it."""
    return f"program {number + 1}"


def press_name(press: TaughtPress, keyboard: Range = PIANO) -> str:
    """A key, pedal or switch that was taught, by its name.

    >>> press_name(TaughtPress(key=60)), press_name(TaughtPress(controller=66))
    ('C4', 'sostenuto pedal')
    """
    if press.key is not None:
        end = press.key in keyboard
        return key_name(press.key, keyboard) + ("" if end else f"{press.key // 12 - 1}")
    return controller_name(press.controller) if press.controller is not None else program_name((press.program or 1) - 1)


def keyboard_range() -> Range:
    """The keys of the player's keyboard, as they have it in ``instruments.toml``; a piano's unless that says so."""
    told = preferences(InstrumentPreferences)
    return told.lowest_key, told.highest_key


def signals_for(
    charts: Iterable[Chart],
    you: Collection[Part],
    usable: Collection[WishName],
    *,
    keyboard: Range | None = None,
    over_a_bar_line: bool = True,
) -> SignalTable:
    """What tells what in a tune.

    Parameters
    ----------
    charts : iterable of Chart
        The tune, in every key in which it will be played.
    you : collection of Part
        The player's parts.
    usable : collection of WishName
        What can be wished; nothing else is told.
    keyboard : (int, int), optional
        Lowest and highest key; by default :func:`keyboard_range`.
    over_a_bar_line : bool
        Whether the last time is also told by a pedal over a bar line, where the rehearsal listens for that.

    Returns
    -------
    SignalTable
    """
    likes = preferences(SignalPreferences)
    keyboard = keyboard or keyboard_range()
    forms = [chart.unfold() for chart in charts]
    yours, ours = _reach(forms, you), _reach(forms, TUNE_PARTS)
    roomy = _reach(forms, you, likes.end_keys.room)
    taught = {wish: press for wish, press in likes.taught.of.items() if wish in usable and _is_free(press, yours)}
    left = [wish for wish in usable if wish not in taught]
    keys = _end_keys(roomy, ours, you, keyboard, left) if likes.end_keys.on else {}
    own = {press.key: wish for wish, press in taught.items() if press.key is not None}
    near = likes.press.near
    listens = over_a_bar_line and "last time" in usable
    pedal = likes.last_time.pedal if listens and _is_there(likes.last_time.pedal) else 0
    controllers = {p.controller: wish for wish, p in taught.items() if p.controller is not None}
    return SignalTable(
        keys={key: wish for key, wish in keys.items() if key not in own} | own,
        controllers=controllers,
        programs={press.program - 1: wish for wish, press in taught.items() if press.program is not None},
        close=frozenset(key for key in own if yours[0] - near <= key <= yours[1] + near),
        keyboard=keyboard,
        over_a_bar_line=0 if pedal in controllers else pedal,
        crowded=likes.end_keys.on and bool(left) and not keys,
    )


def _is_free(press: TaughtPress, yours: Range) -> bool:
    return press.key is None or not yours[0] <= press.key <= yours[1]


def _is_there(pedal: int) -> bool:
    """Whether the instrument has a pedal, as far as that is known."""
    known = preferences(InstrumentPreferences).pedals
    return not known or pedal in known


# What the tune uses


def _reach(forms: Iterable[Form], parts: Iterable[Part], room: int = 0) -> Range:
    """Between which keys parts lie, as written and wherever they may be made up, and so many semitones beyond."""
    found: set[int] = set()
    for form in forms:
        for part in parts:
            written = form.written_part(part)
            notes = {note.pitch.midi for note in written.notes} if written else set()
            notes |= {note.pitch.midi for note in form.melody} if part in ("melody", "solo") else set()
            found |= notes | _made_up(part)
    return (min(found) - room, max(found) + room) if found else (60, 60)


def _made_up(part: Part) -> set[int]:
    """The lowest and the highest notes that a part may have where it isn't written."""
    if part in ("melody", "solo"):  # whoever plays the melody plays a solo between the heads
        solo = preferences(SoloPreferences).range
        return {solo.lowest, solo.highest}
    if part == "bass":
        bass = preferences(BassPreferences).range
        return {bass.lowest, bass.highest}
    told = preferences(VoicingPreferences)
    registers = (told.register, told.register_under_the_melody, told.register_of_two_hands)
    return {key for one in registers for key in (one.lowest, one.highest)} if part == "chords" else set()


# What the ends hold


def _end_keys(
    yours: Range, ours: Range, you: Collection[Part], keyboard: Range, usable: Collection[WishName]
) -> dict[int, WishName]:
    """The keys that tell something, clear of all that is played; of the player's alone where that gives more wishes."""
    low = keyboard[0] if "bass" in you else yours[0]
    high = yours[1]
    clear = _laid_out((min(low, ours[0]), max(high, ours[1])), keyboard, usable)
    more = _laid_out((low, high), keyboard, usable)
    return clear if set(clear.values()) == set(more.values()) else more


def _laid_out(played: Range, keyboard: Range, usable: Collection[WishName]) -> dict[int, WishName]:
    """Wishes on the keys at both ends that lie outside what is played."""
    told = preferences(SignalPreferences).end_keys
    found: dict[int, WishName] = {}
    for end in (range(keyboard[0], played[0]), range(keyboard[1], played[1], -1)):
        whites = [key for key in end if key % 12 in WHITE]
        blacks = [key for key in end if key % 12 not in WHITE][: len(told.black)]
        found |= {key: wish for key, wish in zip(whites, told.white, strict=False) if wish in usable}
        if len(blacks) == len(told.black):
            found |= {key: wish for key, wish in zip(sorted(blacks), told.black, strict=True) if wish in usable}
    return found
