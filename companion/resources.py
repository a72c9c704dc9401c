"""Where charts and configurations are: the player's own folder first, then what is shipped.

Use it so::

    config_paths()                   # every file of preferences, the shipped ones first
    chart_path("some-tune")          # a path given, or a chart by its name, however written, or enough of it
    chart_names()                    # what chart_path() knows by name
    data_folder()                    # where takes and the player's own files lie

Conventions: configurations are TOML, named without the suffix. The player's own lie in ``configs/`` and ``charts/``
under :func:`data_folder`, which is the system's usual place for user data unless the environment's ``COMPANION_DATA``
(set by ``--data FOLDER``) names another. The shipped ones stand at the top of a checkout, and inside the package when
installed. Nothing is read at import, and no folder is made here.
"""

from __future__ import annotations

import os
import re
import tomllib
import unicodedata
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from companion.errors import ALIKE, ChartError, ConfigError, InputError, nearest
from companion.files import MEGABYTE, read_limited

DATA_VARIABLE = "COMPANION_DATA"
LEAD_SHEET_SUFFIXES = (".musicxml", ".mxl", ".xml", ".abc")
CHART_SUFFIXES = (".toml", *LEAD_SHEET_SUFFIXES)
"""What can be played as it is."""
IMPORT_SUFFIXES = (*LEAD_SHEET_SUFFIXES, ".mid", ".midi")
"""What a chart can be made of."""


def data_folder() -> Path:
    """The one folder for everything that is kept: takes, and the player's own charts and configurations.

    It may not exist yet.
    """
    chosen = os.environ.get(DATA_VARIABLE)
    if chosen:
        return Path(chosen).expanduser()
    import platformdirs

    return platformdirs.user_data_path("companion", appauthor=False)


def shipped_folder() -> Path:
    """The folder that holds the shipped ``configs`` and ``charts``."""
    package = Path(__file__).resolve().parent
    installed = package / "_shipped"
    return installed if installed.is_dir() else package.parent


def config_paths() -> list[Path]:
    """Every file of preferences: the shipped ones, then the player's own, each in order of name.

    :mod:`companion.preferences` reads them.
    """
    folders = shipped_folder() / "configs", data_folder() / "configs"
    return [path for folder in folders for path in sorted(folder.glob("*.toml"))]


def chart_path(name: str) -> Path:
    """The file of a chart: a path as it was given, or the name of a chart of the player's own or of the shipped ones.

    Raises
    ------
    ChartError
        Neither a file nor the name of a chart; the message says what there is.
    """
    given = Path(name).expanduser()
    if given.is_dir():
        raise ChartError("is a folder, not a chart", file=name, mend="name one of the charts in it")
    if given.exists():
        return given
    known = chart_files()
    if name in known:
        return known[name]
    meant = _meant(name, known)
    if len(meant) > 1:
        raise ChartError(f"several charts begin with '{name}'", mend=f"say which: {', '.join(meant)}")
    if meant:
        return known[meant[0]]
    if len(given.parts) > 1 or given.suffix:
        raise ChartError("there is no such file", file=name, mend=_offer(known))
    near = nearest(name, known, ALIKE)
    raise ChartError(f"there is no chart '{name}'", mend=f"did you mean '{near}'?" if near else _offer(known))


def chart_names() -> list[str]:
    """Names of the charts that need no path: the player's own and the shipped ones."""
    return list(chart_files())


def chart_files() -> dict[str, Path]:
    """The files of the charts that need no path, by name."""
    return _by_stem("charts", CHART_SUFFIXES)


def chart_name(title: str) -> str:
    """The name a chart goes by, from its title: small letters, digits and hyphens.

    >>> chart_name("Kettle at Six"), chart_name("Ça va?"), chart_name("!")
    ('kettle-at-six', 'ca-va', 'untitled')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", plain.replace("'", "")))[:60].strip("-") or "untitled"


def free_chart_place(name: str) -> Path:
    """A file among the player's own charts that no chart is called like: of that name, or of it with a number."""
    folder = data_folder() / "charts"
    taken = {*chart_names(), *(path.stem for path in folder.glob("*"))}
    number = 1
    while (found := name if number == 1 else f"{name}-{number}") in taken:
        number += 1
    return folder / f"{found}.toml"


def is_shipped(path: Path) -> bool:
    """Whether a file comes with the companion, and isn't the player's own."""
    return path.is_relative_to(shipped_folder())


def _meant(name: str, known: Iterable[str]) -> list[str]:
    """The charts that a name stands for: written otherwise, or begun.

    >>> _meant("Heron over Slate", ["heron-over-slate", "heron"]), _meant("heron-o", ["heron-over-slate", "heron"])
    (['heron-over-slate'], ['heron-over-slate'])
    """
    wanted = _plain_name(name)
    plain = {one: _plain_name(one) for one in known}
    same = [one for one, text in plain.items() if text == wanted]
    return same or [one for one, text in plain.items() if wanted and text.startswith(wanted)]


def _plain_name(name: str) -> str:
    """A name without its suffix, capitals, accents and signs."""
    stem = name[: -len(tail)] if (tail := Path(name).suffix) in CHART_SUFFIXES else name
    letters = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode().lower()
    return "-".join(re.findall(r"[a-z0-9]+", letters))


def read_toml_file(path: Path, error: type[InputError] = ConfigError) -> dict[str, Any]:
    """Read any TOML file; what is wrong with it is an ``error`` with the file and the line."""
    data = read_limited(path, MEGABYTE, "preferences", error)
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as garbled:
        line = garbled.object[: garbled.start].count(b"\n") + 1
        raise error("is not UTF-8 text", file=str(path), where=f"line {line}", mend="save it as UTF-8") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as wrong:
        what, line = _toml_fault(str(wrong), text)
        raise error(what, file=str(path), where=f"line {line}", mend="see the TOML rules at toml.io") from None
    except RecursionError:
        raise error("brackets lie too deep in each other", file=str(path), mend="take them out") from None
    except ValueError:  # Python's own limit on whole numbers: 4300 digits
        raise error("a number has thousands of digits", file=str(path), mend="write it shorter") from None


def _toml_fault(message: str, text: str) -> tuple[str, int]:
    """Split the parser's message into what is wrong and the line, 1 = the first."""
    match = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    if not match:
        return message, 1
    what = message[: match.start()]
    return f"not valid TOML: {what[:1].lower()}{what[1:]}", int(match[1] or text.rstrip("\n").count("\n") + 1)


def _by_stem(kind: str, suffixes: tuple[str, ...]) -> dict[str, Path]:
    found: dict[str, Path] = {}
    for folder in (shipped_folder() / kind, data_folder() / kind):
        if folder.is_dir():
            found |= {path.stem: path for path in folder.glob("*") if path.suffix in suffixes}
    return dict(sorted(found.items()))


def _offer(known: dict[str, Path]) -> str:
    return f"charts that need no path: {', '.join(known)}" if known else "give the path of a chart"
