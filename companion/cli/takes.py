"""``companion take``: what was kept of an evening, to look at, to hear again, to put on paper."""

from __future__ import annotations

import shlex
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import agreed, ask, is_terminal
from companion.cli.outputs import check_outputs, force_word, made
from companion.cli.progress import Progress
from companion.cli.words import command, command_group, count, data_said, seconds
from companion.errors import DeviceError, UseError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from companion.chart.imported import Imported
    from companion.messages import Beat
    from companion.stage.link import Notice
    from companion.stage.take import DamagedTake, Take

TAKE = "a take: last, its number in 'companion take list', the beginning of its folder's name, or the folder"
SHOWN = 20
"""Takes that the list shows unless more are asked for."""

NEXT = (
    ("take play TAKE", "hear it (--wav FILE.wav: as a file)"),
    ("print TAKE --out FILE.pdf", "your notes on paper"),
    ("chart import TAKE", "your notes as a chart, to learn or to change"),
    ("replay TAKE --out FILE.mid", "play it to the companion again, with other settings"),
)
"""What can be done with a take."""


def add_take(commands: Any) -> None:
    """Describe the commands."""
    purpose = "see, hear and delete the takes that were kept"
    group = command_group(commands, "take", purpose)
    actions = group.add_subparsers(title="commands", metavar="COMMAND")
    _add_list(actions)
    _add_show(actions)
    _add_play(actions)
    _add_delete(actions)


def written_down(name: str, *, alone: bool) -> tuple[Imported, Path] | None:
    """What was played in a take, as a chart, and the take's folder; None for no take.

    A chart of that name, or a file, goes before a take. ``alone``: the parts that weren't played are silent.
    """
    from companion.resources import chart_names
    from companion.stage.take_names import take_folder

    if name in chart_names() or Path(name).is_file() or (folder := take_folder(name)) is None:
        return None
    from companion.stage.take import read_take
    from companion.stage.take_chart import take_chart

    with Progress("writing down"):
        return take_chart(read_take(folder), alone=alone), folder


# list


def _add_list(actions: Any) -> None:
    parser = command(
        actions,
        "list",
        _list,
        "list the takes, the latest first",
        """
        companion take list
        companion take list --all
        """,
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--all", action="store_true", help="every take there is")
    what.add_argument("--most", type=count, default=SHOWN, metavar="N", help="so many at most")


def _list(args: argparse.Namespace) -> int:
    from companion.stage.take import DamagedTake, list_takes
    from companion.stage.take_files import takes_folder

    takes = list_takes()
    if not takes:
        print(f"no take yet in {takes_folder()}; 'companion play CHART' keeps one")
        return 0
    shown = takes if args.all else takes[: args.most]
    width = max(len(_title(take)) for take in shown)
    print(f"{'':>3}  {'played':16}  {'tune':{width}}  {'long':>8}  {'you':20}  how it ended")
    for number, take in enumerate(shown, 1):
        when = f"{take.started:%Y-%m-%d %H:%M}"
        if isinstance(take, DamagedTake):
            print(f"{number:>3}  {when:16}  {_title(take):{width}}  can't be read: {take.why}")
        else:
            you = ", ".join(sorted(take.settings.get("you", ())))
            how = f"{take.how}, to be kept" if take.kept else take.how
            print(f"{number:>3}  {when:16}  {take.title:{width}}  {_minutes(take.seconds):>8}  {you:20}  {how}")
    if len(shown) < len(takes):
        print(f"and {len(takes) - len(shown)} more: --all shows them")
    return 0


def _title(take: Take | DamagedTake) -> str:
    return getattr(take, "title", take.folder.name[18:] or take.folder.name)


def _minutes(seconds: float) -> str:
    """A length as minutes and seconds.

    >>> _minutes(7.4), _minutes(61), _minutes(3725)
    ('0:07', '1:01', '62:05')
    """
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


# show


def _add_show(actions: Any) -> None:
    parser = command(
        actions,
        "show",
        _show,
        "say what was played in a take, and what can be done with it",
        """
        companion take show last
        companion take show 3
        """,
    )
    parser.add_argument("take", metavar="TAKE", help=TAKE)


def _show(args: argparse.Namespace) -> int:
    from companion.music.pitch import pitch_in_key
    from companion.stage.console import count_notes
    from companion.stage.take_names import find_take

    take = find_take(args.take)
    heard = [event for event in take.heard() if event.is_note_on]
    settings = take.settings
    you, parts = (", ".join(settings.get(key) or ("nothing",)) for key in ("you", "parts"))
    ends = {
        "ended": "it came to its end",
        "stopped": "it was stopped",
        "interrupted": "it was broken off",
        "lost": "a device or the companion failed",
    }
    kept = "; you marked it to be kept" if take.kept else ""
    print(f"{take.title}, {take.started:%A %d %B %Y, %H:%M}, {_minutes(take.seconds)}; {ends[take.how]}{kept}")
    print(f"you: {you}; the companion: {parts}; time: {settings.get('time', 'follow')}")
    if heard:
        low, high = (pitch_in_key(by(event.data1 for event in heard)) for by in (min, max))
        print(f"your notes: {len(heard)}, from {low} to {high}")
    for line in _playing(take):
        print(line)
    notes = count_notes(take.sounded())
    print("the companion's notes: " + (", ".join(f"{part} {n}" for part, n in notes.items()) or "none"))
    for line in _choruses(take.beats):
        print(line)
    if take.sending:
        print(f"the companion's messages: {take.sending}")
    print("what next:")
    commands = [words.replace("TAKE", shlex.quote(args.take)) + data_said(args) for words, _ in NEXT]
    for words, (_, purpose) in zip(commands, NEXT, strict=True):
        print(f"  companion {words:{max(map(len, commands))}}  {purpose}")
    print(f"it lies in {take.folder}")
    return 0


def _playing(take: Take) -> list[str]:
    """What can be said of the player's notes; nothing where the chart can't be read any more."""
    from companion.errors import InputError
    from companion.stage.player_tally import tally_of

    try:
        chart, settings = take.rehearsed()
        return tally_of(chart.unfold(), settings.you, [*take.heard(), *take.beats, *take.states]).lines()
    except InputError:
        return []


def _choruses(beats: Sequence[Beat]) -> list[str]:
    """A line for each time through: its beats, tempo, and how sure the companion was."""
    from companion.stage.console import BeatTally

    found = []
    for chorus in sorted(Counter(beat.chorus for beat in beats)):
        tally = BeatTally(beat for beat in beats if beat.chorus == chorus)
        tempo = f" at about {tally.tempo} a minute" if tally.tempo else ""
        many = "1 beat" if tally.count == 1 else f"{tally.count} beats"
        found.append(f"chorus {chorus}: {many}{tempo}, {100 * tally.sure:.0f} % sure of the place")
    return found


# play


def _add_play(actions: Any) -> None:
    parser = command(
        actions,
        "play",
        _play,
        "sound a take again, or render it as a WAV",
        """
        companion take play last
        companion take play 2 --from 45 --only you
        companion take play last --wav last.wav
        """,
    )
    parser.add_argument("take", metavar="TAKE", help=TAKE)
    parser.add_argument(
        "--from",
        dest="begin",
        type=seconds,
        default=0.0,
        metavar="SECONDS",
        help="where to begin, in seconds",
    )
    parser.add_argument("--only", type=_voices, metavar="LIST", help="you, and the companion's parts, comma-separated")
    parser.add_argument("--wav", type=Path, metavar="FILE.wav", help="write it as sound instead of playing it")
    force_word(parser)
    parser.add_argument(
        "--port", metavar="NAME", help="the MIDI port to sound it on (default: FluidSynth, where it is installed)"
    )


def _voices(text: str) -> frozenset[str]:
    import argparse

    from companion.messages import PARTS

    words = {word.strip().lower() for word in text.split(",")}
    for word in words - {"you", *PARTS}:
        raise argparse.ArgumentTypeError(f"'{word}' doesn't sound in a take; there are you, {', '.join(PARTS)}")
    return frozenset(words)


def _play(args: argparse.Namespace) -> int:
    from companion.stage.take_names import find_take

    take = find_take(args.take)
    if args.begin < 0 or args.begin >= take.seconds:
        raise UseError(f"the take lasts {_minutes(take.seconds)}", mend=f"give --from 0 to {take.seconds:.0f}")
    if args.wav:
        return _render(args, take)
    from companion.ports.quiet import quiet_libraries
    from companion.stage.demo import open_sound
    from companion.stage.take_playing import play_take

    lost: list[str] = []

    def notify(notice: Notice) -> None:
        if notice.what in ("lost", "gone", "failed", "died"):
            lost.append(notice.more.get("port", "the sound"))

    with quiet_libraries():
        try:
            sound, channels = open_sound(args.port, notify=notify, title=take.title, ask=ask if is_terminal() else None)
        except DeviceError as error:
            if args.port:
                raise
            mend = "name a MIDI port with --port, or render it with --wav FILE.wav"
            raise DeviceError(error.what, mend=mend) from None
        try:
            print(f"{take.title}, {_minutes(take.seconds)}, on {sound.port}; Ctrl-C ends", file=sys.stderr)
            with Progress("playing", take.seconds) as progress:

                def watch(moment: float) -> None:
                    if lost:
                        raise DeviceError(f"{lost[0]} went away", mend="plug it in and start again")
                    progress.show(moment)

                play_take(take, sound, channels, begin=args.begin, parts=args.only, watch=watch)
        finally:
            sound.end()
    return 0


def _render(args: argparse.Namespace, take: Take) -> int:
    from companion.ports.wav import render

    check_outputs([args.wav], [take.midi])
    only, begin = args.only, args.begin
    yours = take.heard() if only is None or "you" in only else []
    ours = [order for order in take.sounded() if only is None or order.part in only]
    heard = [replace(event, seconds=event.seconds - begin) for event in yours if event.seconds >= begin]
    orders = [replace(order, seconds=order.seconds - begin) for order in ours if order.seconds >= begin]
    with made(args.wav, force=args.force) as path, Progress("rendering") as progress:
        by = render(path, heard, orders, progress=progress.show)
    print(f"{args.wav}: {_minutes(take.seconds - args.begin)} of {take.title} ({by})")
    return 0


# delete


def _add_delete(actions: Any) -> None:
    parser = command(
        actions,
        "delete",
        _delete,
        "delete a take for good, after asking",
        """
        companion take delete 3
        companion take delete 2026-11-28-2104 --yes
        """,
    )
    parser.add_argument("take", metavar="TAKE", help=TAKE)
    parser.add_argument("--yes", action="store_true", help="don't ask")


def _delete(args: argparse.Namespace) -> int:
    from companion.errors import TakeError
    from companion.practice.taken_out import check_only_a_take, delete_take
    from companion.stage.take_names import take_folder

    folder = take_folder(args.take)
    if folder is None:
        raise TakeError(f"there is no take '{args.take}'", mend="see 'companion take list'")
    check_only_a_take(folder)
    if not args.yes and not _agreed(folder):
        print("nothing is deleted", file=sys.stderr)
        return 0
    trouble = delete_take(folder)
    print(f"deleted {folder}")
    if trouble:
        print(f"companion: {trouble}", file=sys.stderr)
    return 0


def _agreed(folder: Path) -> bool:
    answer = agreed(f"delete {folder} for good?")
    if answer is None:
        raise UseError("there is nobody to ask", mend="say --yes to delete it all the same")
    return answer
