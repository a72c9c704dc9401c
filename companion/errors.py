"""Every error that a user may meet, in one tree.

CompanionError
    InputError (ValueError)     something the user gave can't be used: a file, a chart, a symbol, an option
        ChordError              a chord symbol that isn't one
        ChartError              a chart (TOML, MusicXML) that can't be read or played
        PerformanceError        a Standard MIDI File that can't be read
        ConfigError             a file under ``configs/`` or of the user's own
        TakeError               a take that there isn't, or that a word doesn't tell from others
        RecordsError            the records of practice can't be read or added to
        LessonError             a lesson that there isn't, or whose file can't be opened
        UseError                words on the command line that don't go together
    FaultsFound                 a check or an audit did its work and found faults
    DeviceError (OSError)       a device, a port or a server is missing or went away for good

Each carries the exit status of the command that met it, and prints as one line: what, where, how to mend it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self


class CompanionError(Exception):
    """Base of all errors meant for the user's eyes.

    Parameters
    ----------
    what : str
        What is wrong, in one clause.
    file : str, optional
        The file it is in.
    where : str, optional
        The place in it ("section B, bar 3"; "line 12").
    mend : str, optional
        What to do about it.
    """

    exit_status = 2

    def __init__(self, what: str, *, file: str | None = None, where: str | None = None, mend: str | None = None):
        super().__init__(what)
        self.what, self.file, self.where, self.mend = what, file, where, mend

    def within(self, *, file: str | None = None, where: str | None = None) -> Self:
        """The same error with what the caller knows of its place; what is known already stays."""
        places = [p for p in (where, self.where) if p]
        return type(self)(self.what, file=self.file or file, where=", ".join(places) or None, mend=self.mend)

    def __str__(self) -> str:
        line = ": ".join(part for part in (self.file, self.where, self.what) if part)
        text = f"{line}; {self.mend}" if self.mend else line
        return " ".join(text.split())


class InputError(CompanionError, ValueError):
    """Something the user gave can't be used."""


class ChordError(InputError):
    """A text stands where a chord symbol should, and isn't one."""


class ChartError(InputError):
    """A chart can't be read or played."""


class PerformanceError(InputError):
    """A recorded performance can't be read."""


class ConfigError(InputError):
    """A configuration file can't be read or holds something that can't be."""


class TakeError(InputError):
    """There is no such take, or a name doesn't tell which."""


class RecordsError(InputError):
    """The records of practice can't be read, or nothing can be added to them."""


class LessonError(InputError):
    """There is no such lesson, or its file holds something that no lesson may."""


class UseError(InputError):
    """Options or arguments that don't go together."""


class FaultsFound(CompanionError):
    """A check or an audit went through and found faults."""

    exit_status = 1


class DeviceError(CompanionError, OSError):
    """A port or a device is missing, or went away and did not come back."""

    exit_status = 3


ALIKE = 0.75
"""How like another a name must be to be a slip of it, 0 to 1."""


def right_name(name: str, known: Iterable[str]) -> str:
    """How to mend a name that there isn't: the nearest that there is, whatever its case, or all of them.

    >>> right_name("Walkin", ["walking", "open"]), right_name("stride", ["walking", "open"])
    ("did you mean 'walking'?", 'use one of walking, open')
    """
    near = nearest(name, known := list(known), ALIKE)
    return f"did you mean {near!r}?" if near else f"use one of {', '.join(known)}"


def nearest(name: str, known: Iterable[str], least: float = 0.6) -> str | None:
    """The name that one is likely a slip of, whatever its case; ``least`` is how like it must be, 0 to 1."""
    import difflib

    names = {one.casefold(): one for one in known}
    near = difflib.get_close_matches(name.casefold(), names, 1, least)
    return names[near[0]] if near else None
