"""The loop of the player process over real ports: instruments that go and come back, choruses that can't be arranged,
reports and wishes."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from io import StringIO
from itertools import pairwise
from pathlib import Path
from queue import SimpleQueue

import pytest

from companion.chart.toml.read import parse_toml
from companion.errors import ConfigError
from companion.messages import Beat, Heard, Order, State, Step, Wish
from companion.stage.live import play
from companion.stage.settings import Settings
from companion.stage.take import list_takes
from tests.stage.running import BEAT, CHART, MELODY, in_thread, wait_for

pytestmark = pytest.mark.jack


def test_an_unplugged_instrument_is_waited_for_and_goes_on_when_it_is_back(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    piano.close()
    assert companion.hears("upright:keys is gone; plug it in again", "upright-01:ears is gone")
    again = instrument()
    assert companion.hears("upright:keys is back", "upright-01:ears is back")
    before = len(again.notes_on())
    again.play(0x90, 74, 80)
    assert wait_for(lambda: len(again.notes_on()) > before + 3)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert again.sounding() == set()
    [take] = list_takes(companion.data)
    heard = take.heard()
    assert [h.data1 for h in heard if h.is_note_on] == [72, 74]
    assert (0x80, 72) in [(h.status, h.data1) for h in heard]  # a key that was down when it went isn't held for ever


def test_a_companion_that_was_stopped_leaves_no_note_and_plays_nothing_old_when_it_goes_on(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(lambda: len(piano.notes_on()) > 5)
    companion.signal(signal.SIGSTOP)
    assert wait_for(lambda: piano.sounding() == set(), 4.0)
    time.sleep(2.0)
    stopped = len(piano.notes_on())
    assert piano.sounding() == set()
    companion.signal(signal.SIGCONT)
    went_on = time.perf_counter()
    assert wait_for(lambda: len(piano.notes_on()) > stopped + 5)
    struck = [seconds for seconds, m in piano.received if m[0] & 0xF0 == 0x90 and m[2] and seconds > went_on]
    assert min(b - a for a, b in zip(struck, struck[2:], strict=False)) > 0.2  # one every fifth of a second, no burst
    assert companion.hears("the companion stood still for")
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    assert "not played any more" in companion.said


AGAIN = "upright:keys was cut off for a moment", "upright-01:ears was cut off for a moment"


def test_an_instrument_that_is_away_for_a_moment_is_connected_again(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    time.sleep(1.2)  # it has looked once, and found all well
    piano.close()  # takes a quarter of a second
    again = instrument()
    # It looks once a second: mostly it sees no more than that the connections are gone, sometimes the gap itself.
    for cut in AGAIN:
        back = cut.replace("was cut off for a moment", "is back")
        assert wait_for(lambda cut=cut, back=back: cut in companion.said or back in companion.said), companion.said
    again.play(0x90, 74, 80)
    before = len(again.notes_on())
    assert wait_for(lambda: len(again.notes_on()) > before + 3)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert again.sounding() == set()
    [take] = list_takes(companion.data)
    heard = take.heard()
    assert [h.data1 for h in heard if h.is_note_on] == [72, 74]
    assert (0x80, 72) in [(h.status, h.data1) for h in heard]


def test_connections_that_are_cut_while_the_ports_stay_are_made_again(instrument, start, jack_server):
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    ours = subprocess.run(
        ["jack_lsp", "-s", jack_server, "-c", "upright"], check=True, capture_output=True, text=True
    ).stdout.split()
    for port, other in pairwise(ours):
        if port.startswith("upright") and other.startswith("companion"):
            ends = (port, other) if port.endswith("keys") else (other, port)
            subprocess.run(["jack_disconnect", "-s", jack_server, *ends], check=True, stdout=subprocess.DEVNULL)
    assert companion.hears(*AGAIN)
    time.sleep(0.2)  # JACK makes a connection between two periods
    before = len(piano.notes_on())
    piano.play(0x90, 74, 80)
    assert wait_for(lambda: len(piano.notes_on()) > before + 3)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    [take] = list_takes(companion.data)
    assert [h.data1 for h in take.heard() if h.is_note_on] == [72, 74]


def test_an_instrument_that_stays_away_is_given_up_with_the_take_kept(instrument, start, configure):
    configure("give-up-after-s = 60", "give-up-after-s = 1")
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    piano.close()
    assert companion.ends() == 3
    assert re.fullmatch(r"companion: upright.* went away; plug it in and start again", companion.said.splitlines()[-1])
    assert [take.how for take in list_takes(companion.data)] == ["lost"]


def test_a_midi_service_that_dies_ends_it_with_one_line_and_the_take_kept(start, configure, tmp_path):
    program = f"""
import json, os, signal, subprocess, sys, time
sys.path.insert(0, {str(Path(__file__).parents[1])!r})
name = f"companion-dies-{{os.getpid()}}"
os.environ["JACK_DEFAULT_SERVER"] = name
words = ["jackd", "--no-realtime", "--no-mlock", "--sync", "-n", name, "-d", "dummy", "-r", "48000", "-p", "64"]
server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
subprocess.run(["jack_wait", "-s", name, "-w", "-t", "20"], check=True, stdout=subprocess.DEVNULL)
from conftest import Instrument
piano = Instrument("upright")
companion = subprocess.Popen([sys.executable, *sys.argv[1:]], stderr=subprocess.PIPE, text=True)
while not piano.sounding() and companion.poll() is None:
    time.sleep(0.05)
piano.play(0x90, 72, 80)
time.sleep(0.5)
server.kill()
server.wait()
said = companion.communicate(timeout=30)[1]
# A killed server keeps its place among the few there can be, until one of its name has ended in order.
server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
time.sleep(0.7)
server.terminate()
server.wait()
print(json.dumps([companion.returncode, said]), flush=True)
os._exit(0)  # closing ports of a dead server would crash
"""
    configure("give-up-after-s = 60", "give-up-after-s = 1")
    stand_in, chart = tmp_path / "stand_in.py", tmp_path / "back-stairs.toml"
    environment = {**os.environ, "COMPANION_DATA": str(tmp_path / "data")}
    run = subprocess.run(
        [sys.executable, "-c", program, str(stand_in), str(chart)], capture_output=True, text=True, env=environment
    )
    status, said = json.loads(run.stdout.splitlines()[-1])
    assert status == 3, said
    assert "went away" in said.splitlines()[-1] and "Traceback" not in said
    assert "server" not in said.casefold()  # nothing of what the library prints by itself
    assert [take.how for take in list_takes(tmp_path / "data")] == ["lost"]


class Ending:
    """In the rehearsal's place: reports a beat for each wish, and the end after the third."""

    def __init__(self):
        self.wishes = []

    def advance(self, now, events):
        self.wishes += [e for e in events if isinstance(e, Wish)]
        beats = [Beat(float(len(self.wishes)), now, 0.9) for e in events if isinstance(e, Wish)]
        states = [State(now, "ended")] if len(self.wishes) >= 3 else []
        return Step((), (*beats, *states), None)

    def prepare(self, chorus):
        pass

    def finish(self, now):
        return Step((), (), None)


def test_reports_reach_whoever_watches_and_their_wishes_come_in(instrument, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    instrument()
    seen, wishes, rehearsal, ended, screen = [], SimpleQueue(), Ending(), [], StringIO()

    def perform():
        more = {"watch": [seen.append], "wishes": wishes, "screen": screen}
        ended.append(play(parse_toml(CHART), Settings(), rehearsal=rehearsal, **more))

    playing = in_thread(perform)
    for name in ("again", "keep", "again"):
        wishes.put(Wish(0.0, name))
    playing.join(20)
    assert len(ended) == 1  # it came to its end by itself
    assert [type(report).__name__ for report in seen] == ["Beat"] * 3 + ["State"]
    moments = [wish.seconds for wish in rehearsal.wishes]
    assert all(moment > 0 for moment in moments) and moments == sorted(moments)
    assert screen.getvalue().count("this take is marked to be kept") == 1
    assert "no note of yours was heard" in capsys.readouterr().out


FIRST_HALF = re.sub(r"\n\| (Cm7 \| Ab|G2 e2 d2 c2 \| e2).*", "", CHART)
"""The chart's first four bars."""


def play_until_it_ends(piano, ends):
    """Play the first half of the melody round and round until the companion is over."""
    n = 0
    while not ends.is_set() and n < 400:
        if note := MELODY[n % 16]:
            piano.play(0x90, note, 80)
            time.sleep(0.1)
            piano.play(0x80, note, 64)
        time.sleep(BEAT - (0.1 if note else 0.0))
        n += 1


@pytest.mark.parametrize("where", ["ahead", "at its moment"])
def test_a_chorus_that_cannot_be_arranged_is_one_error_and_a_take_that_is_kept(
    where, instrument, tmp_path, monkeypatch, capfd, break_from
):
    """In the thread that prepares it, or in the loop that needs it before it is prepared."""
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    fault = ConfigError("no chord fits", file="treatments-mine.toml", where="[mine]", mend="take another family")
    piano, raised, ends, chart = instrument(), [], threading.Event(), parse_toml(FIRST_HALF)
    settings = Settings(tempo=200.0, start=2.0, count_in=1)
    if where == "at its moment":
        monkeypatch.setattr("companion.stage.loop.Ahead.ask", lambda ahead, work: None)
    break_from(3, fault)

    def perform():
        try:
            play(chart, settings, screen=StringIO())
        except ConfigError as error:
            raised.append(error)
        finally:
            ends.set()

    playing = in_thread(perform)
    play_until_it_ends(piano, ends)
    playing.join(20)
    assert raised == [fault]
    assert piano.sounding() == set()
    [take] = list_takes(tmp_path)
    assert take.how == "lost" and any(heard.is_note_on for heard in take.heard())
    if where == "at its moment":
        assert piano.notes_on() and len(take.beats) > 8, "most of a chorus of 16 beats"
    printed = capfd.readouterr()
    assert printed.err == "" and f"kept in {take.folder}" in printed.out


class Unprepared:
    """In the rehearsal's place: a beat for each wish, and a third chorus that can't be arranged."""

    def advance(self, now, events):
        orders = [Order(now + 0.02, "bass", 0x90, 40, 90)] if any(isinstance(e, Heard) for e in events) else []
        return Step(tuple(orders), tuple(Beat(0.0, now, 0.9) for e in events if isinstance(e, Wish)), None)

    def prepare(self, chorus):
        return (lambda: 1 / 0) if chorus > 2 else None

    def adopt(self, prepared):
        raise AssertionError("nothing was prepared")

    def finish(self, now):
        return Step((Order(now + 0.02, "bass", 0x80, 40, 64),), (State(now, "ended"),), None)


def test_a_chorus_that_cannot_be_prepared_ends_it_in_order_with_the_take_kept(instrument, tmp_path, monkeypatch, capfd):
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    piano, wishes, raised = instrument(), SimpleQueue(), []

    def perform():
        try:
            play(parse_toml(CHART), Settings(), rehearsal=Unprepared(), wishes=wishes, screen=StringIO())
        except ZeroDivisionError as error:
            raised.append(error)

    playing = in_thread(perform)
    assert wait_for(lambda: (piano.play(0x90, 72, 80), piano.notes_on())[1])
    wishes.put(Wish(0.0, "again"))
    playing.join(20)
    assert [str(error) for error in raised] == ["division by zero"]
    assert piano.sounding() == set()
    assert [take.how for take in list_takes(tmp_path)] == ["lost"]
    assert capfd.readouterr().err == ""
