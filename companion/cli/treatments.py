"""``companion chart treatments``: the ways in which a section can be played, and where each is written."""

from __future__ import annotations

import argparse
from typing import Any

from companion.cli.words import command


def add_treatments(actions: Any) -> None:
    """Describe the command."""
    command(
        actions,
        "treatments",
        _treatments,
        "list the treatments: the ways in which a section can be played, ours and your own",
        """
        companion chart treatments
        companion chart explain ferry-without-lights --treatment in-two
        """,
    )


def _treatments(args: argparse.Namespace) -> int:
    from companion.arrange.treatments import listed
    from companion.resources import data_folder, shipped_folder

    shipped, width = shipped_folder() / "configs", max(len(one.name) for one, _ in listed())
    for one, file in listed():
        own = "" if file.parent == shipped else f"  ({file.name})"
        print(f"{one.name:{width}}  {one.about}{own}")
    print(f"add your own: copy a table of {shipped / 'treatments.toml'} into a file treatments-mine.toml")
    print(f"in {data_folder() / 'configs'}, and change its name and its values")
    return 0
