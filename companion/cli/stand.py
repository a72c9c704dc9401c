"""``companion stand``: the page on the music stand, in the browser."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

from companion.cli.words import CHART, command

if TYPE_CHECKING:
    import argparse


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
    group = parser.add_argument_group("the page")
    group.add_argument("--share", action="store_true", help="let a tablet in your network see it, with a code")
    group.add_argument("--port", type=port, metavar="N", help="the TCP port of the page (0: any that is free)")
    group.add_argument("--no-open", dest="opens", action="store_false", help="don't open the browser")


def port(text: str) -> int:
    """Read a TCP port."""
    import argparse

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
    from companion.page.hub import Hub
    from companion.page.stand import Stand

    address = open_address(args.port, share=args.share)

    def ready(code: str) -> None:
        print(f"the page is at {address.url}; Ctrl-C ends it", flush=True)
        if code:
            print(f"from a tablet: {address.shared} with the code {code}", flush=True)
        if args.opens:
            open_browser(address.url)

    serve(Stand(Hub(), given), address, share=args.share, ready=ready)
    return 0


def open_browser(url: str) -> None:
    """Open the page; where there is no browser its address has been said."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()
    sys.stdout.flush()
