"""What all tests share: a data folder of their own, hypothesis without deadlines, charts and an exact pianist,
instruments over JACK."""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from companion.load import load
from companion.resources import DATA_VARIABLE, chart_names, chart_path
from companion.stage.priority import is_granted

if TYPE_CHECKING:
    from companion.chart.imported import Imported
    from companion.chart.model import Chart
    from companion.messages import Heard

pytest_plugins = ["processes"]

settings.register_profile("usual", deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("usual"), derandomize=True, print_blob=True)
settings.register_profile("long", settings.get_profile("usual"), max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "usual"))


def pytest_configure(config: pytest.Config) -> None:
    """No test sees or changes what belongs to whoever runs it, not even while tests are being collected.

    Processes that a test starts inherit this.
    """
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        # So a script starts what runs in its background. These tests go on as well, but what they start can be ended.
        signal.signal(signal.SIGINT, lambda *_: None)
    folder = tempfile.TemporaryDirectory(prefix="companion-tests-")
    patch = pytest.MonkeyPatch()
    patch.setenv(DATA_VARIABLE, folder.name)
    patch.delenv("COMPANION_DEBUG", raising=False)
    if os.environ.get("PYTHONDONTWRITEBYTECODE") and not config.getoption("numprocesses", None):
        # What hundreds of processes import is compiled once for all of them, in a folder that goes with the tests.
        patch.delenv("PYTHONDONTWRITEBYTECODE")
        shared = getattr(config, "workerinput", {}).get("real_time")  # of several processes: see processes.py
        everybodys = Path(shared).parent if shared else Path(folder.name)
        patch.setenv("PYTHONPYCACHEPREFIX", str(everybodys / "bytecode"))
    config.add_cleanup(patch.undo)
    config.add_cleanup(folder.cleanup)


class Stand:
    """Charts on the music stand, and a pianist who plays their melody exactly as told."""

    TEN = ("| Cmaj7 | Em7 A7 | Dm7 | G7 | Am7 | F#m7b5 B7 | Dm7 G7 | Cmaj7 |",
           "| C2 E2 G3 A | B2 A2 G4 | F2 A2 c3 d | e4 d4 | A2 c2 e3 d | c2 B2 A4 | G2 B2 d3 c | B4 z4 |")  # fmt: skip
    """Eight bars of our own, chords and melody: no two bars alike."""
    ANSWER = ("| Am7 | % | Dm7 | G7 | Em7 | A7 | Dm7 G7 | Cmaj7 |",
              "| g3 f e2 d2 | c6 z2 | f3 e d2 c2 | B6 z2 | e3 d c2 B2 | A2 ^G2 A4 | D2 F2 A2 c2 | B4 z4 |")  # fmt: skip

    def chart(self, *sections: tuple[str, str], **head: object) -> Chart:
        """A chart of sections A, B ..., each its chords and its melody ('' for none); ``head`` as in a chart file."""
        from companion.chart.toml.read import parse_toml

        letters = "ABCDEFGH"[: len(sections)]
        top = {"title": "Ten to Ten", "key": "C", "metre": "4/4", "tempo": 120, "feel": "swing"} | head
        text = "format = 1\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in top.items())
        text += f"form = {json.dumps(' '.join(letters))}\n" if "form" not in head else ""
        for letter, (chords, melody) in zip(letters, sections, strict=True):
            text += f"[section.{letter}]\n" + (f"chords = {json.dumps(chords)}\n" if chords else "")
            text += f"melody = {json.dumps(melody)}\n" if melody else ""
        return parse_toml(text)

    def tune(self, **head: object) -> Chart:
        """Sixteen bars: the eight and their answer."""
        return self.chart(self.TEN, self.ANSWER, **head)

    def strike(self, seconds: float, midi: int, length: float = 0.2, velocity: int = 64) -> list[Heard]:
        """A key goes down and up again."""
        from companion.messages import Heard

        return [Heard(seconds, 0x90, midi, velocity), Heard(seconds + length, 0x80, midi, 0)]

    def melody(self, chart: Chart, *stretches: tuple[float, float, float, float], velocity: int = 64) -> list[Heard]:
        """The melody as written, swung: stretches of (seconds, from beat, up to beat, quarters a minute).

        Beats go on through the choruses; a pickup lies before the beat it leads to.
        """
        from companion.music.swing import swing_ratio, to_sounding

        form = chart.unfold()
        length, heard = float(form.length), []
        for seconds, first, last, tempo in stretches:
            even = form.metre.compound or form.feel == "straight"
            ratio = 1.0 if even else swing_ratio(tempo)
            notes = [
                (float(note.beat) + n * length, note)
                for n in range(int(first // length), int(last // length) + 2)
                for note in form.melody
            ]
            for beat, note in notes:
                if first - 1e-9 <= beat < last - 1e-9:
                    at = seconds + (to_sounding(beat, ratio) - first) * 60 / tempo
                    heard += self.strike(at, note.pitch.midi, 0.85 * float(note.length) * 60 / tempo, velocity)
        return in_time(heard)


def in_time(heard: Iterable[Heard]) -> list[Heard]:
    """In order of time; of a note that ends when the next begins the end comes first."""
    return sorted(heard, key=lambda h: (h.seconds, h.status))


@pytest.fixture(scope="session")
def stand() -> Stand:
    """Charts, and an exact pianist."""
    return Stand()


@pytest.fixture(params=chart_names())
def shipped(request: pytest.FixtureRequest) -> Chart:
    """Each chart that is shipped."""
    return load(chart_path(request.param))


@pytest.fixture
def ferry() -> Chart:
    return load(chart_path("ferry-without-lights"))


@pytest.fixture
def from_abc(tmp_path: Path) -> Callable[..., Imported]:
    """Imports a text in ABC; choices as for ``import_abc``."""
    from companion.chart.abc.tune import import_abc

    def read(text: str, **choice: object) -> Imported:
        path = tmp_path / "trial.abc"
        path.write_text(text, encoding="utf-8")
        return import_abc(path, **choice)  # type: ignore[arg-type]

    return read


class Instrument:
    """A keyboard with sound, as the companion sees it over JACK: keys to play, and ears for what it is sent.

    What comes in is kept in ``received`` as (seconds by ``time.perf_counter``, message).
    """

    def __init__(self, name: str):
        from companion.ports.binding import binding

        self.name = name
        self._lock = threading.Lock()
        self._keys = binding().talker("jack", name)
        self._keys.handle.open_virtual_port("keys")
        self._ears = binding().listener("jack", name)
        self.received: list[tuple[float, list[int]]] = []
        self._ears.listen(lambda _, message: self.received.append((time.perf_counter(), list(message))), sysex=True)
        self._ears.handle.open_virtual_port("ears")
        self._ports = [self._keys, self._ears]

    def play(self, *message: int) -> None:
        with self._lock:
            if self._ports:  # sending on a closed port would crash
                self._keys.send(message)

    def notes_on(self) -> list[int]:
        """MIDI numbers of what it has been told to sound."""
        return [m[1] for _, m in self.received if m[0] & 0xF0 == 0x90 and m[2] > 0]

    def sounding(self) -> set[tuple[int, int]]:
        """Channel and MIDI number of each note that was begun and not ended, note-offs alone counted."""
        on: set[tuple[int, int]] = set()
        for _, message in list(self.received):
            kind, channel = message[0] & 0xF0, message[0] & 0x0F
            if kind == 0x90 and message[2] > 0:
                on.add((channel, message[1]))
            elif kind in (0x80, 0x90):
                on.discard((channel, message[1]))
        return on

    def close(self) -> None:
        with self._lock:
            ports, self._ports = self._ports, []
        # RtMidi crashes when a port closes with messages still to go, or while a period is under way in another thread.
        time.sleep(0.15)
        if ports:
            self._ears.unlisten()
        for port in ports:
            port.close()
        time.sleep(0.1)
        for port in ports:
            port.release()


class Terminal:
    """A pseudo-terminal; ``screen`` is what a program writes to."""

    def __init__(self) -> None:
        self._outside, inside = os.openpty()
        self.screen = os.fdopen(inside, "w", encoding="utf-8")

    def resize(self, lines: int, columns: int) -> None:
        """Give it a size, as who pulls at its corner."""
        import termios  # where there are such terminals

        termios.tcsetwinsize(self.screen.fileno(), (lines, columns))

    def shown(self) -> str:
        """All that was written to it, which ends it: a single read may give less."""
        self.screen.close()
        shown = b""
        with contextlib.suppress(OSError):  # EIO: there is no more
            while more := os.read(self._outside, 1 << 16):
                shown += more
        os.close(self._outside)
        return shown.decode()


@pytest.fixture
def terminal() -> Terminal:
    """A pseudo-terminal of its own."""
    if not hasattr(os, "openpty"):
        pytest.skip("needs pseudo-terminals")
    return Terminal()


def end_with_parent() -> None:
    """In a child about to start: have Linux end it when its parent dies (prctl PR_SET_PDEATHSIG)."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGTERM)


@pytest.fixture(scope="session")
def jack_server() -> Iterator[str]:
    """A JACK server with the dummy driver: real MIDI ports on a machine that has none. Its name."""
    from processes import JACK_PRIORITY  # a plugin: it is loaded before its text may be imported

    if not shutil.which("jackd"):
        pytest.skip("jackd is not installed (Debian: apt install jackd2)")
    name = f"companion-tests-{os.getpid()}"
    with pytest.MonkeyPatch.context() as patch:
        if int(os.environ.get("PYTEST_XDIST_WORKER", "gw0")[2:]) % 2:
            # Where two processes of tests have a server each: a client listens at a socket named for itself and its
            # user alone, and one of its name at another server takes that away. In this mode the user isn't named.
            patch.setenv("JACK_PROMISCUOUS_SERVER", str(os.getgid()))
        patch.setenv("JACK_DEFAULT_SERVER", name)
        patch.setenv("JACK_NO_START_SERVER", "1")
        patch.setenv("COMPANION_MIDI", "jack")
        # --sync: otherwise a message is lost whenever a busy machine makes a client late for its period.
        # It waits for a client that was killed, too: twenty times as many milliseconds as it is told.
        # Where it may, it and its clients go before everything else that runs on the machine.
        first = ["--realtime", "--realtime-priority", str(JACK_PRIORITY)]
        how = first if is_granted(JACK_PRIORITY) else ["--no-realtime"]
        words = ["jackd", *how, "--no-mlock", "--sync", "--timeout", "50", "-n", name]
        words += ["-d", "dummy", "-r", "48000", "-p", "64"]
        server = subprocess.Popen(
            words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, preexec_fn=end_with_parent
        )
        try:
            subprocess.run(["jack_wait", "-s", name, "-w", "-t", "20"], check=True, stdout=subprocess.DEVNULL)
            yield name
        finally:
            server.terminate()
            server.wait(10)


@pytest.fixture
def instrument(jack_server: str) -> Iterator[Callable[[str], Instrument]]:
    """Makes instruments; they are unplugged after the test."""
    made: list[Instrument] = []

    def make(name: str = "upright") -> Instrument:
        made.append(Instrument(name))
        return made[-1]

    yield make
    for one in made:
        one.close()
