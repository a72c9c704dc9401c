"""``companion demo``: the main job with no keyboard and, if need be, no loudspeaker."""

from __future__ import annotations

import sys
import textwrap
from collections import Counter
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import ask, is_terminal
from companion.cli.outputs import check_outputs, force_word, made
from companion.cli.progress import Progress
from companion.cli.words import CHART, ArrangingOptions, command, rehearsal_words, settings_of, take_part
from companion.errors import DeviceError
from companion.messages import HELD_WITHIN, PARTS, Beat, NoteKind

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

    from companion.chart.model import Chart, Form
    from companion.messages import Order, Part, Report
    from companion.pianist.player import SimulatedPerformance
    from companion.stage.console import LiveLine
    from companion.stage.demo import DemoResult
    from companion.stage.link import SenderLink
    from companion.stage.settings import Settings

DEMO_CHART = "ferry-without-lights"
PLAYER = "the built-in pianist"
KEPT = 3
"""Demos that are kept where no folder is named; with its WAV one is 12 MB large."""


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
        companion demo --trade 4
        companion demo --fast --player messy --out tonight
        """,
    )
    parser.add_argument("chart", metavar="CHART", nargs="?", default=DEMO_CHART, help=CHART)
    rehearsal_words(parser, latency="10", order="chart, once through its events")
    group = parser.add_argument_group("the demo")
    group.add_argument("--fast", action="store_true", help="as fast as the machine can, without sound")
    group.add_argument(
        "--player", default="evening", metavar="NAME", help="who plays, by a name in configs/players.toml"
    )
    group.add_argument(
        "--out",
        type=Path,
        metavar="FOLDER",
        help="where the take, the MIDI file and the WAV are left (default: demo, in the folder of --data, where the "
        f"last {KEPT} are kept)",
    )
    group.add_argument("--wav", type=Path, metavar="FILE.wav", help="where to render it (default: beside the take)")
    force_word(group)
    group.add_argument(
        "--port", metavar="NAME", help="the MIDI port to sound it on (default: FluidSynth, where it is installed)"
    )


def _demo(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.preferences.every import check_preferences
    from companion.resources import chart_path
    from companion.stage.demo import demo_folder, forget_older_demos, perform, played_by
    from companion.stage.names import check_names

    path = chart_path(args.chart)
    check_outputs([args.wav], [path])
    check_preferences()
    chart = ArrangingOptions.by(args).of(load(path))
    take_part(args, chart)
    whole = chart.events and not args.choruses and "solo" not in args.you
    how = settings_of(args, order=args.order or ("chart" if whole else "form"))
    check_names(chart, how)
    player, how = played_by(args.player, chart, how)
    form = chart.unfold()
    folder = _made(args.out or demo_folder())
    print(*_introduction(args, chart, how, folder), sep="\n", end="\n\n")
    with _shown(args, chart.title, form, player) as shown:
        evening = perform(chart, how, player, fast=args.fast, data=folder, **shown)
    if evening.error is None or evening.take:
        print("", *_account(chart, how, player, evening), sep="\n")
    if evening.error is not None:
        raise evening.error
    _render(args, evening)
    if args.out is None:
        forget_older_demos(folder, KEPT)
    if evening.interrupted:
        raise KeyboardInterrupt
    return 0


def _introduction(args: argparse.Namespace, chart: Chart, how: Settings, folder: Path) -> list[str]:
    """How to hear it, and what will happen, in lines that fit."""
    from companion.stage.live import listed

    wav = args.wav or folder / "takes" / "…" / "take.wav"
    hear = f"to hear it: 'companion demo' without --fast sounds it as it goes; afterwards it is in {wav}"
    yours, ours = (listed([f"the {part}" for part in PARTS if part in some]) for some in (how.you, how.parts))
    answer = f"plays {ours} with them" if how.parts else "goes with them"
    who = f"a built-in pianist plays {yours}, with a person's timing, slips and stops"
    what = f"{chart.title}, about {how.tempo or chart.tempo:.0f} quarters a minute: {who}"
    ours = f"the companion hears nothing but their keys, finds out where in the chart they are, and {answer}"
    texts = [hear, f"{what}; {ours}"] if args.fast else [f"{what}; {ours}"]
    return [line for text in texts for line in textwrap.wrap(text, _columns() or 100)]


def _columns() -> int | None:
    """Columns that a line may take; None where nobody says."""
    from companion.stage.console import columns_of

    return columns_of(sys.stdout) - 1 if sys.stdout.isatty() else None


def _made(folder: Path) -> Path:
    """The folder, which is there from now on: what can't be kept is said before anybody plays."""
    from companion.files import unwritable

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unwritable(folder, error, "name another folder with --out") from None
    return folder


@contextmanager
def _shown(args: argparse.Namespace, title: str, form: Form, player: SimulatedPerformance) -> Iterator[dict[str, Any]]:
    """What shows and sounds the demo while it goes: a line a bar, and between them, on a terminal, where it is."""
    from companion.ports.quiet import quiet_libraries
    from companion.stage.bars import BarLines
    from companion.stage.console import LiveLine

    sound, channels, reached = None, None, 0.0
    live = not args.fast and sys.stdout.isatty()
    with quiet_libraries():
        line = LiveLine(form, sys.stdout)
        bars = BarLines(form, player, line.say, _columns())

        def watch(at: float, orders: Sequence[Order], reports: Sequence[Report]) -> None:
            nonlocal reached
            reached = max(reached, at)
            bars.watch(at, orders, reports)
            for report in reports if live else ():
                line.report(report)

        try:
            if not args.fast:
                sound, channels = _sound(args.port, title, line)
            for text in bars.heading():
                line.say(text)
            yield {"sound": sound, "channels": channels, "watch": watch}
            bars.finish(reached)
        finally:
            if sound:
                sound.end()
            line.close()


def _sound(port: str | None, title: str, line: LiveLine) -> tuple[SenderLink | None, dict[Part, int] | None]:
    """What sounds it; nothing where nothing is asked for and there is nothing."""
    from companion.stage.demo import open_sound

    try:
        sound, channels = open_sound(port, title=title, ask=ask if is_terminal() else None)
    except DeviceError as error:
        if port:
            raise
        line.say(f"silent, because {error.what}; the WAV will have it all; Ctrl-C ends")
        return None, None
    line.say(f"sounding on {sound.port}; Ctrl-C ends")
    return sound, channels


def _account(chart: Chart, how: Settings, player: SimulatedPerformance, evening: DemoResult) -> list[str]:
    """What happened, in a few lines."""
    from companion.stage.console import Account, BeatTally, count_notes
    from companion.stage.player_tally import tally_of

    recording, close = evening.recording, evening.closeness
    beats = BeatTally(report for report in recording.reports if isinstance(report, Beat))
    notes = sum(event.is_note_on for event in recording.heard)
    seconds = recording.heard[-1].seconds if recording.heard else 0.0
    said = tally_of(chart.unfold(), how.you, [*recording.heard, *recording.reports]).lines()
    account = Account(chart.title, seconds, notes, beats, count_notes(recording.orders), said, evening.take, PLAYER)
    early = evening.interrupted or evening.error is not None
    end = seconds if early else float("inf")
    kinds = Counter(note.kind for note in player.notes if (note.seconds or 0.0) <= end)
    if early:
        kinds["missing"] = 0  # which of them were still to come isn't known
    words: dict[NoteKind, str] = {"wrong": "struck wrong", "missing": "left out", "extra": "added"}
    slips = ", ".join(f"{kinds[kind]} {word}" for kind, word in words.items() if kinds[kind]) or "none"
    share = 100 * close.held / close.beats if close.beats else 0.0
    within = f"{round(1000 * HELD_WITHIN)} ms"
    followed = f"{close.held} of the pianist's {close.beats} beats ({share:.0f} %) sounded within {within} of theirs"
    lines = [*account.lines(), f"the pianist's slips: {slips}"]
    for pause, lost in evening.returns:
        back = "with their first beat" if lost == 0 else f"{lost} beat{'s' if lost > 1 else ''} after them"
        lines.append(f"they stopped for {pause:.1f} s; the companion came back {back}")
    if close.beats:
        lines.append(f"followed: {followed}, {close.median_ms:.0f} ms at the median")
    if evening.trouble:
        lines.append(evening.trouble)
    return lines


def _render(args: argparse.Namespace, evening: DemoResult) -> None:
    from companion.ports.wav import render

    path = args.wav or (evening.take / "take.wav" if evening.take else None)
    if path is None or not evening.recording.heard:
        return
    with made(path, force=args.force) as beside, Progress("rendering") as progress:
        by = render(beside, evening.recording.heard, evening.recording.orders, progress=progress.show)
    print(f"to listen to: {path} ({by})")
