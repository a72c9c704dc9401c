"""``companion today``: how the tunes stand, what to practise, and going through it without a hand on the computer."""

from __future__ import annotations

import shlex
import sys
import textwrap
import time
from functools import partial
from typing import TYPE_CHECKING, Any

from companion.cli.asking import ask, is_terminal
from companion.cli.ending import enter_ends
from companion.cli.practised import Evening
from companion.cli.progress import Progress
from companion.cli.words import command, count, data_said

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Mapping, Sequence

    from companion.practice.day_plan import PlanItem, Stand

WIDE = 100
"""Columns of what is printed, at most."""
BREATH = 5.0
"""Seconds from the words for the next thing to its beginning."""
SHOWN = 6
"""Tunes whose picture is shown."""
LOOK = 0.1


def add_today(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "today",
        partial(_today, commands.choices),
        "say what to practise today: something to keep, something to mend, something new",
        """
        companion today
        companion today --minutes 20
        companion today --go
        """,
    )
    parser.add_argument(
        "--minutes", type=count, metavar="N", help="in all, pauses too (default: as repertoire.toml has it)"
    )
    parser.add_argument(
        "--go",
        action="store_true",
        help="go through it, hands on the keys: each thing ends when its goal is reached, its minutes are over, or you "
        "wish for the next",
    )


def _today(others: Mapping[str, Any], args: argparse.Namespace) -> int:
    from datetime import datetime

    from companion.practice.day_plan import day_plan
    from companion.practice.day_stand import stand_now
    from companion.preferences import preferences
    from companion.preferences.care import CarePreferences
    from companion.preferences.drills import DrillPreferences
    from companion.preferences.repertoire import RepertoirePreferences

    now, rules = datetime.now().astimezone(), preferences(RepertoirePreferences)
    pause = preferences(CarePreferences).pause
    with Progress("looking through your takes"):
        stand, trouble = stand_now(now)
    items = day_plan(stand, now, rules, pause, preferences(DrillPreferences), args.minutes)
    print("\n".join(today_lines(stand, items, now, data_said(args))))
    if trouble:
        print(f"companion: {trouble}", file=sys.stderr)
    if items and (args.go or (is_terminal() and ask("\ngo through it now, hands on the keys?"))):
        go_through(items, partial(_begun, others))
    return 0


# What is printed


def today_lines(stand: Stand, items: Sequence[PlanItem], now: Any, told: str = "") -> list[str]:
    """How the tunes stand, and what is proposed; ``told`` stands behind each command."""
    from companion.stage.care import CAUTION

    minutes = sum(item.minutes for item in items)
    head = f"{now:%A}, {now.day} {now:%B}: {minutes} minutes" if items else f"{now:%A}, {now.day} {now:%B}"
    lines = [*_tune_lines(stand, now), head, ""]
    if not items:
        lines += ["no chart to propose: bring one with 'companion chart import FILE'"]
    for item in items:
        what = f"{item.what}: {item.why}" if item.why else item.what
        lines += textwrap.wrap(
            what,
            WIDE,
            initial_indent=f"{item.purpose:>8}  {item.minutes:>2} min  ",
            subsequent_indent=" " * 18,
        )
        if item.command:
            lines.append(" " * 18 + f"companion {shlex.join(item.command)}{told}")
    return [*lines, "", *textwrap.wrap(CAUTION, WIDE)]


def _tune_lines(stand: Stand, now: Any) -> list[str]:
    from companion.practice.repertoire import practice_day
    from companion.practice.tune_picture import LEGEND, tune_picture, tune_words
    from companion.preferences import preferences
    from companion.preferences.repertoire import RepertoirePreferences

    if not stand.tunes:
        return ["Nothing is in your records yet: here is a beginning.", ""]
    begin = preferences(RepertoirePreferences).days.begin
    today = practice_day(now, now.tzinfo, begin)
    lines = ["Your tunes"]
    for tune in stand.tunes[:SHOWN]:
        lines.append(f"  {tune.title}: {tune_words(tune, today, practice_day(tune.played, now.tzinfo, begin))}")
        if tune.chart in stand.charts:
            lines.append(f"    {tune_picture(tune, stand.charts[tune.chart])}")
        else:
            lines.append("    its chart isn't there any more")
    if len(stand.tunes) > SHOWN:
        lines.append(f"  and {len(stand.tunes) - SHOWN} more")
    return [*lines, f"  ({LEGEND})", ""]


# Going through it


def go_through(
    items: Sequence[PlanItem],
    begin: Callable[[Sequence[str], Evening], None],
    *,
    wait: Callable[[float, str], None] | None = None,
) -> None:
    """One thing after the other; the wish to stop ends it all.

    Parameters
    ----------
    items : sequence of PlanItem
    begin : callable
        Carries out the words of a command, to its end.
    wait : callable
        Lets so many seconds go by, saying what for.
    """
    evening, wait = Evening(), wait or _wait
    for number, item in enumerate(items, 1):
        print(f"\n{number} of {len(items)}, {item.purpose}: {item.what}", file=sys.stderr)
        if not item.command:
            wait(60.0 * item.minutes, "pause")
            continue
        wait(BREATH, "it begins")
        begin(item.command, evening)
        if evening.stopped:
            print("stopped, as you wished", file=sys.stderr)
            return
    print("\nthat was it for today", file=sys.stderr)


def _begun(others: Mapping[str, Any], words: Sequence[str], evening: Evening) -> None:
    name, *rest = words
    args = others[name].parse_args(rest)
    args.evening = evening
    args.run(args)


def _wait(seconds: float, what: str) -> None:
    """Until so many seconds are over, or Enter is pressed."""
    over: list[bool] = []
    end = time.monotonic() + seconds
    with enter_ends(lambda: over.append(True)), Progress(what, seconds) as progress:
        while not over and (left := end - time.monotonic()) > 0:
            progress.show(seconds - left)
            time.sleep(min(LOOK, left))
