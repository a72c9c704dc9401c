"""``companion history``: how it went with the tunes over the weeks; as words, as a picture, and as a table."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import agreed
from companion.cli.outputs import check_outputs, force_word, write
from companion.cli.progress import Progress
from companion.cli.words import command
from companion.errors import UseError, nearest

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence
    from datetime import datetime

    from companion.chart.model import Form
    from companion.practice.history import TuneHistory
    from companion.practice.records import Records


def add_history(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "history",
        _history,
        "say how it went over the weeks: tempo reached, clean bars, the weakest bars",
        """
        companion history
        companion history ferry-without-lights
        companion history ferry-without-lights --out ferry.svg
        companion history --csv practice.csv
        companion history --chords
        companion history ferry-without-lights --delete
        """,
    )
    parser.add_argument(
        "chart",
        metavar="CHART",
        nargs="?",
        help="a tune that you played: the chart's name, its file, or its title (default: all of them, a line each)",
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="draw the history of CHART, as .svg or .png; needs matplotlib"
    )
    parser.add_argument(
        "--csv",
        type=Path,
        metavar="FILE",
        help="write what is recorded as a table: takes, their bars, and rounds",
    )
    parser.add_argument(
        "--chords",
        action="store_true",
        help="say which shapes and rhythms you use where chords are yours to choose: what --like-you goes by",
    )
    parser.add_argument(
        "--delete",
        action="store_true",
        help="take CHART out of your records for good, after asking; its takes stay in their folders",
    )
    parser.add_argument("--yes", action="store_true", help="with --delete: don't ask")
    force_word(parser)


def _history(args: argparse.Namespace) -> int:
    from datetime import datetime

    from companion.practice.judged_bars import judge_takes
    from companion.practice.plotting import SUFFIXES
    from companion.practice.records import Records
    from companion.practice.taken_in import take_in

    _check(args, SUFFIXES)
    if args.chords:
        return _chords()
    now = datetime.now().astimezone()
    with Records() as records:
        check_outputs([args.out, args.csv], [records.file])
        with Progress("looking through your takes") as progress:
            take_in(records)
            word = _recorded(records, args.chart) if args.chart else None
            if not args.delete:
                judge_takes(records, chart=word, progress=progress.show)
        if records.trouble:
            print(f"companion: {records.trouble}", file=sys.stderr)
        if args.delete and word is not None:
            return _delete(records, word, yes=args.yes)
        return _told(records, word, args, now)


def _chords() -> int:
    from companion.cli.practised import style_learnt
    from companion.practice.comping_words import style_lines

    print(*style_lines(style_learnt()), sep="\n")
    return 0


def _check(args: argparse.Namespace, suffixes: Sequence[str]) -> None:
    if args.chart is None and (args.out or args.delete):
        option = "--out" if args.out else "--delete"
        raise UseError(f"{option} is about one tune", mend="name its chart: companion history CHART")
    if args.chords and (args.chart or args.out or args.csv or args.delete):
        raise UseError("--chords is about all your takes, and stands alone", mend="companion history --chords")
    if args.delete and (args.out or args.csv):
        raise UseError("what is deleted isn't written as well", mend="write it first, then delete it")
    if args.yes and not args.delete:
        raise UseError("--yes goes with --delete", mend="leave it out")
    if args.out and args.out.suffix.lower() not in suffixes:
        raise UseError("that suffix can't be drawn", file=str(args.out), mend=f"end it with {' or '.join(suffixes)}")


def _recorded(records: Records, name: str) -> str:
    """The word under which a tune is recorded; it may be named by its title, and its chart may have gone."""
    from companion.errors import InputError
    from companion.load import load
    from companion.practice.taken_in import chart_word
    from companion.resources import chart_path

    known = _titles(records)
    if name in known:
        return name
    try:
        path = chart_path(name)
        word = chart_word(path, load(path).title)
    except InputError:
        word = ""
    titled = [one for one, title in known.items() if title.casefold() == name.casefold()]
    if word in known:
        return word
    if len(titled) == 1:
        return titled[0]
    like = None if word else nearest(name, [*known, *known.values()])
    mend = f"did you mean '{like}'?" if like else "'companion history' lists what is in your records"
    raise UseError(f"nothing of '{name}' is in your records", mend=mend)


def _titles(records: Records) -> dict[str, str]:
    """The titles of all tunes that are recorded, by the words for their charts."""
    rounds = {one.chart: one.title for one in records.rounds()}
    return rounds | {one.chart: one.title for one in records.takes()}


def _form(word: str) -> Form | None:
    """The form of a chart; None where it can't be read any more."""
    from companion.errors import InputError
    from companion.load import load
    from companion.resources import chart_path

    try:
        return load(chart_path(word)).unfold()
    except InputError:
        return None


def _of_tune(records: Records, word: str, now: datetime) -> TuneHistory:
    from companion.practice.history import tune_history
    from companion.practice.slips_before import recurring_in
    from companion.preferences import preferences
    from companion.preferences.repertoire import RepertoirePreferences
    from companion.preferences.review import ReviewPreferences

    rules = preferences(RepertoirePreferences)
    rounds, takes, bars = records.rounds(word), records.takes(word), records.bars(word)
    slips = recurring_in(records, word, preferences(ReviewPreferences).recurring)
    return tune_history(rounds, takes, bars, _form(word), now, rules, slips)


def _told(records: Records, word: str | None, args: argparse.Namespace, now: datetime) -> int:
    from companion.practice.history_picture import history_picture
    from companion.practice.history_table import history_csv
    from companion.practice.history_words import history_lines, overview_lines
    from companion.practice.repertoire import practice_day
    from companion.preferences import preferences
    from companion.preferences.repertoire import RepertoirePreferences

    rules = preferences(RepertoirePreferences)
    if word is None:
        found = sorted((_of_tune(records, one, now) for one in _titles(records)), key=lambda one: one.standing.played)
        lines = overview_lines(found[::-1], practice_day(now, now.tzinfo, rules.days.begin))
        print(*(lines if found else ["nothing is in your records yet: play a chart, or drill one"]), sep="\n")
    else:
        one = _of_tune(records, word, now)
        print(*history_lines(one, rules), sep="\n")
        if args.out:
            with Progress("drawing"):
                picture = history_picture(one, now.tzinfo, args.out.suffix.lower())
            write(args.out, picture, force=args.force)
            print(f"{args.out}: {one.standing.title} over the weeks")
    if args.csv:
        table = history_csv(records.rounds(word), records.takes(word), records.bars(word))
        write(args.csv, table, force=args.force)
        print(f"{args.csv}: {len(table.splitlines()) - 1} rows: takes, their bars, and rounds of drills")
    return 0


def _delete(records: Records, word: str, *, yes: bool) -> int:
    from companion.practice.history_words import count

    takes, rounds = records.takes(word), records.rounds(word)
    held = " and ".join(text for text in (count(len(takes), "take"), count(len(rounds), "round")) if text)
    title = (takes or rounds)[-1].title
    if not yes:
        answer = agreed(f"delete all that is recorded of {title} ({held}) for good?")
        if answer is None:
            raise UseError("there is nobody to ask", mend="say --yes to delete it all the same")
        if not answer:
            print("nothing is deleted", file=sys.stderr)
            return 0
    records.delete_chart(word)
    print(f"deleted from your records: {title}, {held}")
    if takes:
        print("the takes themselves stay in their folders; 'companion take delete' deletes them")
    return 0
