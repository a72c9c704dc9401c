"""``companion setup``: the piano found, tried and kept, in a minute at the keys; and its offer the first time."""

from __future__ import annotations

import sys
from contextlib import suppress
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

from companion.cli.ending import line_typed_within, typed_lines
from companion.cli.words import command, data_said
from companion.ports.instruments import SERVICES

if TYPE_CHECKING:
    import argparse

    from companion.stage.setting_up import SetupItem

OFFER_WAIT = 8.0
"""Seconds for an answer to the offer; then it goes on as after Enter."""
NOTHING_YET = "# Nothing of your own here yet: `companion setup` finds out what belongs here, at the piano.\n"


def add_setup(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "setup",
        _setup,
        "find out at the piano how it is reached: ports, keys, pedals, sounds, your hands; and keep it",
        """
        companion setup
        companion setup --midi alsa
        """,
    )
    parser.add_argument("--midi", choices=SERVICES, help="which of the system's MIDI services to use")


def _setup(args: argparse.Namespace) -> int:
    set_up_here(args.midi)
    told = data_said(args)
    print(f"next: companion play ferry-without-lights{told}, or companion drill ferry-without-lights{told}")
    return 0


def set_up_here(midi: str | None = None) -> None:
    """Set up at this terminal."""
    print("looking for your piano ...", flush=True)
    from companion.ports.setup.desk import Typed
    from companion.preferences.every import check_preferences
    from companion.stage.loop import Stop
    from companion.stage.setting_up import set_up

    check_preferences()
    inbox: SimpleQueue[SetupItem] = SimpleQueue()

    def take(line: str) -> bool:
        inbox.put(Typed(0.0, line.strip().lower()) if line else Stop("interrupted"))  # no line at all: Ctrl-D
        return bool(line)

    with typed_lines(take) as listening:
        set_up(lambda line: print(line, flush=True), inbox, midi, typing=listening)


def offer_setup(midi: str | None = None) -> None:
    """Offer it in one line, the first time that anything is played at a terminal; scripts never see it.

    After an answer there is a file of the player's own, be it empty, and the offer isn't made again.
    """
    from companion.files import write_whole
    from companion.preferences.instruments import InstrumentPreferences
    from companion.preferences.own_file import own_path

    streams = sys.stdin, sys.stdout, sys.stderr
    own = own_path(InstrumentPreferences)
    if own.exists() or not all(stream is not None and stream.isatty() for stream in streams):
        return
    print("First time here? Type s and Enter to set up your piano in a minute; Enter plays at once.", file=sys.stderr)
    answer = line_typed_within(OFFER_WAIT)
    if answer is not None and answer.lower() in ("s", "setup", "y", "yes"):
        set_up_here(midi)
    elif answer is not None:
        with suppress(OSError):
            own.parent.mkdir(parents=True, exist_ok=True)
            write_whole(own, NOTHING_YET)
