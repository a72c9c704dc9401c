"""Output files of commands: checked before the work; a file that stands there already is kept, and named after it."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import UseError

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Iterator


def force_word(parser: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """Add the option that says what becomes of a file that stands where a command writes."""
    parser.add_argument(
        "--force",
        action="store_true",
        help="replace a file that is there already (default: it is kept beside, as NAME.former-1 and so on)",
    )


def check_outputs(outputs: Iterable[Path | None], inputs: Iterable[Path]) -> None:
    """Before the work: each output can be written, and none takes the place of an input or of another output."""
    from companion.files import check_writable

    taken = {path.resolve() for path in inputs}
    for path in (path for path in outputs if path is not None):
        if path.resolve() in taken:
            raise UseError(f"{path} is named twice", mend="give what is written a name of its own")
        check_writable(path)
        taken.add(path.resolve())


def numbered(out: Path, count: int) -> list[Path]:
    """The names of so many files that are asked for by one: FILE.svg alone, or FILE-1.svg, FILE-2.svg and so on."""
    several = [out.with_name(f"{out.stem}-{number}{out.suffix}") for number in range(1, count + 1)]
    return several if count > 1 else [out]


def write(path: Path, data: bytes | str, *, force: bool) -> None:
    """Write a file that was asked for, and say where the one is kept that stood there."""
    from companion.files import write_output

    say_kept(path, write_output(path, data, force=force))


@contextmanager
def made(path: Path, *, force: bool) -> Iterator[Path]:
    """Make a file that was asked for under the name that is given; it takes its place when it is complete."""
    from companion.files import made_output

    with made_output(path, force=force) as file:
        yield file.path
    say_kept(path, file.former)


def say_kept(path: Path, former: Path | None) -> None:
    """Say where the file is kept that stood in the place of another."""
    if former is not None:
        print(f"companion: {path}: what stood there is kept in {path.with_name(former.name)}", file=sys.stderr)
