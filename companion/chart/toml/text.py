"""Quoting of texts in a chart's file, and other details that all its texts share."""

from __future__ import annotations

import json

BARS_A_LINE = 4


def quoted(text: str) -> str:
    """A TOML basic string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
