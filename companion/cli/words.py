"""The words of the command line: how a command and its options are described, and how their values are read.

Conventions: tempo in quarters a minute, time in seconds, latency in milliseconds. A value that can't be meant raises
``argparse.ArgumentTypeError``, which comes out as a :class:`~companion.errors.UseError`.
"""

from __future__ import annotations

import argparse
import math
import re
import shlex
import sys
from dataclasses import dataclass, fields, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from companion.errors import UseError, nearest
from companion.messages import PARTS, TUNE_PARTS, Part
from companion.ports.instruments import SERVICES
from companion.resources import CHART_SUFFIXES
from companion.stage.settings import ORDERS, TIMES, PlayOrder

if TYPE_CHECKING:
    from collections.abc import Callable

    from companion.arrange.chords.comping_style import CompingStyle
    from companion.arrange.request import Request
    from companion.chart.model import Chart
    from companion.stage.settings import Settings

YOURS: tuple[Part, ...] = tuple(part for part in PARTS if part != "click")
"""Parts that a player can take."""
CHART = f"a chart's name, or a file: {', '.join(CHART_SUFFIXES)}"
MORE = "COMMAND --help says more about a command."
LONGEST_TURN = 64
"""Bars."""
WHOLE_CHORUS = 9999
"""Bars of a turn that takes a chorus, however long that is."""
SLIP = 0.7
"""How like another a word must be to be a slip of it, 0 to 1."""
TEMPI = (10.0, 600.0)
"""Slowest and fastest that is taken for a tempo, in quarters a minute."""


class Parser(argparse.ArgumentParser):
    """argparse, but a wrong word is an error like any other, and nothing is guessed from half a word."""

    def __init__(self, **options: Any):
        super().__init__(**{"allow_abbrev": False, "formatter_class": _Help, **options})

    def error(self, message: str) -> NoReturn:
        """Raise what argparse has to say as an error of ours, with the nearest word that there is."""
        meant = self._meant(message)
        for pattern, words in _PLAINLY:
            message = re.sub(pattern, words, message)
        if meant is not None:
            message = re.sub(r", there are .*", "", message)
        raise UseError(message, mend=f"did you mean '{meant}'?" if meant else f"see {self.prog} --help")

    def _meant(self, message: str) -> str | None:
        """The choice or option that a wrong word is likely a slip of."""
        if match := re.search(r"invalid choice: '(.*?)' \(choose from (.*)\)", message):
            return nearest(match[1], [choice.strip(" '") for choice in match[2].split(",")], SLIP)
        if match := re.match(r"unrecognized arguments: (--[\w-]+)", message):
            return nearest(match[1], self._option_string_actions, SLIP)
        return None


_PLAINLY = (
    (r"^argument ", ""),
    (r"^COMMAND: invalid choice: (\S+) \(choose from (.*)\)", r"there is no command \1, there are \2"),
    (r"invalid choice: (\S+) \(choose from (.*)\)", r"there is no \1, there are \2"),
    (r"invalid int value: (.*)", r"\1 is not a whole number"),
    (r"^unrecognized arguments: ", "it doesn't know what to do with "),
    (r"^the following arguments are required: ", "say also "),
    (r"expected one argument", "say also what"),
)
"""What argparse says, and the same in plainer words."""


class _Help(argparse.ArgumentDefaultsHelpFormatter, argparse.RawDescriptionHelpFormatter):
    """Help that keeps the lines of the examples and shows what is taken when nothing is said."""

    def _get_help_string(self, action: argparse.Action) -> str | None:
        return action.help if action.default is None or action.default is False else super()._get_help_string(action)


def command(commands: Any, name: str, run: Callable[[argparse.Namespace], int], purpose: str, examples: str) -> Parser:
    """A command with its help: what it is for, and examples of its use."""
    text = "examples:\n" + "\n".join(f"  {line.strip()}" for line in examples.strip().splitlines())
    parser: Parser = commands.add_parser(
        name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.", epilog=text
    )
    data_word(parser)
    parser.set_defaults(run=run, parser=parser)
    return parser


def command_group(commands: Any, name: str, purpose: str) -> Parser:
    """A command that has commands of its own, with its help."""
    group: Parser = commands.add_parser(
        name, help=purpose, description=f"{purpose[0].upper()}{purpose[1:]}.", epilog=MORE
    )
    data_word(group)
    group.set_defaults(parser=group)
    return group


def data_word(parser: Parser) -> None:
    """Add the option for the player's folder, which may stand before or behind a command."""
    parser.add_argument(
        "--data",
        type=Path,
        metavar="FOLDER",
        default=argparse.SUPPRESS,  # else a command would forget what stood before it
        help="where takes, your own charts and your own configs are kept (default: the system's place for user data)",
    )


def data_said(args: argparse.Namespace) -> str:
    """What a command that is printed needs behind it, so that it finds the folder that this one was told; else ''."""
    return "" if args.data is None else f" --data {shlex.quote(str(args.data))}"


def rehearsal_words(parser: Parser, latency: str, order: str) -> argparse._ArgumentGroup:
    """Add the options that every way of playing has in common; more can be added to what is given back.

    ``latency`` and ``order`` say which latency is taken, and in which order a tune is played, when nothing is said.
    """
    group = parser.add_argument_group("who plays what, and how")
    group.add_argument(
        "--you",
        type=your_parts,
        metavar="LIST",
        help="the parts you play, comma-separated: melody, chords, bass, or solo in the melody's place; over a "
        "chart that has no melody you improvise unless you say otherwise (default: melody)",
    )
    group.add_argument(
        "--parts",
        type=our_parts,
        metavar="LIST",
        help="the parts the companion plays, of melody, chords, bass, solo, click (default: the tune's that you leave)",
    )
    group.add_argument(
        "--time",
        choices=TIMES,
        help="follow: it goes with you; steady: it keeps the tempo; patient: it waits for you before each beat "
        "(default: follow)",
    )
    group.add_argument(
        "--tempo",
        type=tempo,
        metavar="BPM",
        help="quarters a minute; without it the companion finds out from your playing",
    )
    group.add_argument("--choruses", type=count, metavar="N", help="stop after N times through the form")
    group.add_argument(
        "--order",
        choices=ORDERS,
        help="form: round and round; open: the same until you tell the last time, by the soft pedal over a bar line; "
        f"chart: introduction, head, solos, head, ending, as the chart has them (default: {order})",
    )
    group.add_argument(
        "--trade",
        type=turns,
        metavar="BARS",
        help="improvise in turn, so many bars each, or 'chorus'; you begin; 0: nobody trades (default: 0)",
    )
    group.add_argument(
        "--latency",
        type=milliseconds,
        metavar="MS",
        help=f"what the sound chain takes from an order to the ear, in milliseconds (default: {latency})",
    )
    as_new_word(group)
    like_you_word(group)
    arrangement_words(group, seed="same seed, same accompaniment")
    parser.set_defaults(seed=None)  # a take that is replayed has one of its own
    return group


@dataclass(frozen=True)
class ArrangingOptions:
    """How a chart is to be taken and arranged."""

    treatment: str | None = None
    """One instead of the chart's own."""
    seed: int = 0
    chorus: int = 1
    """Which time through the form, 1 = the first."""
    key: str | None = None
    """Another than the chart's."""
    free: bool = False
    """Whether the arrangement is made up even where one is written in the chart."""
    like_you: bool | None = None
    """Whether free chords are like the player's own; None: as ``like-you.toml`` says."""

    @classmethod
    def by(cls, args: argparse.Namespace) -> ArrangingOptions:
        """What the words of a command say; what it has no word for is as usual."""
        said = {field.name: getattr(args, field.name, None) for field in fields(cls)}
        return cls(**{name: value for name, value in said.items() if value is not None})

    @property
    def request(self) -> Request:
        """What is asked of the arranger; key and freedom are the chart's, see :meth:`of`."""
        from companion.arrange.request import Request

        return Request(treatment=self.treatment, chorus=self.chorus, seed=self.seed, style=self.style)

    @cached_property
    def style(self) -> CompingStyle | None:
        """How the player comps, where chords are to be like theirs; looked for in their takes, and said."""
        from companion.cli.practised import style_wished

        return style_wished(self.like_you)

    def of(self, chart: Chart) -> Chart:
        """The chart in the key that is asked for, and with what of its arrangement is to be played."""
        if self.free:
            chart = replace(chart, written=())
        if self.key is not None:
            from companion.arrange.transposition import in_key

            chart = in_key(chart, self.key)
        return chart


def arrangement_words(
    parser: argparse.ArgumentParser | argparse._ArgumentGroup,
    *,
    treatment: str | None = "one treatment for the whole form (default: what the chart says)",
    seed: str | None = "same seed, same arrangement",
    chorus: bool = False,
    free: bool = True,
) -> None:
    """Add the options that :class:`ArrangingOptions` is read from; ``treatment`` and ``seed`` say what each is for."""
    if treatment:
        parser.add_argument("--treatment", metavar="NAME", help=treatment)
    if chorus:
        parser.add_argument("--chorus", type=count, default=1, metavar="N", help="which time through the form")
    if seed:
        parser.add_argument("--seed", type=int, default=0, metavar="N", help=seed)
    parser.add_argument("--key", metavar="KEY", help="take it in another key, such as Eb (default: the chart's)")
    if free:
        parser.add_argument(
            "--free", action="store_true", help="make the arrangement up, even where one is written in the chart"
        )


def like_you_word(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """Add the option that makes free chords like the player's own; :attr:`ArrangingOptions.style` follows it."""
    parser.add_argument(
        "--like-you",
        action=argparse.BooleanOptionalAction,
        help="let the shapes and rhythms of your own takes weigh where chords are free; 'companion history --chords' "
        "says which these are (default: as like-you.toml says)",
    )


def as_new_word(group: argparse._ArgumentGroup) -> None:
    """Add the option that leaves earlier takes out of account; ``shape_before`` reads it."""
    group.add_argument(
        "--as-new",
        action="store_true",
        help="follow you as if the tune were new to it, without what your earlier takes tell of your timing",
    )


def partner_word(group: argparse._ArgumentGroup) -> None:
    """Add the option that makes one's own playing the partner; :func:`with_own_part` reads it."""
    group.add_argument(
        "--partner",
        metavar="TAKE",
        help="what you played in a take, laid on the chart, goes with your other hand: 'last', a number, or its folder",
    )


def with_own_part(args: argparse.Namespace, chart: Chart) -> Chart:
    """The chart with what the player played in the take that is named as partner.

    Raises
    ------
    UseError
        There is no such take, it is of another tune, or its part is the player's now.
    """
    if args.partner is None:
        return chart
    from companion.practice.partner import with_partner
    from companion.stage.take import read_take
    from companion.stage.take_names import take_folder

    folder = take_folder(args.partner)
    if folder is None:
        raise UseError(f"there is no take {args.partner!r}", mend="companion take list shows them")
    if args.treatment is not None:
        raise UseError("--treatment makes everything up anew, and --partner is as it was played", mend="leave one out")
    take = read_take(folder)
    chart, parts = with_partner(chart, take)
    both = [part for part in parts if part in (args.you or ())]
    if both:
        mend = f"say --you {'bass' if both[0] != 'bass' else 'melody'}"
        raise UseError(f"the {both[0]} is your own part in that take, and now as well", mend=mend)
    print(f"your {' and '.join(parts)} of {take.started:%Y-%m-%d %H:%M} goes with you", file=sys.stderr)
    return chart


def instrument_words(parser: Parser) -> argparse._ArgumentGroup:
    """Add the options that say which instrument is meant."""
    about = "What isn't said here comes from configs/instruments.toml."
    group = parser.add_argument_group("your instrument", about)
    group.add_argument("--in", dest="port_in", metavar="NAME", help="the port to listen to: its name or part of it")
    group.add_argument("--out", dest="port_out", metavar="NAME", help="the port to play on: its name or part of it")
    group.add_argument("--midi", choices=SERVICES, help="which of the system's MIDI services to use")
    return group


def your_parts(text: str) -> frozenset[Part]:
    """Read ``--you``: the parts that the player plays."""
    words = _words(text, YOURS)
    if {"melody", "solo"} <= words:
        raise argparse.ArgumentTypeError("a solo stands in the melody's place: name one of the two")
    return frozenset(part for part in YOURS if part in words)


def our_parts(text: str) -> tuple[Part, ...]:
    """Read ``--parts``: the parts that the companion plays."""
    words = _words(text, PARTS)
    return tuple(part for part in PARTS if part in words)


def _words(text: str, allowed: tuple[str, ...]) -> set[str]:
    words = [word.strip().lower() for word in text.split(",")]
    for word in words:
        if word not in allowed:
            raise argparse.ArgumentTypeError(f"'{word}' is not a part; there are {', '.join(allowed)}")
    return set(words)


def bar_range(text: str) -> tuple[int, int]:
    """Read bars, such as '5-8' or '5': the first and the last, 1 = the first full bar of the form."""
    first, dash, last = text.partition("-")
    numbers = [int(word) if word.isascii() and word.isdigit() else 0 for word in (first, last if dash else first)]
    if not 1 <= numbers[0] <= numbers[1]:
        raise argparse.ArgumentTypeError(f"'{text}' names no bars; say for example 5-8, or 5")
    return numbers[0], numbers[1]


def tempo(text: str) -> float:
    """Read a tempo in quarters a minute."""
    slowest, fastest = TEMPI
    return _number(text, "a tempo", f"quarters a minute, {slowest:g} to {fastest:g}", slowest, fastest)


def seconds(text: str) -> float:
    """Read a moment in seconds."""
    return _number(text, "a moment", "seconds", -86400.0, 86400.0)


def milliseconds(text: str) -> float:
    """Read a latency in milliseconds."""
    return _number(text, "a latency", "milliseconds, 0 to 1000", 0.0, 1000.0)


def count(text: str) -> int:
    """Read a whole number from 1."""
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 9999:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of times; give a whole number from 1")
    return int(text)


def count_or_never(text: str) -> int:
    """Read a whole number from 1, or 0 for never."""
    return 0 if text == "0" else count(text)


def turns(text: str) -> int:
    """Read ``--trade``: the bars of a turn; a chorus has as many as there are."""
    if text.strip().lower() == "chorus":
        return WHOLE_CHORUS
    if not text.isascii() or not text.isdigit() or int(text) > LONGEST_TURN:
        raise argparse.ArgumentTypeError(f"'{text}' is no length of a turn; give bars, such as 4 or 8, or chorus")
    return int(text)


def _number(text: str, what: str, unit: str, lowest: float, highest: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not lowest <= value <= highest:
        raise argparse.ArgumentTypeError(f"'{text}' is not {what}; give {unit}")
    return value


def take_part(args: argparse.Namespace, chart: Chart, *, recorded: bool = False) -> None:
    """Settle what the player plays: what they say, else the melody, or a solo over a chart that has none, and say so.

    Raises
    ------
    UseError
        They want to play a melody alone, and there is none; of what is ``recorded`` already, that is as may be.
    """
    melody = any(section.melody for section in chart.sections)
    if args.you is None:
        args.you = frozenset({"melody" if melody else "solo"})
        if not melody:
            print("the chart has no melody: you improvise over it, as with --you solo", file=sys.stderr)
    elif args.you == {"melody"} and not melody and not recorded:
        mend = "improvise over it with --you solo, or take --you chords or --you bass"
        raise UseError("the chart has no melody to play", file=chart.source, mend=mend)


def settings_like(taken: Settings, args: argparse.Namespace, **more: Any) -> Settings:
    """The settings of a take, but for what is said otherwise."""
    if args.trade:
        args.you = _trading(args.you or taken.you, args.order or taken.order)
    said = {name: getattr(args, name) for name in ("you", "parts", "time", "tempo", "choruses", "order", "trade")}
    said |= {"latency": None if args.latency is None else args.latency / 1000, "seed": args.seed}
    said |= {"treatment": args.treatment, **more}
    if getattr(args, "like_you", None) is not None:
        taken = replace(taken, style=ArrangingOptions.by(args).style)
    if said["you"] is not None and said["parts"] is None:
        said["parts"] = tuple(part for part in taken.parts if part not in said["you"])
    return replace(taken, trace=False, **{name: value for name, value in said.items() if value is not None})


def settings_of(args: argparse.Namespace, **more: Any) -> Settings:
    """What was said about who plays what, and how."""
    from companion.stage.settings import Settings

    more = {"order": args.order or "form"} | more
    if args.trade:
        args.you = _trading(args.you, more["order"])
    melody_too = "solo" in args.you and more["order"] != "chart"  # else the companion plays the head around the solos
    taken = args.you | {"melody"} if melody_too else args.you
    latency = {} if args.latency is None else {"latency": args.latency / 1000}
    asked = ArrangingOptions.by(args)
    return Settings(
        you=args.you,
        parts=tuple(part for part in TUNE_PARTS if part not in taken) if args.parts is None else args.parts,
        time=args.time or "follow",
        treatment=asked.treatment,
        tempo=args.tempo,
        choruses=args.choruses,
        seed=asked.seed,
        trade=args.trade or 0,
        style=asked.style,
        **latency,
        **more,
    )


def _trading(you: frozenset[Part], order: PlayOrder) -> frozenset[Part]:
    """The player's parts where they trade: a solo in the melody's place, at once or after the head."""
    if not you & {"melody", "solo"}:
        raise UseError("to trade is to improvise in turn", mend="say --you solo, or leave --you out")
    return you - {"melody"} | {"solo"} if "melody" in you and order != "chart" else you
