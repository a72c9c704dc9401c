"""``companion signals``: what is told without touching the computer, shown and taught."""

from __future__ import annotations

import argparse
import threading
from contextlib import closing
from typing import TYPE_CHECKING, Any

from companion.cli.ending import enter_ends
from companion.cli.outputs import say_kept
from companion.cli.words import CHART, ArrangingOptions, command, command_group, data_said, take_part, your_parts
from companion.messages import WISHES, WishName
from companion.ports.instruments import SERVICES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from companion.preferences.signals import TaughtPress
    from companion.stage.teaching import KeyWatch

WAIT = 20.0
"""Seconds that a press is waited for."""


def add_signals(commands: Any) -> None:
    """Describe the commands."""
    purpose = "show and teach the keys, pedals and switches that tell the companion something while you play"
    group = command_group(commands, "signals", purpose)
    group.set_defaults(run=_show, chart=None, you=None, key=None)
    actions = group.add_subparsers(title="commands", metavar="COMMAND")
    _add_show(actions)
    _add_teach(actions)


# show


def _add_show(actions: Any) -> None:
    parser = command(
        actions,
        "show",
        _show,
        "say what is set, or what there is in a tune",
        """
        companion signals show
        companion signals show ferry-without-lights --you bass
        """,
    )
    parser.add_argument("chart", metavar="CHART", nargs="?", help=f"the tune that you play: {CHART}")
    parser.add_argument("--you", type=your_parts, metavar="LIST", help="the parts you play in it (default: melody)")
    parser.add_argument("--key", metavar="KEY", help="take it in another key, such as Eb (default: the chart's)")


def _show(args: argparse.Namespace) -> int:
    if args.chart is not None:
        return _show_tune(args)
    from companion.preferences import preferences
    from companion.preferences.signals import SignalPreferences
    from companion.stage.signal_keys import controller_name, key_name, keyboard_range, press_name, wish_text

    told, keyboard = preferences(SignalPreferences), keyboard_range()
    count = keyboard[1] - keyboard[0] + 1
    print(f"your keyboard: {count} keys, {key_name(keyboard[0])} to {key_name(keyboard[1])}")
    if told.end_keys.on:
        print("from either end of it inwards, as far as the tune leaves keys free:")
        print(f"  white keys: {', '.join(map(wish_text, told.end_keys.white)) or 'none'}")
        sides = zip(("the left", "the right"), told.end_keys.black, strict=False)
        black = [f"{side} {wish_text(wish)}" for side, wish in sides]
        print(f"  the two black keys nearest to it: {', '.join(black) or 'none'}")
    else:
        print("no end keys: on = false in [end-keys]")
    for wish, press in told.taught.of.items():
        print(f"taught: {press_name(press, keyboard)}: {wish_text(wish)}")
    if told.last_time.pedal:
        print(f"{controller_name(told.last_time.pedal)} over a bar line: last time")
    more = data_said(args)
    print(f"in one tune: companion signals show CHART --you LIST{more}; your own: companion signals teach{more}")
    return 0


def _show_tune(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.resources import chart_path
    from companion.stage.signal_keys import signals_for

    chart = ArrangingOptions.by(args).of(load(chart_path(args.chart)))
    take_part(args, chart)
    print("\n".join(signals_for([chart], args.you, WISHES).lines()))
    return 0


# teach


def _add_teach(actions: Any) -> None:
    parser = command(
        actions,
        "teach",
        _teach,
        "press the key, pedal or switch that is to tell each thing; it is kept in your own signals.toml",
        """
        companion signals teach
        companion signals teach again faster slower
        companion signals teach last-time --forget
        """,
    )
    what = ", ".join(wish.replace(" ", "-") for wish in WISHES)
    parser.add_argument("wishes", type=_wish, nargs="*", metavar="WHAT", help=f"of {what} (default: all)")
    parser.add_argument("--forget", action="store_true", help="press nothing: what was taught for these is forgotten")
    parser.add_argument(
        "--wait", type=_patience, default=WAIT, metavar="SECONDS", help="how long to wait for each press, in seconds"
    )
    parser.add_argument("--in", dest="port_in", metavar="NAME", help="the port to listen to: its name or part of it")
    parser.add_argument("--midi", choices=SERVICES, help="which of the system's MIDI services to use")


def _wish(text: str) -> WishName:
    wish = next((one for one in WISHES if one == text.strip().lower().replace("-", " ")), None)
    if wish is None:
        there = ", ".join(one.replace(" ", "-") for one in WISHES)
        raise argparse.ArgumentTypeError(f"'{text}' is nothing that can be told; there are {there}")
    return wish


def _patience(text: str) -> float:
    from companion.cli.words import seconds

    found = seconds(text)
    if not 1 <= found <= 600:
        raise argparse.ArgumentTypeError(f"'{text}' is no time to wait; give seconds, 1 to 600")
    return found


def _teach(args: argparse.Namespace) -> int:
    from companion.ports.quiet import quiet_libraries
    from companion.preferences import preferences
    from companion.preferences.every import check_preferences
    from companion.preferences.signals import SignalPreferences
    from companion.stage.teaching import KeyWatch

    check_preferences()
    wishes = tuple(dict.fromkeys(args.wishes or WISHES))
    before = preferences(SignalPreferences).taught.of
    if args.forget:
        return _keep({wish: None for wish in wishes if wish in before})
    taught: dict[WishName, TaughtPress | None] = {}
    with quiet_libraries(), closing(KeyWatch(args.port_in, args.midi)) as listener:
        print(f"listening to {listener.name}; Enter leaves a thing as it is, Ctrl-C ends and changes nothing")
        for wish in wishes:
            others = {one: press for one, press in {**before, **taught}.items() if one != wish and press is not None}
            press = _asked(listener, wish, before.get(wish), others, args.wait)
            if press is not None:
                taught[wish] = press
    return _keep({wish: press for wish, press in taught.items() if press != before.get(wish)})


def _asked(
    listener: KeyWatch,
    wish: WishName,
    before: TaughtPress | None,
    others: Mapping[WishName, TaughtPress],
    wait: float,
) -> TaughtPress | None:
    """What the player presses for a wish; None leaves it as it is."""
    from companion.stage.signal_keys import press_name, wish_text
    from companion.stage.teaching import told_already

    now = f" (now {press_name(before, listener.keys)})" if before else ""
    print(f"{wish_text(wish)}{now}: press it", flush=True)
    over = threading.Event()
    with enter_ends(over.set):
        while (press := listener.press(wait, over)) is not None:
            taken = told_already(press, others)
            if taken is None:
                print(f"  {press_name(press, listener.keys)}", flush=True)
                return press
            print(f"  {press_name(press, listener.keys)} tells '{taken}' already: press another", flush=True)
    print("  left as it is", flush=True)
    return None


def _keep(taught: Mapping[WishName, TaughtPress | None]) -> int:
    from companion.preferences.own_file import own_path
    from companion.preferences.signals import SignalPreferences
    from companion.stage.teaching import keep_taught

    if not taught:
        print("nothing is changed")
        return 0
    path = own_path(SignalPreferences)
    say_kept(path, keep_taught(taught))
    print(f"kept in {path}")
    return 0
