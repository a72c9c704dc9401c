"""``companion print``: an arrangement on paper, or as a file that another program opens."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.outputs import check_outputs, force_word, made, numbered, write
from companion.cli.progress import Progress
from companion.cli.takes import TAKE, written_down
from companion.cli.words import CHART, ArrangingOptions, arrangement_words, command, like_you_word
from companion.errors import ChartError, UseError
from companion.messages import HANDS, PAPER_SIZES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from companion.arrange.part import Note
    from companion.chart.imported import Imported
    from companion.chart.model import Chart, Form
    from companion.engrave.sheet import Sheet
    from companion.messages import Hand

SUFFIXES = (".pdf", ".svg", ".musicxml", ".mxl", ".mid", ".wav")
STAVES = {"right": (1,), "left": (2,), None: (1, 2)}


def add_print(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "print",
        _print,
        "put the arrangement of a chart on paper, or the bare lead sheet",
        """
        companion print ferry-without-lights --out ferry.pdf
        companion print tune.toml --lead --out tune.musicxml
        companion print ferry-without-lights --paper letter --out ferry.pdf
        companion print sheet.mxl --hand left --treatment walking --seed 3 --out bass.mid
        companion print ferry-without-lights --like-you --out ferry.pdf
        companion print last --out solo.pdf
        companion print last --no-remarks --out solo.musicxml
        """,
    )
    parser.add_argument("chart", metavar="CHART", help=f"{CHART}. Or {TAKE}: what you played in it is printed")
    parser.add_argument(
        "--out",
        type=Path,
        required=True,
        metavar="FILE",
        help=f"what to write; its suffix says the format: {', '.join(SUFFIXES)}. "
        "An SVG of several pages is written as FILE-1.svg, FILE-2.svg and so on",
    )
    force_word(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument(
        "--lead",
        action="store_true",
        help="the melody and the chord symbols alone, what comes again folded into repeats and endings",
    )
    what.add_argument("--hand", choices=HANDS, help="one hand alone (default: both)")
    parser.add_argument("--paper", choices=PAPER_SIZES, help="size of the pages (default: that of paper.toml, a4)")
    parser.add_argument(
        "--remarks",
        action=argparse.BooleanOptionalAction,
        help="of a take: say over its bars what 'companion review' finds in them (default: they are said)",
    )
    like_you_word(parser)
    arrangement_words(parser)


def _print(args: argparse.Namespace) -> int:
    from companion.arrange.treatments import names as treatment_names
    from companion.chart.check import unknown_treatments
    from companion.load import load
    from companion.resources import chart_path

    suffix = args.out.suffix.lower()
    if suffix not in SUFFIXES:
        raise UseError("that suffix can't be printed", file=str(args.out), mend=f"end it with {', '.join(SUFFIXES)}")
    asked = ArrangingOptions.by(args)
    if args.lead and asked.treatment:
        raise UseError("a lead sheet has no treatment", mend="leave out --lead or --treatment")
    played = written_down(args.chart, alone=True)
    path = chart_path(args.chart) if played is None else played[1]
    if args.remarks and played is None:
        raise UseError("remarks are made on a take", mend="name one, such as 'last', or leave out --remarks")
    check_outputs([args.out], [path])
    chart = asked.of(load(path) if played is None else played[0].chart)
    if played is not None and args.hand is None:
        args.hand = _only_hand(chart)
    if not args.lead and asked.treatment is None:
        for fault in unknown_treatments(chart, treatment_names()):
            raise fault.within(file=str(path))
    what = _described(args, chart)
    if suffix in (".mid", ".wav"):
        _sound(args, suffix, chart, *_sounding(args, asked, chart), what)
    else:
        try:
            sheet = _sheet(args, asked, chart, _remarks(args, chart, played))
        except ChartError as error:
            raise error.within(file=str(path)) from None
        _draw(args, suffix, sheet, path, what)
    return 0


def _remarks(args: argparse.Namespace, chart: Chart, played: tuple[Imported, Path] | None) -> Mapping[int, str]:
    """What is said over the bars of a take."""
    from companion.practice.remarks import take_remarks
    from companion.stage.take import read_take

    if played is None or args.remarks is False:
        return {}
    form = chart.unfold()
    with Progress("looking through it"):
        return take_remarks(read_take(played[1]), len(form.bars), pickup=form.pickup > 0)


def _described(args: argparse.Namespace, chart: Chart) -> str:
    """What is put on paper: 'Back Stairs, the left hand'."""
    which = "the lead sheet" if args.lead else f"the {args.hand} hand" if args.hand else "both hands"
    return f"{chart.title}, {which}"


def _only_hand(chart: Chart) -> Hand | None:
    """The one hand that plays in a take; None where both do."""
    left = any(note.hand == "left" for part in chart.written for note in part.notes)
    right = any(section.melody for section in chart.sections) or any(
        note.hand == "right" for part in chart.written for note in part.notes
    )
    return None if left and right else "left" if left else "right"


def _sounding(args: argparse.Namespace, asked: ArrangingOptions, chart: Chart) -> tuple[Form, list[Note]]:
    """What is heard: the lead sheet's melody once through, or the whole tune, both hands or one."""
    from companion.engrave.programme import sounding
    from companion.engrave.score import chart_melody
    from companion.engrave.voices import staff_of

    if args.lead:
        form = chart.unfold()
        return form, chart_melody(form)
    form, notes = sounding(chart, treatment=asked.treatment, seed=asked.seed, style=asked.style)
    return form, [note for note in notes if staff_of(note) in STAVES[args.hand]]


def _sheet(args: argparse.Namespace, asked: ArrangingOptions, chart: Chart, remarks: Mapping[int, str]) -> Sheet:
    from companion.engrave.programme import arrangement, with_order
    from companion.engrave.score import lead_sheet

    if args.lead:
        return with_order(lead_sheet(chart, remarks), chart)
    staves = STAVES[args.hand]
    return arrangement(
        chart, staves=staves, treatment=asked.treatment, seed=asked.seed, style=asked.style, remarks=remarks
    )


def _draw(args: argparse.Namespace, suffix: str, sheet: Sheet, source: Path, what: str) -> None:
    from companion.engrave.musicxml_out import compressed, musicxml

    if suffix in (".musicxml", ".mxl"):
        text = musicxml(sheet)
        packed = text if suffix == ".musicxml" else compressed(text, f"{args.out.stem}.musicxml")
        write(args.out, packed, force=args.force)
        print(f"{args.out}: {what}, for a notation program")
    else:
        from companion.engrave.page import pages, pdf
        from companion.engrave.paper import PAPERS

        paper = PAPERS[args.paper] if args.paper else None
        with Progress("engraving") as progress:
            svgs = pages(sheet, paper, progress=lambda share: progress.show(0.8 * share))
            if suffix == ".pdf":
                printed = pdf(svgs, sheet.title, paper, progress=lambda share: progress.show(0.8 + 0.2 * share))
        if suffix == ".pdf":
            write(args.out, printed, force=args.force)
            print(f"{args.out}: {what}, {_pages(len(svgs))}")
        else:
            _write_pages(args.out, svgs, source, what, force=args.force)


def _pages(count: int) -> str:
    return "1 page" if count == 1 else f"{count} pages"


def _write_pages(out: Path, svgs: list[str], source: Path, what: str, *, force: bool) -> None:
    names = numbered(out, len(svgs))
    check_outputs(names, [source])
    for name, svg in zip(names, svgs, strict=True):
        write(name, svg, force=force)
    print(f"{', '.join(map(str, names))}: {what}, {_pages(len(names))}")


def _sound(args: argparse.Namespace, suffix: str, chart: Chart, form: Form, notes: list[Note], what: str) -> None:
    from companion.engrave.programme import slowing
    from companion.engrave.recording import midi_file, orders

    slows = None if args.lead else slowing(chart)
    if suffix == ".mid":
        write(args.out, midi_file(form, notes, chart.title, args.seed, slows, plain=args.lead), force=args.force)
        print(f"{args.out}: {what}, as MIDI")
        return
    from companion.ports.wav import render

    with made(args.out, force=args.force) as path, Progress("rendering") as progress:
        by = render(path, [], orders(form, notes, args.seed, slows), progress=progress.show)
    print(f"{args.out}: {what}, as sound ({by})")
