"""What is on the stand: which tune, who plays it, and the demo that the page starts.

Conventions: called from the server's worker threads and from the threads that listen to players; :class:`MusicStand`
keeps its own order among them.
"""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from companion.errors import CompanionError, UseError
from companion.load import load
from companion.messages import Part, WishName
from companion.page.demo_player import DemoWords
from companion.page.drawing import tune_in_short
from companion.page.how import AS_WRITTEN, DrillAsked, How, PianoWords
from companion.page.hub import Hub
from companion.page.outgoing import AnyOutgoing, OnTheStand, Over, TreatedTold
from companion.page.players import OwnPlayer, PlayerLines
from companion.page.port_stream import PortStream
from companion.resources import chart_names, chart_path

Asks = Callable[[WishName, tuple[str, str] | None], None]
"""Asks a player for something."""
DEMO, PIANO = "companion.page.demo_player", "companion.page.piano_player"


@dataclass(frozen=True)
class ChartOffered:
    """A chart that can be chosen."""

    name: str
    path: Path


class MusicStand:
    """The state behind every page.

    Parameters
    ----------
    hub : Hub
        What tells the pages.
    given : path, optional
        A chart that was named when the stand was set up; it may lie anywhere.
    wish : callable, optional
        Hands wishes to the player process that started the page; without one the page starts demos.
    """

    def __init__(self, hub: Hub, given: Path | None = None, wish: Asks | None = None):
        self.hub = hub
        self._given, self._wish = given, wish
        self._ports = PortStream(self._is_free)
        self._lock = threading.Lock()
        self._player: OwnPlayer | None = None
        self._number = 0
        self._now: OnTheStand | None = None
        if wish is None:
            hub.first(Over(chooses=True))

    @property
    def chooses(self) -> bool:
        """Whether a tune can be chosen here; not beside a player process that has chosen."""
        return self._wish is None

    @property
    def now(self) -> OnTheStand:
        """What is played, or was last. Raises UseError when nothing is."""
        if self._now is None:
            raise UseError("nothing is on the stand", mend="choose a chart")
        return self._now

    # What players say

    def put(self, what: OnTheStand) -> None:
        """Something is on the stand from now on."""
        self._now = what
        self.hub.tell(what.begun)

    def told(self, message: AnyOutgoing) -> None:
        """A player says what happens."""
        if isinstance(message, Over):
            message = Over(message.why, self.chooses, message.take)
        if isinstance(message, TreatedTold) and self._now is not None:
            self._now = msgspec.structs.replace(self._now, treated=tuple(sorted(message.sections.items())))
        self.hub.tell(message)

    # What pages ask for

    def wish(self, name: WishName, value: tuple[str, str] | None = None) -> None:
        """Ask whoever plays for something."""
        if self._wish is not None:
            self._wish(name, value)
            return
        with self._lock:
            player = self._player
        if player is not None:
            player.wishes.wish(name, value)

    def demo(self, name: str, you: tuple[Part, ...], how: How = AS_WRITTEN) -> None:
        """Let the built-in pianist play a chart; what is being played ends.

        Raises
        ------
        UseError
            This page goes with a player process, or there is no such chart to choose.
        """
        path = str(self.path_of(name))
        self._begin(DEMO, lambda number: DemoWords(path, number, you, how))

    def piano(self, name: str, you: tuple[Part, ...], how: How, drill: DrillAsked | None) -> None:
        """Play with whoever sits at the piano, or drill some bars with them; as :meth:`demo`."""
        path = str(self.path_of(name))
        self._begin(PIANO, lambda number: PianoWords(path, number, you, how, drill))

    def _begin(self, module: str, words: Callable[[int], msgspec.Struct]) -> None:
        if not self.chooses:
            raise UseError("the page shows what is played at the piano", mend="start it with: companion stand")
        with self._lock:
            self._end()
            self._ports.release()
            self._number += 1
            player = self._player = OwnPlayer(module, msgspec.json.encode(words(self._number)).decode())

        over = False

        def ended() -> None:
            if self._player is player and not over:  # it died without a word
                self.hub.tell(Over(chooses=True))

        def told(message: AnyOutgoing) -> None:
            nonlocal over
            if self._player is player:
                over = over or isinstance(message, Over)
                self.told(message)

        PlayerLines(player.lines, self.put, told, ended)

    def listen(self) -> AsyncIterator[bytes]:
        """What is pressed at any keyboard, as server-sent events; while something is played, that it is."""
        return self._ports.stream()

    def _is_free(self) -> bool:
        with self._lock:  # or somebody is about to play
            return self.chooses and (self._player is None or not self._player.plays)

    def close(self) -> None:
        """End what the page started, and let go of the ports."""
        self._ports.release()
        self.stop()

    def stop(self) -> None:
        """End what the page started."""
        with self._lock:
            self._end()

    def _end(self) -> None:
        player, self._player = self._player, None
        if player is not None:
            player.end()
            self.hub.tell(Over(chooses=True))

    # Charts

    def choices(self) -> list[dict[str, Any]]:
        """The charts to choose from, in short; those that can't be read say why."""
        return [
            {"name": choice.name, **_in_short(choice.path, _changed(choice.path))}
            for choice in self._choices().values()
        ]

    def path_of(self, name: str) -> Path:
        """The file of a chart that can be chosen, by its name alone: a page names no paths. Raises UseError."""
        choice = self._choices().get(name)
        if choice is None:
            raise UseError(f"there is no chart '{name}' to choose")
        return choice.path

    def _choices(self) -> dict[str, ChartOffered]:
        names = {name: ChartOffered(name, chart_path(name)) for name in chart_names()}
        if self._given is None:
            return names
        known = next((one for one in names.values() if one.path.resolve() == self._given.resolve()), None)
        given = known or ChartOffered(self._given.name, self._given)
        return {given.name: given, **{name: one for name, one in names.items() if one != known}}


def _changed(path: Path) -> int:
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return 0


@lru_cache(maxsize=1000)
def _in_short(path: Path, changed: int) -> dict[str, Any]:
    """A chart in short, read again when its file has changed."""
    try:
        return tune_in_short(load(path))
    except CompanionError as error:
        return {"title": path.stem, "fault": str(error)}
