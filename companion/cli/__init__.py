"""The commands: reads the words, calls one function, prints the answer.

Conventions: what a command is asked for goes to standard output, what went wrong to standard error in one line. The
exit statuses are those of :mod:`companion.errors`, 130 after Ctrl-C, and 70 (``EX_SOFTWARE`` of sysexits.h) for a
defect of the companion's own.

Everything heavy is imported inside the function that needs it, so that ``companion --help`` answers at once.
"""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from companion import __version__
from companion.cli.commands import build_parser
from companion.cli.ending import leave_a_clean_line
from companion.errors import CompanionError, UseError
from companion.files import disk_remedy

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

INTERRUPTED = 130
DEFECT = 70


def main(arguments: list[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : list of str, optional
        The words after ``companion``; by default those of the process.

    Returns
    -------
    int
        The exit status.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without ♭ still gets the rest of the line
    try:
        status = _run(arguments)
        sys.stdout.flush()
        return status
    except CompanionError as error:
        _complain(str(error))
        return error.exit_status
    except KeyboardInterrupt:
        with suppress(OSError):
            leave_a_clean_line()
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output has seen enough. Python would complain once more when it closes standard output.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        if error.errno == errno.EIO and not error.filename:  # the terminal was closed: nobody looks any more
            _nobody_looks()
            return 0
        if not error.filename:
            return _defect(error)
        remedy = f"; {mend}" if (mend := disk_remedy(error)) else ""
        _complain(f"{error.filename}: {(error.strerror or 'no access').lower()}{remedy}")
        return UseError.exit_status
    except Exception as defect:
        return _defect(defect)


def _defect(defect: Exception) -> int:
    """Say that it is our fault, in one line. With ``COMPANION_DEBUG`` set, developers get the traceback."""
    if os.environ.get("COMPANION_DEBUG"):
        raise defect
    _complain(_report_defect(defect))
    return DEFECT


def _complain(what: str) -> None:
    try:
        print(f"companion: {what}", file=sys.stderr)
    except OSError:
        _nobody_looks()


def _nobody_looks() -> None:
    """Write into nothing from now on: the terminal is closed, and Python would complain once more at its end."""
    for stream in (sys.stdout, sys.stderr):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _run(arguments: list[str] | None) -> int:
    parser = build_parser()
    try:
        args, unknown = parser.parse_known_args(arguments)
    except SystemExit:
        sys.stdout.flush()  # help, and the version: while it can still be seen that nobody reads on
        raise
    if unknown:  # the command's own parser knows which word it may be a slip of
        args.parser.error(f"unrecognized arguments: {' '.join(unknown)}")
    if args.run is None:
        args.parser.print_help()
        return 0
    if args.data is not None:
        from companion.resources import DATA_VARIABLE

        os.environ[DATA_VARIABLE] = str(args.data)
    run: Callable[[argparse.Namespace], int] = args.run
    return run(args)


def _report_defect(defect: Exception) -> str:
    """Write what developers need into a file, and say in one line where it is."""
    import platform
    import time
    import traceback

    from companion.resources import data_folder

    what = f"a defect of the companion, not of yours ({type(defect).__name__})"
    place = data_folder() / "defects" / time.strftime("%Y%m%d-%H%M%S.txt")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.open("a", encoding="utf-8") as report:
            report.write(f"companion {__version__}, Python {platform.python_version()}, {platform.platform()}\n")
            report.write(f"{sys.argv}\n\n{''.join(traceback.format_exception(defect))}\n")
    except OSError:
        return f"{what}; run it again with COMPANION_DEBUG=1 and report what it prints"
    return f"{what}; please report it with the file {place}"
