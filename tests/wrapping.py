"""Long results kept as text in a test: words in rows that fit a page of source."""

from __future__ import annotations

from collections.abc import Iterable

WIDTH = 116


def wrapped(words: Iterable[str]) -> list[str]:
    """Words, as many in a row as fit; a longer one has a row of its own."""
    found = [""]
    for word in words:
        if found[-1] and len(found[-1]) + 1 + len(word) > WIDTH:
            found.append(word)
        else:
            found[-1] = f"{found[-1]} {word}".strip()
    return found


def lines(text: str) -> list[str]:
    """The rows of a kept text."""
    return text.strip().splitlines()
