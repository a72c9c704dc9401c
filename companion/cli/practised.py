"""What the commands for playing have to do with the records of practice: what was played before, what is kept now."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from companion.arrange.chords.comping_style import CompingStyle
    from companion.chart.model import Chart
    from companion.follow.shape import TempoShape
    from companion.messages import Part
    from companion.stage.loop import Inbox
    from companion.stage.settings import Time


@dataclass
class Evening:
    """Several commands that follow each other without a hand on the computer."""

    stopped: bool = False
    """Whether the player wished to stop altogether."""


def played_before() -> float:
    """Seconds played since the last pause, before this command; 0 where that isn't known."""
    from companion.practice import practised

    return practised.played_before()


def shape_before(args: argparse.Namespace, chart: Chart, you: frozenset[Part], time: Time) -> TempoShape | None:
    """How the player shaped the tune in earlier takes, and a line that says so; None where that is to be left out."""
    if args.as_new or time != "follow":
        return None
    from companion.practice.earlier import shape_from_earlier

    shape = shape_from_earlier(chart.unfold(), you)
    if shape is not None:
        many = f"your last {shape.takes} takes" if shape.takes > 1 else "your last take"
        print(f"it goes by where you stretched and pushed in {many} of it; --as-new leaves that out", file=sys.stderr)
    return shape


def style_wished(wish: bool | None) -> CompingStyle | None:
    """How the player comps, where chords are to be like theirs, and a line that says what is known; else None."""
    from companion.practice.comping_learnt import is_wished
    from companion.practice.comping_words import in_short

    if not is_wished(wish):
        return None
    style = style_learnt()
    if style.shapes or style.rhythms:
        print(f"chords like yours: {in_short(style)}; --no-like-you leaves that out", file=sys.stderr)
    elif wish:
        print("chords like yours: nothing is known of yet; 'companion history --chords' says why", file=sys.stderr)
    return style


def style_learnt() -> CompingStyle:
    """How the player comps, with progress."""
    from companion.cli.progress import Progress
    from companion.practice.comping_learnt import style_of_player

    with Progress("looking through your takes") as progress:
        return style_of_player(progress=progress.show)


def take_kept(folder: Path | None, trouble: str = "") -> None:
    """Put a take into the records; what isn't as it should be is said in one line."""
    from companion.practice import practised

    trouble = practised.take_kept(folder, trouble)
    if trouble:
        print(f"companion: {trouble}", file=sys.stderr)


@contextmanager
def last_time_after(minutes: int | None, wishes: Inbox) -> Iterator[None]:
    """After so many minutes, the wish that it be the last time: what is under way comes to its end."""
    from companion.messages import Wish

    if minutes is None:
        yield
        return
    timer = threading.Timer(60.0 * minutes, lambda: wishes.put(Wish(0.0, "last time", True)))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
