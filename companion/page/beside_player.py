"""The page's process beside a player process that started it: shows what comes in, hands on what is wished.

What is on the stand comes as the first line of standard input, reports after it; where the page is goes to standard
output, then wishes. When the input ends the page does.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence

from companion.page.browser import open_browser
from companion.page.hub import Hub
from companion.page.outgoing import PageOpened, to_line
from companion.page.players import PlayerLines, WishPipe
from companion.page.serving import open_address, serve
from companion.page.stand import MusicStand
from companion.stage.beside import take_standard_input


def run_beside(words: Sequence[str]) -> int:
    """Serve; words are 'share', 'open' (the browser) and a port, as far as they are said."""
    share = "share" in words
    wanted = next((int(word) for word in words if word.isdigit()), None)
    out = sys.stdout.buffer
    address = open_address(wanted, share=share)
    stand = MusicStand(Hub(), wish=WishPipe(out).wish)

    def ready(code: str) -> None:
        out.write(to_line(PageOpened(address.url, address.shared if code else "", code)))
        out.flush()
        if "open" in words:
            open_browser(address.url)
        PlayerLines(take_standard_input(), stand.put, stand.told, lambda: os.kill(os.getpid(), signal.SIGTERM))

    serve(stand, address, share=share, ready=ready)
    return 0


if __name__ == "__main__":
    sys.exit(run_beside(sys.argv[1:]))
