"""``companion lesson``: what a teacher gives and a pupil sends back, each in one file."""

from __future__ import annotations

import shlex
import shutil
import sys
import textwrap
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import agreed
from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.takes import TAKE
from companion.cli.words import CHART, command, command_group, data_said
from companion.errors import InputError, UseError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from companion.chart.model import Chart
    from companion.practice.lesson import Lesson
    from companion.practice.lesson_file import PackedLesson
    from companion.practice.lesson_folder import OpenedLesson, Opening

LESSON = "a lesson that was opened: last, its number in 'companion lesson list', or the beginning of its name"
NARROWEST, WIDEST = 50, 110
"""Columns to which remarks are broken, whatever the terminal says."""
TITLE = 3
"""The column of the titles in the list."""


def add_lesson(commands: Any) -> None:
    """Describe the commands."""
    purpose = "give a lesson in one file, open one, and send back what you played"
    group = command_group(commands, "lesson", purpose)
    actions = group.add_subparsers(title="commands", metavar="COMMAND")
    _add_pack(actions)
    _add_open(actions)
    _add_list(actions)
    _add_show(actions)
    _add_delete(actions)


# pack


def _add_pack(actions: Any) -> None:
    parser = command(
        actions,
        "pack",
        _pack,
        "put a chart, drills, remarks on bars and a take into one file; or a take that goes back",
        """
        companion lesson pack ferry-without-lights --remark "9-12: keep the left hand light" --take last
        companion lesson pack ferry-without-lights --words lightly.toml --out lightly.lesson
        companion lesson pack --reply lightly last --remark "11: which finger here?"
        """,
    )
    parser.add_argument("what", metavar="CHART", help=f"{CHART}; with --reply: the take")
    parser.add_argument("--reply", metavar="LESSON", help=f"send a take back. {LESSON[0].upper()}{LESSON[1:]}")
    parser.add_argument("--title", metavar="TEXT", help="what the lesson is called (default: as the tune)")
    parser.add_argument("--by", metavar="NAME", help="who gives it")
    parser.add_argument(
        "--remark",
        action="append",
        default=[],
        metavar="TEXT",
        help="about bars, as in '9-12: keep the left hand light'; about a section, 'B: ...'; or about the whole tune. "
        "Can be said again and again",
    )
    parser.add_argument(
        "--words",
        type=Path,
        metavar="FILE.toml",
        help="title, remarks and drills from a file: format = 1, [[remarks]] with bars and text, and [kinds.NAME] as "
        "in configs/drills.toml with bars or section, you, from and to (quarters a minute), and what else "
        "'companion drill' takes",
    )
    parser.add_argument("--take", metavar="TAKE", help=f"to listen to. {TAKE[0].upper()}{TAKE[1:]}")
    parser.add_argument("--out", type=Path, metavar="FILE.lesson", help="the file to write (default: by the title)")
    force_word(parser)


def _pack(args: argparse.Namespace) -> int:
    from companion.practice.lesson_file import SUFFIX, unpacked_lesson
    from companion.resources import chart_name

    if args.out and args.out.suffix.lower() != SUFFIX:
        raise UseError(
            f"a lesson's file ends with {SUFFIX}", file=str(args.out), mend=f"name it {args.out.stem}{SUFFIX}"
        )
    lesson, data = _answer(args) if args.reply else _given(args)
    name = f"{chart_name(lesson.title)}{'-back' if args.reply else ''}{SUFFIX}"
    out = args.out or Path(name)
    check_outputs([out], [args.words] if args.words else [])
    write(out, data, force=args.force)
    print(f"{out}: {_contents(unpacked_lesson(data))}, {max(1, round(len(data) / 1000))} kB")
    return 0


def _given(args: argparse.Namespace) -> tuple[Lesson, bytes]:
    """What a teacher gives."""
    from companion.chart.toml.read import read_text
    from companion.chart.toml.write import write_toml
    from companion.load import load
    from companion.practice.lesson_file import packed_lesson
    from companion.resources import chart_name, chart_path
    from companion.stage.take_names import find_take

    path = chart_path(args.what)
    chart = load(path)
    text = read_text(path) if path.suffix.lower() == ".toml" else write_toml(chart)
    lesson = _said(args, chart)
    lesson = replace(lesson, title=lesson.title or chart.title, chart=chart_name(path.stem), reply_to="")
    _check_common(lesson)
    return lesson, packed_lesson(lesson, text, find_take(args.take) if args.take else None)


def _answer(args: argparse.Namespace) -> tuple[Lesson, bytes]:
    """What a pupil sends back."""
    from companion.practice.lesson_file import packed_lesson
    from companion.practice.lesson_folder import find_lesson
    from companion.stage.take_names import find_take

    if args.take:
        raise UseError("the take that goes back is named without --take", mend="say pack --reply LESSON TAKE")
    asked = find_lesson(args.reply).lesson.title
    take = find_take(args.what)
    lesson = _said(args, take.rehearsed()[0])
    if lesson.kinds:
        raise UseError("what goes back has no drills", file=str(args.words), mend="take them out")
    lesson = replace(lesson, title=lesson.title or asked, chart="", reply_to=asked)
    return lesson, packed_lesson(lesson, take=take)


def _said(args: argparse.Namespace, chart: Chart) -> Lesson:
    """The lesson's text, from its file and from the command line."""
    from companion.practice.lesson import Lesson, fit_to_print, read_words, said_remark

    lesson = read_words(args.words) if args.words else Lesson()
    remarks = (*lesson.remarks, *(said_remark(text, chart) for text in args.remark))
    lesson = replace(lesson, title=args.title or lesson.title, by=args.by or lesson.by, remarks=remarks)
    return fit_to_print(lesson)


def _check_common(lesson: Lesson) -> None:
    """See that the drills name nothing that only this player has."""
    from companion.practice.lesson import names_of_ones_own

    for name, drill in lesson.kinds.items():
        for key, own in names_of_ones_own(drill).items():
            mend = "say from, to and step instead" if key == "ladder" else "say what it is in the drill itself"
            raise UseError(f"the {key} {own!r} is none that everybody has", where=f"[kinds.{name}]", mend=mend)


def _contents(packed: PackedLesson) -> str:
    lesson = packed.lesson
    parts = [packed.chart.title] if packed.chart else []
    parts += [_many(len(lesson.remarks), "remark")] if lesson.remarks else []
    parts += [_many(len(lesson.kinds), "drill")] if lesson.kinds else []
    parts += ["a take"] if packed.has_take else []
    return ", ".join(parts)


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


# open, show


def _add_open(actions: Any) -> None:
    parser = command(
        actions,
        "open",
        _open,
        "unpack a lesson among your own charts and lessons, and show it; nothing of yours is overwritten",
        """
        companion lesson open lightly.lesson
        """,
    )
    parser.add_argument("file", type=Path, metavar="FILE.lesson", help="a lesson's file")


def _open(args: argparse.Namespace) -> int:
    from companion.practice.lesson_file import read_lesson_file
    from companion.practice.lesson_folder import open_lesson

    opening = open_lesson(read_lesson_file(args.file))
    print(*_shown(opening.lesson, data_said(args), opening), sep="\n")
    return 0


def _add_show(actions: Any) -> None:
    parser = command(
        actions,
        "show",
        _show,
        "show a lesson: its remarks by bar, the commands that start its drills, how to listen to its take",
        """
        companion lesson show last
        companion lesson show lightly
        """,
    )
    parser.add_argument("lesson", metavar="LESSON", help=LESSON)


def _show(args: argparse.Namespace) -> int:
    from companion.practice.lesson_folder import find_lesson

    print(*_shown(find_lesson(args.lesson), data_said(args)), sep="\n")
    return 0


def _shown(opened: OpenedLesson, told: str, opening: Opening | None = None) -> list[str]:
    """A lesson, line by line; ``told``: what stands behind its commands."""
    lesson = opened.lesson
    by = f", by {lesson.by}" if lesson.by else ""
    lines = [f"{lesson.title}{by}" + (f", in answer to: {lesson.reply_to}" if lesson.reply_to else "")]
    if opening and opening.again:
        lines.append("it was opened before, and is as it was")
    if opened.chart:
        lines.append(f"chart: {opened.chart}{_renamed(opened.chart, opening)}")
    lines += _remark_lines(lesson)
    lines += _drill_lines(lesson, opened.chart or "", told)
    lines += _take_lines(opened, told)
    return [*lines, f"it lies in {opened.folder}"]


def _renamed(chart: str, opening: Opening | None) -> str:
    if opening and not opening.again and chart != opening.asked:
        return f" (there is another chart called {opening.asked}, which stays as it is)"
    return ""


def _remark_lines(lesson: Lesson) -> list[str]:
    if not lesson.remarks:
        return []
    columns = min(max(shutil.get_terminal_size((100, 24)).columns, NARROWEST), WIDEST)
    rows = [(one.span or (0, 0), one) for one in lesson.remarks]
    rows.sort(key=lambda row: row[0])
    places = [_place(span) for span, _ in rows]
    width = max(map(len, places))
    lines = ["remarks:"]
    for place, (_, remark) in zip(places, rows, strict=True):
        begin = f"  {place:{width}}  "
        lines += textwrap.wrap(remark.text, columns, initial_indent=begin, subsequent_indent=" " * len(begin))
    return lines


def _place(span: tuple[int, int]) -> str:
    first, last = span
    if not last:
        return "all of it"
    return f"bars {first}-{last}" if last > first else f"bar {first}"


def _drill_lines(lesson: Lesson, chart: str, told: str) -> list[str]:
    from companion.practice.lesson import drill_command, unknown_here

    lines = ["drills:"] if lesson.kinds else []
    for name, drill in lesson.kinds.items():
        lines.append(f"  {name}: {drill.what}" if drill.what else f"  {name}")
        lines += [f"    the {key} {own!r} isn't known here" for key, own in unknown_here(drill).items()]
        lines.append(f"    {drill_command(chart, drill)}{told}")
    return lines


def _take_lines(opened: OpenedLesson, told: str) -> list[str]:
    try:
        take = opened.take()
    except InputError as error:
        return [f"its take can't be read: {error}"]
    if take is None:
        return []
    place = shlex.quote(str(take.folder))
    you = ", ".join(sorted(take.settings.get("you", ()))) or "nothing"
    minutes = f"{round(take.seconds) // 60}:{round(take.seconds) % 60:02}"
    what = "the take that came back" if opened.lesson.reply_to else "to listen to"
    return [
        f"{what}: {take.title}, {take.started:%d %B %Y}, {minutes}; played: {you}",
        f"  companion take play {place}{told}",
        f"  companion review {place}{told}",
    ]


# list, delete


def _add_list(actions: Any) -> None:
    command(
        actions,
        "list",
        _list,
        "list the lessons that were opened, the latest first",
        """
        companion lesson list
        """,
    )


def _list(args: argparse.Namespace) -> int:
    from companion.practice.lesson_folder import OpenedLesson, lessons_folder, list_lessons

    lessons = list_lessons()
    if not lessons:
        print(f"no lesson yet in {lessons_folder()}; 'companion lesson open FILE.lesson' unpacks one")
        return 0
    rows: list[Sequence[str]] = [("", "opened", "name", "title", "what is in it")]
    for number, one in enumerate(lessons, 1):
        when = f"{one.opened:%Y-%m-%d %H:%M}"
        if isinstance(one, OpenedLesson):
            rows.append((str(number), when, one.folder.name, one.lesson.title, _holds(one)))
        else:
            rows.append((str(number), when, one.folder.name, f"can't be read: {one.why}", ""))
    # Why one can't be read may be long: it makes the column of the titles no wider.
    widths = [max(len(row[n]) for row in rows if row[-1] or n < TITLE) for n in range(len(rows[0]))]
    for row in rows:
        print("  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip())
    return 0


def _holds(one: OpenedLesson) -> str:
    lesson = one.lesson
    parts = [f"in answer to {lesson.reply_to}"] if lesson.reply_to else []
    parts += [_many(len(lesson.remarks), "remark")] if lesson.remarks else []
    parts += [_many(len(lesson.kinds), "drill")] if lesson.kinds else []
    parts += ["a take"] if one.take_folder else []
    return ", ".join(parts) or "the chart"


def _add_delete(actions: Any) -> None:
    parser = command(
        actions,
        "delete",
        _delete,
        "delete a lesson for good, after asking; its chart stays among yours",
        """
        companion lesson delete lightly
        companion lesson delete 3 --yes
        """,
    )
    parser.add_argument("lesson", metavar="LESSON", help=LESSON)
    parser.add_argument("--yes", action="store_true", help="don't ask")


def _delete(args: argparse.Namespace) -> int:
    from companion.practice.lesson_file import CHART as CHART_FILE
    from companion.practice.lesson_folder import delete_lesson, lesson_place

    folder = lesson_place(args.lesson)
    if not args.yes:
        answer = agreed(f"delete {folder} for good?")
        if answer is None:
            raise UseError("there is nobody to ask", mend="say --yes to delete it all the same")
        if not answer:
            print("nothing is deleted", file=sys.stderr)
            return 0
    chart = (folder / CHART_FILE).exists()
    delete_lesson(folder)
    print(f"deleted {folder}" + ("; its chart stays among yours" if chart else ""))
    return 0
