"""``companion demo``: the main job with no keyboard and, if need be, no loudspeaker."""

from __future__ import annotations

import sys
from collections import Counter
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.progress import Progress
from companion.cli.words import CHART, check_outputs, command, rehearsal_words, settings_of
from companion.errors import DeviceError
from companion.messages import Beat

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from companion.chart.model import Form
    from companion.messages import Order, Report
    from companion.ports.demo import Played
    from companion.stage.demo import Evening

DEMO_CHART = "ferry-without-lights"
PLAYER = "the built-in pianist"
COUNT_IN = 2
"""Bars that the built-in player waits for."""


def add_demo(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "demo",
        _demo,
        "let a built-in pianist play a chart, with human timing and slips, and follow them",
        """
        companion demo
        companion demo two-spoons-short --you solo --choruses 3
        companion demo --fast --player messy --wav evening.wav
        """,
    )
    parser.add_argument("chart", metavar="CHART", nargs="?", default=DEMO_CHART, help=CHART)
    rehearsal_words(parser, latency_default=10)
    group = parser.add_argument_group("the demo")
    group.add_argument("--fast", action="store_true", help="as fast as the machine can, without sound")
    group.add_argument(
        "--player", default="evening", metavar="NAME", help="who plays, by a name in configs/players.toml"
    )
    group.add_argument("--wav", type=Path, metavar="FILE.wav", help="where to render it (default: beside the take)")
    group.add_argument(
        "--out", dest="port_out", metavar="NAME", help="sound it on a MIDI port (default: FluidSynth, where installed)"
    )


def _demo(args: argparse.Namespace) -> int:
    from companion.chart.load import load
    from companion.ports.demo import simulate
    from companion.resources import chart_path
    from companion.stage.demo import perform
    from companion.stage.transcript import transcript

    path = chart_path(args.chart)
    check_outputs([args.wav], [path])
    chart, how = load(path), settings_of(args)
    form, choruses = chart.unfold(), how.choruses or 1
    player = simulate(form, args.you, manner=args.player, tempo=how.tempo, seed=how.seed, choruses=choruses)
    how = replace(how, tempo=player.tempo, start=player.start, count_in=COUNT_IN, choruses=choruses)
    with _shown(args, form, player) as shown:
        evening = perform(chart, how, player, fast=args.fast, **shown)
    recording = evening.recording
    print(*transcript(form, recording.heard, recording.orders, recording.reports), "", sep="\n")
    print(*_account(chart.title, player, evening), sep="\n")
    _render(args.wav, evening)
    if evening.interrupted:
        raise KeyboardInterrupt
    return 0


@contextmanager
def _shown(args: argparse.Namespace, form: Form, player: Played) -> Iterator[dict[str, Any]]:
    """What shows and sounds the demo while it goes."""
    if args.fast:
        with Progress("playing", player.heard[-1].seconds) as progress:
            yield {"watch": lambda seconds, *_: progress.show(seconds)}
        return
    from companion.ports.midi import quiet_libraries
    from companion.stage.console import LiveLine
    from companion.stage.demo import open_sound

    sound, channels = None, None
    with quiet_libraries():
        line = LiveLine(form, sys.stderr)
        try:
            sound, channels = open_sound(args.port_out)
            line.say(f"sounding on {sound.port}; Ctrl-C ends")
        except DeviceError as error:
            if args.port_out:
                line.close()
                raise
            line.say(f"silent, because {error.what}; the WAV will have it all; Ctrl-C ends")

        def watch(_seconds: float, _orders: Sequence[Order], reports: Sequence[Report]) -> None:
            for report in reports:
                line.report(report)

        try:
            yield {"sound": sound, "channels": channels, "watch": watch}
        finally:
            if sound:
                sound.end()
            line.close()


def _account(title: str, player: Played, evening: Evening) -> list[str]:
    """What happened, in a few lines."""
    from companion.stage.console import Account, count_notes

    recording, close = evening.recording, evening.closeness
    beats = tuple(report for report in recording.reports if isinstance(report, Beat))
    notes = sum(event.is_note_on for event in recording.heard)
    seconds = recording.heard[-1].seconds if recording.heard else 0.0
    account = Account(title, seconds, notes, beats, count_notes(recording.orders), take=evening.take, who=PLAYER)
    kinds = Counter(note.kind for note in player.notes)
    stops = sum(beat.mark == "resume" for beat in player.beats)
    slips = f"{kinds['wrong']} notes wrong, {kinds['missing']} left out, {kinds['extra']} added; stops: {stops}"
    share = 100 * close.held / close.beats if close.beats else 0.0
    followed = f"{close.held} of the pianist's {close.beats} beats ({share:.0f} %) sounded within 70 ms of theirs"
    lines = [*account.lines(), f"the pianist's slips: {slips}"]
    if not evening.interrupted:
        lines.append(f"followed: {followed}, {close.median_ms:.0f} ms at the median")
    if evening.trouble:
        lines.append(f"the take could not be kept: {evening.trouble}")
    return lines


def _render(wanted: Path | None, evening: Evening) -> None:
    from companion.ports.wav import render

    path = wanted or (evening.take / "take.wav" if evening.take else None)
    if path is None or not evening.recording.heard:
        return
    with Progress("rendering") as progress:
        by = render(path, evening.recording.heard, evening.recording.orders, progress=progress.show)
    print(f"to listen to: {path} ({by})")
