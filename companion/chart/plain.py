"""Texts from files made printable: titles, names and words.

What no page and no XML can hold is taken out (XML 1.0, section 2.2: control characters, halves of surrogate pairs,
U+FFFE, U+FFFF), and so are the marks that turn around the direction of whatever stands beside a text (Unicode Standard
Annex 9).
"""

from __future__ import annotations

import re

_UNFIT = re.compile("[\x00-\x08\x0e-\x1b\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
_BROKEN = re.compile("[\t-\r\x1c-\x1f\x85\u2028\u2029]+")
"""What ends a line, or a column of it."""


def printable_text(text: str) -> str:
    r"""A text on one line, without what can't be printed.

    >>> printable_text("Kettle\nat\x07 Six\x00")
    'Kettle at Six'
    """
    return _BROKEN.sub(" ", _UNFIT.sub("", text))


def unfit(text: str) -> str | None:
    """The first character of a text that can't be printed in one line, as an escape; None when there is none."""
    found = _UNFIT.search(text) or _BROKEN.search(text)
    return found and ascii(found[0])
