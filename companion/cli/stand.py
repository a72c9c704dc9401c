"""``companion stand``: the page on the music stand, in the browser."""

from __future__ import annotations

import argparse
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from companion.cli.words import CHART, Parser, command
from companion.errors import UseError
from companion.messages import PARTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from companion.chart.model import Chart
    from companion.messages import WishName
    from companion.stage.loop import Inbox
    from companion.stage.settings import Settings


def add_stand(commands: Any) -> None:
    """Describe the command."""
    parser = command(
        commands,
        "stand",
        _stand,
        "show the page for the music stand in your browser, where a tune is chosen and heard",
        """
        companion stand
        companion stand ferry-without-lights
        companion stand --share
        """,
    )
    parser.add_argument("chart", metavar="CHART", nargs="?", help=f"what stands first among the charts: {CHART}")
    _page_words(parser)


def _page_words(parser: Parser) -> None:
    group = parser.add_argument_group("the page")
    group.add_argument("--share", action="store_true", help="let a tablet in your network see it, with a code")
    group.add_argument("--page-port", type=port, metavar="N", help="the TCP port of the page (0: any that is free)")
    group.add_argument("--no-open", dest="opens", action="store_false", help="don't open the browser")


def stand_words(parser: Parser) -> None:
    """Add the options of a command that can show what it plays on the page; :func:`page_beside` reads them."""
    parser.add_argument("--stand", action="store_true", help="show it on the page for the music stand, in your browser")
    _page_words(parser)


@contextmanager
def page_beside(
    args: argparse.Namespace,
    chart: Chart,
    settings: Settings,
    wishes: Inbox,
    usable: tuple[WishName, ...],
) -> Iterator[dict[str, Any]]:
    """While it is played, show it on the page where that is asked for.

    Yields
    ------
    dict
        What :func:`companion.stage.live.play` is told of it: 'watch' and 'begins'.
    """
    if not args.stand:
        if args.share or args.page_port is not None:
            raise UseError("there is no page to share", mend="say --stand, too")
        yield {"watch": []}
        return
    from companion.page.link import PageLink
    from companion.page.outgoing import Begun
    from companion.page.serving import check_installed

    check_installed()
    begun = Begun(
        number=1,
        title=chart.title,
        you=tuple(part for part in PARTS if part in settings.you),
        parts=settings.parts,
        ordered=settings.order == "chart" and bool(chart.events),
        wishes=usable,
    )
    page = PageLink(
        begun,
        chart,
        settings,
        wish=wishes.put,
        say=lambda text: print(text, file=sys.stderr),
        share=args.share,
        port=args.page_port,
        opens=args.opens,
    )
    try:
        yield {"watch": [page.report], "begins": page.begins}
    finally:
        page.close()


def port(text: str) -> int:
    """Read a TCP port."""
    if not text.isascii() or not text.isdigit() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"'{text}' is not a port; give a number from 0 to 65535")
    return int(text)


def _stand(args: argparse.Namespace) -> int:
    from companion.load import load
    from companion.page.serving import check_installed, open_address, serve
    from companion.preferences.every import check_preferences
    from companion.resources import chart_path

    check_installed()
    check_preferences()
    given = None
    if args.chart is not None:
        given = chart_path(args.chart)
        load(given)  # what is wrong with it is said here, in a line
    from companion.page.browser import open_browser
    from companion.page.hub import Hub
    from companion.page.stand import MusicStand

    address = open_address(args.page_port, share=args.share)

    def ready(code: str) -> None:
        print(f"the page is at {address.url}; Ctrl-C ends it", flush=True)
        if code:
            print(f"from a tablet: {address.shared} with the code {code}", flush=True)
        if args.opens:
            open_browser(address.url)

    serve(MusicStand(Hub(), given), address, share=args.share, ready=ready)
    return 0
