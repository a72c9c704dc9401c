"""The offer of a set-up at the first playing: one line at a terminal, and nothing anywhere else."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from queue import SimpleQueue

import pytest

from companion.cli import setup
from companion.cli.setup import NOTHING_YET, offer_setup
from companion.ports.setup.desk import Typed
from companion.stage.loop import Stop

Offered = Callable[[str], str]
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the player's own file would be; a set-up is noted, and not gone through."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    monkeypatch.setattr(setup, "OFFER_WAIT", 0.5)
    monkeypatch.setattr(setup, "set_up_here", lambda midi: (tmp_path / "was-set-up").touch())
    return tmp_path / "configs" / "instruments.toml"


@pytest.fixture
def offered(monkeypatch: pytest.MonkeyPatch) -> Offered:
    """Makes the offer at a terminal, where something has been typed; gives what was shown."""
    if not hasattr(os, "openpty"):
        pytest.skip("needs pseudo-terminals")

    def offered(typed: str) -> str:
        outside, inside = os.openpty()
        with (
            os.fdopen(inside, "r", encoding="utf-8") as read,
            os.fdopen(inside, "w", encoding="utf-8", closefd=False) as shown,
            monkeypatch.context() as patch,
        ):
            for name, stream in (("stdin", read), ("stdout", shown), ("stderr", shown)):
                patch.setattr(sys, name, stream)
            os.write(outside, typed.encode())
            offer_setup()
            shown.write("END")
            shown.flush()
            text = ""
            while "END" not in text:  # what was typed is echoed sooner or later, even after it
                text += os.read(outside, 4096).decode()
        os.close(outside)
        return text.partition("END")[0].removeprefix(typed.replace("\n", "\r\n"))

    return offered


def test_enter_plays_at_once_and_it_is_never_offered_again(own: Path, offered: Offered) -> None:
    said = offered("\n").strip()  # the terminal echoes Enter, sooner or later
    assert said and "\n" not in said, "one line"
    assert own.read_text() == NOTHING_YET and not (own.parents[1] / "was-set-up").exists()
    assert offered("s\n") == "" and not (own.parents[1] / "was-set-up").exists(), "nobody was asked"


@pytest.mark.parametrize(("typed", "sets_up"), [("s", True), ("S", True), ("setup", True), ("y", True), ("no", False)])
def test_s_sets_it_up(own: Path, offered: Offered, typed: str, sets_up: bool) -> None:
    offered(f"{typed}\n")
    assert (own.parents[1] / "was-set-up").exists() is sets_up and own.exists() is not sets_up


def test_the_offer_stands_for_as_long_as_it_takes_to_read_it(
    own: Path, offered: Offered, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    waited: list[float] = []
    monkeypatch.setenv("COMPANION_DATA", str(own.parents[1]))
    monkeypatch.setattr(setup, "line_typed_within", waited.append)
    offered("")
    assert waited == [8.0] and not own.exists()


def test_whoever_is_at_the_piano_and_answers_nothing_plays_and_is_asked_next_time(own: Path, offered: Offered) -> None:
    offer_setup()
    assert not own.exists() and not (own.parents[1] / "was-set-up").exists()


def test_a_file_of_the_players_own_is_answer_enough(own: Path, offered: Offered) -> None:
    own.parent.mkdir()
    own.write_text("listen = [1]\n")
    offered("s\n")
    assert own.read_text() == "listen = [1]\n" and not (own.parents[1] / "was-set-up").exists()


def test_after_a_set_up_it_is_said_what_to_play(own: Path, run: Run, tmp_path: Path) -> None:
    ferry = "ferry-without-lights"
    assert run("setup") == (0, f"next: companion play {ferry}, or companion drill {ferry}\n", "")
    more = f" --data {tmp_path}"
    assert (
        run("setup", "--data", tmp_path)[1] == f"next: companion play {ferry}{more}, or companion drill {ferry}{more}\n"
    )


def test_what_is_typed_goes_to_the_set_up_and_where_nothing_more_can_come_it_stops(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    wants_more: list[bool] = []
    heard: list[object] = []

    @contextmanager
    def typed_lines(take: Callable[[str], bool]) -> Iterator[bool]:
        wants_more.extend(take(line) for line in ("  Yes \n", "\n", ""))
        yield True

    def set_up(say: Callable[[str], None], inbox: SimpleQueue[object], midi: str | None, *, typing: bool) -> None:
        heard.extend([midi, typing, *(inbox.get_nowait() for _ in range(inbox.qsize()))])
        say("a line")

    monkeypatch.setattr(setup, "typed_lines", typed_lines)
    monkeypatch.setattr("companion.stage.setting_up.set_up", set_up)
    setup.set_up_here("jack")
    assert wants_more == [True, True, False]
    assert heard == ["jack", True, Typed(0.0, "yes"), Typed(0.0, ""), Stop("interrupted")]
    assert capsys.readouterr().out.splitlines() == ["looking for your piano ...", "a line"]


def test_a_script_never_meets_it(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    offer_setup()
    assert capsys.readouterr() == ("", "") and not own.exists()


def test_without_an_instrument_it_is_one_line(
    run: Run, one_line: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "there-is-none")
    status, _, err = run("setup", "--midi", "jack")
    assert status == 3 and "not running" in one_line(err)
