"""How late messages are sent: ``python tests/benchmarks/sending.py [SECONDS]``.

The sender process gets orders 4 ms ahead, as from a rehearsal, and tells for each message by how much it left later
than it was due. Four runs: on a free machine and with every core kept busy, each with real-time priority (where it is
granted) and without. What this process is itself late by is not counted. Then, on both machines, a whole companion
with both priorities, alone and with its page open in a browser that redraws it (Debian's chromium; left out where there
is none): what its take says, with the lateness of its rehearsal in it.

Output over a JACK server with the dummy driver, started here (Debian's jackd2). Milliseconds.
"""

from __future__ import annotations

import ctypes
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, nullcontext

LEAD = 0.004
"""Seconds from an order to its moment."""
BUSY = "x = 0\nwhile True: x += 1"


def main(seconds: float = 10.0) -> None:
    if not shutil.which("jackd"):
        sys.exit("this needs jackd (Debian: apt install jackd2)")
    with jack() as port:
        print(f"{'':34}{'sent':>6}{'median':>9}{'p99':>9}{'worst':>9}   (ms late)")
        for busy in (False, True):
            for realtime in (True, False):
                with ExitStack() as stack:
                    if busy:
                        stack.enter_context(busy_cores())
                    measure(port, realtime, busy, seconds)
        for busy in (False, True):
            with busy_cores() if busy else nullcontext():
                for realtime in (True, False):
                    measure_companion(realtime, busy, seconds)
                    if shutil.which("chromium"):
                        measure_companion(realtime, busy, seconds, page=True)


def measure_companion(realtime: bool, busy: bool, seconds: float, *, page: bool = False) -> None:
    """A companion that keeps steady time under long notes of the player's, in the words of its take."""
    from companion.ports.binding import binding

    words = ["play", "ferry-without-lights", "--in", "upright", "--out", "upright", "--time", "steady"]
    keys = binding().talker("jack", "upright-keys")
    keys.handle.open_virtual_port("keys")
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    shown = ["--stand", "--no-open", "--page-port", str(port)] if page else []
    with tempfile.TemporaryDirectory() as data, ExitStack() as stack:
        companion = subprocess.Popen(
            [sys.executable, "-m", "companion", *words, *shown, "--count-in", "1", "--data", data, "--midi", "jack"],
            preexec_fn=None if realtime else refuse_priority,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        time.sleep(4.0)
        if page:
            stack.enter_context(browser(f"http://127.0.0.1:{port}/"))
        time.sleep(4.0)
        for _ in range(max(1, round(seconds))):  # more than once: on a busy machine it may not listen yet
            keys.send((0x90, 72, 64))
            time.sleep(2.0)
            keys.send((0x80, 72, 64))
        companion.send_signal(signal.SIGINT)
        companion.communicate()
        told = [sys.executable, "-m", "companion", "take", "show", "last", "--data", data]
        said = subprocess.run(told, capture_output=True, text=True, check=True).stdout.splitlines()
    keys.release()
    how = "real-time priority" if realtime else "ordinary priority"
    how += ", its page redrawing" if page else ""
    machine = "all cores busy" if busy else "free machine"
    print(f"whole companion, {machine}, {how}:", *[line for line in said if "percentile" in line])


def refuse_priority() -> None:
    """In a child about to start: it can't have real-time priority (prctl PR_CAPBSET_DROP, CAP_SYS_NICE)."""
    ctypes.CDLL(None).prctl(24, 23)


def measure(port: str, realtime: bool, busy: bool, seconds: float) -> None:
    from companion.stage.clock import now
    from companion.stage.link import SenderLink
    from companion.stage.wire import SenderWords

    link = SenderLink(SenderWords("jack", port, (0,), realtime=realtime), lambda notice: None)
    dice, begin, n = random.Random(1), now() + 0.2, 0
    moment = begin
    while moment < begin + seconds:
        moment += dice.choice((0.02, 0.05, 0.0, 0.033))
        time.sleep(max(0.0, moment - LEAD - now()))
        # What this process is itself late by is no lateness of the sender's: the order is then due LEAD from now.
        moment = max(moment, now() + LEAD / 2)
        link.order(moment, (0x90 if n % 2 == 0 else 0x80, 40 + n // 2 % 16, 64))
        n += 1
    figures = link.end()
    how = "real-time priority" if link.realtime else "refused" if realtime else "ordinary priority"
    name = f"{'all cores busy' if busy else 'free machine'}, {how}"
    print(f"{name:34}{figures['sent']:6}{figures['median_ms']:9.3f}{figures['p99_ms']:9.3f}{figures['worst_ms']:9.3f}")


@contextmanager
def browser(url: str) -> Iterator[None]:
    """A browser without a window that shows a page; a session of its own, as every program of the desktop's is."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        words = [
            "chromium",
            "--headless",
            "--no-sandbox",
            "--remote-debugging-port=0",
            f"--user-data-dir={profile}",
            url,
        ]
        shown = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
        try:
            yield
        finally:
            os.killpg(shown.pid, signal.SIGKILL)
            shown.wait()


@contextmanager
def busy_cores() -> Iterator[None]:
    # Each in a session of its own, as other programs are: Linux shares the cores between sessions first.
    words = [sys.executable, "-c", BUSY]
    workers = [subprocess.Popen(words, start_new_session=True) for _ in range(os.cpu_count() or 1)]
    time.sleep(0.3)
    try:
        yield
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()


@contextmanager
def jack() -> Iterator[str]:
    """A JACK server with an instrument on it; the instrument's port."""
    name = f"companion-sending-{os.getpid()}"
    os.environ.update(JACK_DEFAULT_SERVER=name, JACK_NO_START_SERVER="1")
    words = ["jackd", "--no-realtime", "--no-mlock", "--sync", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        subprocess.run(["jack_wait", "-s", name, "-w", "-t", "20"], check=True, stdout=subprocess.DEVNULL)
        from companion.ports.binding import binding

        ears = binding().listener("jack", "upright")
        ears.listen(lambda delta, message: None)
        ears.handle.open_virtual_port("ears")
        yield "upright:ears"
        ears.unlisten()
        ears.close()
        ears.release()
    finally:
        server.terminate()
        server.wait(10)


if __name__ == "__main__":
    main(*map(float, sys.argv[1:]))
