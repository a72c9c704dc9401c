"""Opening the page in the player's browser."""

from __future__ import annotations

import threading
import webbrowser


def open_browser(url: str) -> None:
    """Open it, in a thread of its own; where there is no browser nothing happens."""
    threading.Thread(target=webbrowser.open, args=(url,), daemon=True).start()
