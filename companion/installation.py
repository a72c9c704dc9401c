"""How what is missing of the companion is installed, as a command that works for the Python that runs it.

The companion is not on an index under its own name: an extra is installed from where the companion itself came from, as
pip recorded it (PEP 610, ``direct_url.json``), or from the checkout that it runs in; where neither is there any more,
the extra's packages are named one by one, as the package's metadata list them (PEP 508 markers).
"""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from collections.abc import Sequence
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname


def install_command(extra: str, packages: Sequence[str]) -> str:
    """The command that installs an extra, to be typed as it is.

    Parameters
    ----------
    extra : str
        As ``pyproject.toml`` names it: 'print'.
    packages : sequence of str
        What it consists of, for want of anything better.
    """
    try:
        installed = distribution("companion")
    except PackageNotFoundError:
        installed = None
    checkout = Path(__file__).resolve().parents[1]
    record = _record(installed)
    editable = ["-e"] if record.get("dir_info", {}).get("editable") else []
    if source := _source(record) or (checkout if (checkout / "pyproject.toml").is_file() else None):
        wanted = [*editable, f"{source}[{extra}]"]
    else:
        wanted = _packages_of(installed, extra) or list(packages)
    words = [sys.executable or "python3", "-m", "pip", "install", *wanted]
    return subprocess.list2cmdline(words) if sys.platform == "win32" else shlex.join(words)


def _record(installed: Distribution | None) -> dict[str, Any]:
    """Where it was installed from, as PEP 610 has it; empty where that isn't recorded."""
    try:
        record = json.loads((installed and installed.read_text("direct_url.json")) or "{}")
    except ValueError:
        return {}
    return record if isinstance(record, dict) else {}


def _source(record: dict[str, Any]) -> Path | None:
    """The folder or archive, where it is still there."""
    url = urlsplit(str(record.get("url", "")))
    path = Path(url2pathname(url.path))
    return path if url.scheme == "file" and url.path and path.exists() else None


def _packages_of(installed: Distribution | None, extra: str) -> list[str]:
    """The packages of an extra, with the versions they must have."""
    found = []
    for line in (installed.requires if installed else None) or ():
        requirement, _, marker = line.partition(";")
        if re.fullmatch(rf"""\s*extra\s*==\s*["']{re.escape(extra)}["']\s*""", marker):
            found.append(requirement.strip())
    return found
