"""``companion chart arrange``: an arrangement is written into a chart, note for note."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import force_word, say_kept, write
from companion.cli.words import CHART, ArrangingOptions, arrangement_words, bar_range, command, data_said, like_you_word
from companion.errors import UseError
from companion.messages import TUNE_PARTS, Part

if TYPE_CHECKING:
    from companion.chart.model import Chart


def add_arrange(actions: Any) -> None:
    """Describe the command."""
    parser = command(
        actions,
        "arrange",
        _arrange,
        "write an arrangement into a chart, note for note, so that it can be learnt, printed and changed by hand",
        """
        companion chart arrange ferry-without-lights --seed 3
        companion chart arrange tune.toml --bars 5-8 --seed 7
        companion chart arrange sheet.musicxml --treatment in-two --out tune.toml
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=CHART)
    parser.add_argument(
        "--bars",
        type=bar_range,
        metavar="FIRST-LAST",
        help="make only these bars of the form; what is written in the others stays (default: all)",
    )
    parser.add_argument(
        "--parts",
        type=_parts,
        metavar="LIST",
        help="parts to write, of melody, chords, bass (default: chords and bass, and the melody where it is varied)",
    )
    arrangement_words(
        parser,
        treatment="one treatment for these bars (default: what the chart says)",
        seed="another seed, another arrangement",
        free=False,
    )
    like_you_word(parser)
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE.toml",
        help="the chart to write (default: CHART itself if it is yours, else a copy among your charts)",
    )
    force_word(parser)


def _parts(text: str) -> tuple[Part, ...]:
    words = [word.strip().lower() for word in text.split(",")]
    for word in words:
        if word not in TUNE_PARTS:
            raise argparse.ArgumentTypeError(f"'{word}' can't be written; there are {', '.join(TUNE_PARTS)}")
    return tuple(part for part in TUNE_PARTS if part in words)


def _arrange(args: argparse.Namespace) -> int:
    from companion.arrange.writing import write_arrangement
    from companion.load import load
    from companion.resources import chart_path

    path = chart_path(args.chart)
    asked = ArrangingOptions.by(args)
    chart = asked.of(load(path))
    out = _place(args.out, path)
    if asked.key is not None and _same(out, path):
        raise UseError("would change its key", file=str(out), mend="name another file with --out")
    count = len(chart.unfold().bars)
    first, last = args.bars or (1, count)
    if last > count:
        raise UseError(f"there is no bar {last}", file=args.chart, mend=f"the form has {count} bars")
    made = write_arrangement(
        chart,
        parts=args.parts,
        bars=range(first, last + 1) if args.bars else None,
        treatment=asked.treatment,
        seed=asked.seed,
        style=asked.style,
    )
    _save(out, path, chart, made, force=args.force)
    print(f"{out}: {_described(made, first, last, args.parts)}")
    print(_way_back(args.chart, out, path, data_said(args)))
    return 0


def _way_back(named: str, out: Path, path: Path, told: str) -> str:
    """How to have the arrangement free again, new in every chorus: for once, and for good; ``told``: behind it."""
    from companion.resources import data_folder, shipped_folder

    ours = path.resolve().is_relative_to(shipped_folder().resolve()) and out.parent == data_folder() / "charts"
    again = out.stem if out.parent == data_folder() / "charts" else str(out)
    again = named if _same(out, path) else again
    good = f"delete {out}, and the chart is as it came" if ours else f"take the [[arrangement]] tables out of {out}"
    return f"free again, new in every chorus: companion play {shlex.quote(again)} --free{told}; for good: {good}"


def _described(chart: Chart, first: int, last: int, parts: tuple[str, ...] | None) -> str:
    names = [part.part for part in chart.written if parts is None or part.part in parts]
    called = ", ".join(names[:-1]) + (" and " if len(names) > 1 else "") + names[-1]
    return f"{called} of {f'bars {first}-{last}' if first < last else f'bar {first}'} written"


def _place(out: Path | None, path: Path) -> Path:
    """Where to write: as was said, the chart itself, or a place among the player's own charts."""
    from companion.cli.importing import check_chart_file
    from companion.files import check_writable
    from companion.resources import data_folder, shipped_folder

    shipped = (shipped_folder() / "charts").resolve()
    if out is not None:
        if out.resolve().is_relative_to(shipped):
            raise UseError("is a chart of the program's own", file=str(out), mend="name another file with --out")
        check_chart_file(out)
        return out
    if path.suffix.lower() == ".toml" and not path.resolve().is_relative_to(shipped):
        check_writable(path)
        return path
    own = data_folder() / "charts" / f"{path.stem}.toml"
    if own.exists():
        raise UseError("is there already, and is left as it is", file=str(own), mend="name another file with --out")
    own.parent.mkdir(parents=True, exist_ok=True)
    return own


def _same(out: Path, path: Path) -> bool:
    """Whether the chart is written in its own place."""
    return out.exists() and path.exists() and out.samefile(path)


def _save(out: Path, path: Path, chart: Chart, made: Chart, *, force: bool) -> None:
    """Write the chart with the comments of the one it was.

    What stood there is kept; of the chart itself, in which all else stays, only where notes are lost that it held.
    """
    from companion.chart.toml.read import read_text
    from companion.chart.toml.update import update_toml
    from companion.chart.toml.write import write_toml
    from companion.files import keep_former, write_whole

    text = update_toml(read_text(path), made) if path.suffix.lower() == ".toml" else write_toml(made)
    if not _same(out, path):
        write(out, text, force=force)
        return
    lost = any(not _kept(part, made) for part in chart.written)
    former = keep_former(out) if lost and not force else None
    write_whole(out, text)
    say_kept(out, former)


def _kept(part: Any, made: Chart) -> bool:
    """Whether all notes of a written part are still there."""
    now = next((one for one in made.written if one.part == part.part), None)
    return now is not None and set(part.notes) <= set(now.notes)
