"""The commands: reads the words, calls one function, prints the answer.

Conventions: tempo in quarters a minute, time in seconds, latency in milliseconds. What a command is asked for
goes to standard output, what went wrong to standard error in one line; the exit statuses are those of
:mod:`companion.errors`, 130 after Ctrl-C, and 70 (``EX_SOFTWARE`` of sysexits.h) for a defect of the companion's own.

Everything heavy is imported inside the function that needs it, so that ``companion --help`` answers at once.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from companion import __version__
from companion.errors import CompanionError, UseError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from companion.chart.model import Chart
    from companion.messages import Report
    from companion.stage.settings import Settings

YOURS = ("melody", "chords", "bass", "solo")
"""Parts that a player can take."""
OURS = ("melody", "chords", "bass", "solo", "click")
"""Parts that the companion can take."""
REST = ("melody", "chords", "bass")
"""What a tune consists of; the companion takes what the player leaves of it."""
TEMPI = (10.0, 600.0)
"""Slowest and fastest tempo taken for a tempo, in quarters a minute."""
INTERRUPTED = 130
DEFECT = 70


def main(arguments: list[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : list of str, optional
        The words after ``companion``; by default those of the process.

    Returns
    -------
    int
        The exit status.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ♭ still gets the rest of the line
    try:
        status = _run(arguments)
        sys.stdout.flush()
        return status
    except CompanionError as error:
        print(f"companion: {error}", file=sys.stderr)
        return error.exit_status
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output has seen enough. Python would complain once more when it closes standard output.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        if not error.filename:
            return _defect(error)
        print(f"companion: {error.filename}: {(error.strerror or 'no access').lower()}", file=sys.stderr)
        return UseError.exit_status
    except Exception as defect:
        return _defect(defect)


def _defect(defect: Exception) -> int:
    """Say that it is our fault, in one line. With ``COMPANION_DEBUG`` set, developers get the traceback."""
    if os.environ.get("COMPANION_DEBUG"):
        raise defect
    print(f"companion: {_report_defect(defect)}", file=sys.stderr)
    return DEFECT


def _run(arguments: list[str] | None) -> int:
    parser = build_parser()
    args = parser.parse_args(arguments)
    if args.run is None:
        args.parser.print_help()
        return 0
    if args.data is not None:
        from companion.resources import DATA_VARIABLE

        os.environ[DATA_VARIABLE] = str(args.data)
    run: Callable[[argparse.Namespace], int] = args.run
    return run(args)


def _report_defect(defect: Exception) -> str:
    """Write what developers need into a file, and say in one line where it is."""
    import platform
    import time
    import traceback

    from companion.resources import data_folder

    what = f"a defect of the companion, not of yours ({type(defect).__name__})"
    place = data_folder() / "defects" / time.strftime("%Y%m%d-%H%M%S.txt")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.open("a", encoding="utf-8") as report:
            report.write(f"companion {__version__}, Python {platform.python_version()}, {platform.platform()}\n")
            report.write(f"{sys.argv}\n\n{''.join(traceback.format_exception(defect))}\n")
    except OSError:
        return f"{what}; run it again with COMPANION_DEBUG=1 and report what it prints"
    return f"{what}; please report it with the file {place}"


# The words


class _Parser(argparse.ArgumentParser):
    """argparse, but a wrong word is an error like any other, and nothing is guessed from half a word."""

    def __init__(self, **options: Any):
        super().__init__(**{"allow_abbrev": False, "formatter_class": _Help, **options})

    def error(self, message: str) -> NoReturn:
        raise UseError(message.removeprefix("argument "), mend=f"see {self.prog} --help")


class _Help(argparse.ArgumentDefaultsHelpFormatter, argparse.RawDescriptionHelpFormatter):
    """Help that keeps the lines of the examples and shows what is taken when nothing is said."""

    def _get_help_string(self, action: argparse.Action) -> str | None:
        return action.help if action.default is None else super()._get_help_string(action)


def build_parser() -> argparse.ArgumentParser:
    """Every command with its options."""
    parser = _Parser(
        prog="companion",
        description="Plays the other hand while you play yours: it follows you through a chart.",
        epilog="companion COMMAND --help says more about a command.",
    )
    parser.add_argument("--version", action="version", version=f"companion {__version__}")
    parser.set_defaults(run=None, data=None, parser=parser)
    parser.add_subparsers(title="commands", metavar="COMMAND")
    return parser


def _command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], int], purpose: str, examples: str
) -> _Parser:
    """A command with its help: what it is for, and examples of its use."""
    text = "examples:\n" + "\n".join(f"  {line.strip()}" for line in examples.strip().splitlines())
    parser: _Parser = commands.add_parser(
        name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.", epilog=text
    )
    parser.add_argument(
        "--data",
        type=Path,
        metavar="FOLDER",
        help="where takes, your own charts and your own configs are kept (default: the system's place for user data)",
    )
    parser.set_defaults(run=run, parser=parser)
    return parser


def _rehearsal_words(parser: _Parser) -> argparse._ArgumentGroup:
    """The options that every way of playing has in common."""
    group = parser.add_argument_group("who plays what, and how")
    group.add_argument(
        "--you",
        type=your_parts,
        default="melody",
        metavar="LIST",
        help="the parts you play, comma-separated: melody, chords, bass, or solo in the melody's place",
    )
    group.add_argument(
        "--parts",
        type=our_parts,
        metavar="LIST",
        help="the parts the companion plays, of melody, chords, bass, solo, click (default: the tune's that you leave)",
    )
    group.add_argument(
        "--time",
        choices=("follow", "steady", "patient"),
        default="follow",
        help="follow: it goes with you; steady: it keeps the tempo; patient: it waits for you before each beat",
    )
    group.add_argument(
        "--treatment", metavar="NAME", help="one treatment for the whole form (default: what the chart says)"
    )
    group.add_argument(
        "--tempo",
        type=tempo,
        metavar="BPM",
        help="quarters a minute; without it the companion finds out from your playing",
    )
    group.add_argument("--choruses", type=count, metavar="N", help="stop after N times through the form")
    group.add_argument(
        "--latency", type=latency, default=10, metavar="MS", help="what the sound chain takes, in milliseconds"
    )
    group.add_argument("--seed", type=int, default=0, metavar="N", help="same seed, same accompaniment")
    return group


def _replay_words(commands: Any) -> None:
    parser = _command(
        commands,
        "replay",
        _replay,
        "play a recorded performance into the rehearsal, as fast as the machine can",
        """
        companion replay tune.toml take.mid --out together.mid
        companion replay sheet.mxl comping.mid --you chords --tempo 132 --start 2.5 --beats beats.csv
        """,
    )
    parser.add_argument("chart", metavar="CHART", help="a chart's name, or a file: .toml, .musicxml, .mxl")
    parser.add_argument("performance", type=Path, metavar="PERFORMANCE", help="a Standard MIDI File of your playing")
    rehearsal = _rehearsal_words(parser)
    rehearsal.add_argument(
        "--start",
        type=seconds,
        metavar="SECONDS",
        help="with --tempo, the count-in: when the first downbeat is due, in seconds of the performance",
    )
    group = parser.add_argument_group("what is written")
    group.add_argument("--beats", type=Path, metavar="FILE.csv", help="each beat as sounded: place, moment, how sure")
    group.add_argument("--out", type=Path, metavar="FILE.mid", help="your playing and the companion's, a track a part")
    group.add_argument("--trace", type=Path, metavar="FILE", help="what the companion believed at each event")


def your_parts(text: str) -> frozenset[str]:
    """Read ``--you``: the parts that the player plays."""
    words = _words(text, YOURS)
    if {"melody", "solo"} <= words:
        raise argparse.ArgumentTypeError("a solo stands in the melody's place: name one of the two")
    return frozenset(words)


def our_parts(text: str) -> tuple[str, ...]:
    """Read ``--parts``: the parts that the companion plays."""
    words = _words(text, OURS)
    return tuple(part for part in OURS if part in words)


def _words(text: str, allowed: tuple[str, ...]) -> set[str]:
    words = [word.strip().lower() for word in text.split(",")]
    for word in words:
        if word not in allowed:
            raise argparse.ArgumentTypeError(f"'{word}' is not a part; there are {', '.join(allowed)}")
    return set(words)


def tempo(text: str) -> float:
    """Read a tempo in quarters a minute."""
    slowest, fastest = TEMPI
    return _number(text, "a tempo", f"quarters a minute, {slowest:g} to {fastest:g}", slowest, fastest)


def seconds(text: str) -> float:
    """Read a moment in seconds."""
    return _number(text, "a moment", "seconds", -86400.0, 86400.0)


def latency(text: str) -> float:
    """Read a latency in milliseconds."""
    return _number(text, "a latency", "milliseconds, 0 to 1000", 0.0, 1000.0)


def count(text: str) -> int:
    """Read a whole number from 1."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 9999:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of times; give a whole number from 1")
    return int(text)


def _number(text: str, what: str, unit: str, lowest: float, highest: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lowest <= value <= highest:
        raise argparse.ArgumentTypeError(f"'{text}' is not {what}; give {unit}")
    return value


# The commands


def _replay(args: argparse.Namespace) -> int:
    from companion.files import write_whole
    from companion.stage.performance import read_performance, write_recording
    from companion.stage.replay import replay

    if args.start is not None and args.tempo is None:
        raise UseError("--start tells when a count-in ends", mend="say how fast it counts with --tempo BPM")
    _check_outputs((args.beats, args.out, args.trace), (args.chart, args.performance))
    chart, settings = _chart(args.chart), _settings(args, start=args.start)
    recording = replay(chart, read_performance(args.performance), settings)
    if args.out:
        write_recording(args.out, recording.heard, recording.orders, parts=settings.parts, title=chart.title)
    if args.beats:
        write_whole(args.beats, beats_table(recording.reports))
    return 0


def beats_table(reports: Iterable[Report]) -> str:
    """The beats among the reports as CSV: place in quarters, moment in seconds, probability 0-1."""
    from companion.messages import Beat

    rows = [f"{r.chart_beat:.10g},{r.seconds:.6f},{r.sure:.4f}\n" for r in reports if isinstance(r, Beat)]
    return "chart_beat,seconds,sure\n" + "".join(rows)


def _chart(name: str) -> Chart:
    from companion.chart.load import load
    from companion.resources import chart_path

    return load(chart_path(name))


def _settings(args: argparse.Namespace, **more: Any) -> Settings:
    """What was said about who plays what, and how."""
    from companion.stage.settings import Settings

    parts = tuple(part for part in REST if part not in args.you) if args.parts is None else args.parts
    if "solo" in args.you:
        parts = tuple(part for part in parts if part != "melody" or args.parts is not None)
    return Settings(
        you=args.you,
        parts=parts,
        time=args.time,
        treatment=args.treatment,
        tempo=args.tempo,
        choruses=args.choruses,
        latency=args.latency / 1000,
        seed=args.seed,
        **more,
    )


def _check_outputs(outputs: Iterable[Path | None], inputs: Iterable[str | Path]) -> None:
    """Before the work: each output can be written, and none takes the place of an input or of another output."""
    from companion.files import check_writable

    taken = {Path(path).resolve(): str(path) for path in inputs}
    for path in (path for path in outputs if path is not None):
        if path.resolve() in taken:
            raise UseError(f"{path} is named twice", mend="give what is written a name of its own")
        check_writable(path)
        taken[path.resolve()] = str(path)
