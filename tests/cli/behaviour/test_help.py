"""The help: every command has examples, every number its unit."""

from __future__ import annotations

import argparse
from collections.abc import Callable

from companion import __version__, cli

Run = Callable[..., tuple[int, str, str]]


def test_help_names_every_command_and_each_command_gives_examples(run: Run) -> None:
    status, out, _ = run("--help")
    assert status == 0
    commands = _commands()
    assert commands
    for name in commands:
        assert name[0] in out
        status, text, err = run(*name, "--help")
        assert (status, err) == (0, "")
        assert "examples:\n  companion " + " ".join(name) in text, name


def test_every_number_in_the_help_has_its_unit() -> None:
    units = {"BPM": "quarters a minute", "MS": "milliseconds", "SECONDS": "in seconds"}
    found = set()
    for parser in _commands().values():
        for action in parser._actions:
            if action.metavar in units:
                assert units[str(action.metavar)] in (action.help or ""), action.option_strings
                found.add(action.metavar)
    assert found == set(units)


def _commands() -> dict[tuple[str, ...], argparse.ArgumentParser]:
    """Every command by its words, such as ('chart', 'show')."""
    found: dict[tuple[str, ...], argparse.ArgumentParser] = {}

    def walk(parser: argparse.ArgumentParser, words: tuple[str, ...]) -> None:
        groups = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
        for group in groups:
            for name, inner in group.choices.items():
                walk(inner, (*words, name))
        if words and not groups:
            found[words] = parser

    walk(cli.build_parser(), ())
    return found


def test_the_version_is_the_packages(run: Run) -> None:
    assert run("--version")[:2] == (0, f"companion {__version__}\n")


def test_no_command_at_all_shows_the_help(run: Run) -> None:
    status, out, err = run()
    assert status == 0 and out.startswith("usage: companion") and not err


def test_what_is_taken_when_nothing_is_said_is_shown(run: Run) -> None:
    text = " ".join(run("replay", "--help")[1].split())
    for words in ("(default: melody)", "(default: 0)", "(default: 10)", "(default: follow)"):
        assert words in text
    assert "(default: None)" not in text and "(default: False)" not in text, "nothing is taken then"
    text = " ".join(run("chart", "capture", "--help")[1].split())
    assert "its title (default: Untitled)" in text and "click so many bars first (default: 2)" in text
