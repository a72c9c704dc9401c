"""A running ``companion play`` over real ports: heard, answered, and silent however it ends."""

from __future__ import annotations

import json
import os
import re
import signal
import statistics
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
from companion.errors import ConfigError, UseError
from companion.messages import Beat, Heard, Order, State, Step, Wish
from companion.resources import shipped_folder
from companion.stage.journal import JOURNAL
from companion.stage.link import PATIENCE
from companion.stage.live import play
from companion.stage.replay import replay
from companion.stage.settings import Settings
from companion.stage.take import list_takes, read_take
from companion.stage.take_files import takes_folder

pytestmark = pytest.mark.jack

CHART = '''
format = 1
title = "Back Stairs"
key = "C minor"
metre = "4/4"
tempo = 200
feel = "swing"
form = "A"

[section.A]
treatment = "walking"
chords = """
| Cm7 | Fm7    | Dm7b5    | G7  |
| Cm7 | Abmaj7 | Dm7b5 G7 | Cm6 |
"""
melody = """
| G2 e2 d2 c2 | B2 A2 G4 | F2 A2 c2 d2 | B8 |
| G2 e2 d2 c2 | e2 c2 A4 | F2 A2 G2 B2 | c8 |
"""
'''
MELODY = [67, 75, 74, 72, 71, 68, 67, 0, 65, 68, 72, 74, 71, 0, 0, 0]
MELODY += [67, 75, 74, 72, 75, 72, 68, 0, 65, 68, 67, 71, 72, 0, 0, 0]
"""The chart's melody, a MIDI number a beat; 0 where a note is held."""
BEAT = 60 / 200

STAND_IN = '''
"""Plays a bass note every fifth of a second from the start, whatever it hears."""
import sys
from pathlib import Path
from companion.load import load
from companion.errors import CompanionError
from companion.messages import Beat, Order, State, Step
from companion.stage.link import PATIENCE
from companion.stage.live import play
from companion.stage.settings import Settings

class Metronomic:
    def __init__(self):
        self.next, self.on = 0.3, None
    def advance(self, now, events):
        orders, reports = [], []
        while self.next - 0.02 <= now:
            orders += [Order(self.next, "bass", 0x80, self.on, 64)] if self.on else []
            self.on = 41 if self.on == 40 else 40
            orders.append(Order(self.next, "bass", 0x90, self.on, 90))
            reports.append(Beat(round(5 * self.next) % 32, self.next, 0.9))
            self.next += 0.2
        return Step(tuple(orders), tuple(reports), self.next - 0.02)
    def prepare(self, chorus):
        pass
    def finish(self, now):
        return Step((Order(now + 0.02, "bass", 0x80, self.on or 40, 64),), (State(now, "ended"),), None)

try:
    play(load(Path(sys.argv[1])), Settings(), rehearsal=Metronomic())
except KeyboardInterrupt:
    sys.exit(130)
except CompanionError as error:
    print(f"companion: {error}", file=sys.stderr)
    sys.exit(error.exit_status)
'''


def wait_for(condition, seconds=15.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


class Running:
    """A companion that plays, and what it says."""

    def __init__(self, words: list[str], data: Path):
        self.data = data
        self.process = subprocess.Popen(
            [sys.executable, *words],
            env={**os.environ, "COMPANION_DATA": str(data), "TMPDIR": str(data.parent)},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.said = ""
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def _listen(self):
        for line in self.process.stderr:
            self.said += line

    def hears(self, *texts: str) -> bool:
        return wait_for(lambda: all(text in self.said for text in texts))

    def signal(self, number: int) -> None:
        self.process.send_signal(number)

    def sender(self) -> int:
        """Process number of its sender."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text().split()
        return int(children[0])

    def ends(self) -> int:
        """Wait for its end: the exit status."""
        status = self.process.wait(20)
        self._listener.join(5)
        self.account = self.process.stdout.read()
        assert "Traceback" not in self.said + self.account
        return status

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self._listener.join(5)
        self.process.stdout.close()
        self.process.stderr.close()


@pytest.fixture
def start(tmp_path, jack_server):
    """Starts companions: 'play' as a player would, or 'stand-in' with something plain in the rehearsal's place."""
    chart, stand_in, data = tmp_path / "back-stairs.toml", tmp_path / "stand_in.py", tmp_path / "data"
    chart.write_text(CHART)
    stand_in.write_text(STAND_IN)
    running = []

    def begin(kind: str, *words: str) -> Running:
        command = ["-m", "companion", "play"] if kind == "play" else [str(stand_in)]
        running.append(Running([*command, str(chart), *words], data))
        return running[-1]

    yield begin
    for companion in running:
        companion.close()


@pytest.fixture
def configure(tmp_path):
    """Changes a line of the shipped instruments.toml in the player's own."""

    def change(shipped: str, own: str) -> None:
        text = (shipped_folder() / "configs" / "instruments.toml").read_text()
        assert shipped in text
        place = tmp_path / "data" / "configs" / "instruments.toml"
        place.parent.mkdir(parents=True)
        place.write_text(text.replace(shipped, own))

    return change


def play_melody(piano, companion, notes=40):
    """Play the melody in time from now on, until so many beats are over or the companion is; the beats' moments."""
    beats = []
    begin = time.perf_counter() + 0.1
    for n in range(notes):
        time.sleep(max(0.0, begin + n * BEAT - time.perf_counter()))
        if companion.process.poll() is not None:
            break
        beats.append(time.perf_counter())
        if note := MELODY[n % 32]:
            piano.play(0x90, note, 80)
            time.sleep(0.1)
            piano.play(0x80, note, 64)
    return beats


def in_thread(function, *arguments):
    thread = threading.Thread(target=function, args=arguments, daemon=True)
    thread.start()
    return thread


def test_a_bass_walks_under_a_played_melody_and_ctrl_c_ends_it(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to upright:keys, playing on the same instrument")
    beats = play_melody(piano, companion)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    bass = [seconds for seconds, m in piano.received if m[0] & 0xF0 == 0x90 and m[2] and 28 <= m[1] <= 55]
    assert len(bass) > 20
    # With the player: from the third bar on the nearest bass note to a beat lies close to it.
    distance = [min(abs(beat - seconds) for seconds in bass) for beat in beats[12:]]
    assert statistics.median(distance) < 0.06
    assert re.search(r"Back Stairs: \d+ s, you played \d+ notes", companion.account)
    [take] = list_takes(companion.data)
    assert take.how == "interrupted" and take.title == "Back Stairs"
    assert sum(h.is_note_on for h in take.heard()) == sum(map(bool, (MELODY * 2)[:40]))
    assert len(take.beats) > 20 and str(take.folder) in companion.account
    # Whatever is heard live can be replayed from its take: the same beats, but for the file's half millisecond.
    chart, settings = take.rehearsed()
    again = [r for r in replay(chart, take.heard(), settings).reports if isinstance(r, Beat)]
    assert [beat.chart_beat for beat in again[:20]] == [beat.chart_beat for beat in take.beats[:20]]
    assert max(abs(a.seconds - b.seconds) for a, b in zip(again[:20], take.beats[:20], strict=True)) < 0.03


def test_sigterm_ends_it_in_order(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    playing = in_thread(play_melody, piano, companion, 60)
    assert wait_for(lambda: len(piano.notes_on()) > 6)
    companion.signal(signal.SIGTERM)
    assert companion.ends() == 0
    assert piano.sounding() == set()
    assert [take.how for take in list_takes(companion.data)] == ["stopped"]
    playing.join()


def test_signal_9_leaves_no_note_sounding_and_the_take_is_completed_later(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    playing = in_thread(play_melody, piano, companion, 60)
    assert wait_for(lambda: len(piano.notes_on()) > 12)
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGKILL)
    killed = time.perf_counter()
    assert companion.ends() == -signal.SIGKILL
    assert wait_for(lambda: piano.sounding() == set())
    playing.join()
    [take] = list_takes(companion.data)
    assert take.how == "interrupted"
    # What was played up to the last second is there (the take's clock starts a second before its first event).
    first = piano.received[0][0]
    assert take.seconds > killed - first - 1.0
    assert [h.data1 for h in take.heard() if h.is_note_on][:4] == MELODY[:4]


def test_a_killed_sender_ends_the_player_with_one_line_and_no_note_sounding(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    piano.play(0x90, 72, 80)
    time.sleep(0.3)
    os.kill(companion.sender(), signal.SIGKILL)
    assert companion.ends() == 3
    assert wait_for(lambda: piano.sounding() == set())
    assert companion.said.splitlines()[-1] == "companion: the process that sends the notes was ended; start again"
    assert [take.how for take in list_takes(companion.data)] == ["lost"]


def test_copies_of_our_notes_that_the_instrument_returns_are_not_the_players(instrument, start, configure):
    configure("echo-window-ms = 120", "echo-window-ms = 400")  # for an instrument that is a program on a busy machine
    piano = instrument()
    seen = 0
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    end = time.monotonic() + 2.5
    while time.monotonic() < end:
        for _, message in piano.received[seen:]:
            seen += 1
            piano.play(*message)
        time.sleep(0.002)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    [take] = list_takes(companion.data)
    assert [h.data1 for h in take.heard() if h.is_note_on] == [72]
    assert len(piano.notes_on()) > 5


def test_copies_that_come_later_than_expected_are_understood_and_leave_no_note_sounding(instrument, start):
    piano = instrument()
    seen = 0
    companion = start("stand-in")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    end = time.monotonic() + 4.0
    while time.monotonic() < end:
        for moment, message in piano.received[seen:]:
            if time.perf_counter() < moment + 0.16:
                break
            seen += 1
            piano.play(*message)
        time.sleep(0.002)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert piano.sounding() == set()
    [take] = list_takes(companion.data)
    heard = [h.data1 for h in take.heard() if h.is_note_on]
    assert heard.count(72) == 1 and len(heard) < 8, "two or three, until it is understood"
    assert len(piano.notes_on()) > 10


MALFORMED = [(0x90, 0x3C, 0xC8), (0xB0, 0x40, 0xFF), (0x90, 0xC8, 0x40)]
"""Data bytes over 127 (MIDI 1.0 has none), which any program can send over JACK."""


def test_messages_that_are_no_midi_end_nothing_and_are_counted_at_the_end(instrument, start):
    piano = instrument()
    companion = start("play", "--tempo", "200")
    assert companion.hears("listening to")
    piano.play(0x90, 72, 80)
    for message in MALFORMED:
        piano.play(*message)
    piano.play(0x80, 72, 64)
    piano.play(0x90, 74, 80)
    time.sleep(0.5)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert "3 messages that were no MIDI came from upright:keys, and nothing was made of them" in companion.said
    [take] = list_takes(companion.data)
    assert [h.data1 for h in take.heard() if h.is_note_on] == [72, 74]


def test_a_journal_that_can_not_be_read_keeps_nobody_from_playing(instrument, start, tmp_path):
    broken = takes_folder(tmp_path / "data") / "2026-01-01-200000-back-stairs"
    broken.mkdir(parents=True)
    (broken / JOURNAL).write_text('["take",{"format":99}]\n["heard",1.0,144,60,200]\n')
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("is set aside, all of it", "takes-set-aside")
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130


def test_a_take_that_can_not_be_kept_is_said_before_the_first_note_and_the_end_is_true(instrument, start, tmp_path):
    (tmp_path / "data").mkdir()
    takes_folder(tmp_path / "data").write_text("a file where the folder should be")
    piano = instrument()
    companion = start("stand-in")
    assert companion.hears("what you play can't be kept in", "listening to")
    piano.play(0x90, 72, 80)
    assert wait_for(piano.sounding)
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    said = re.search(r"could not be kept in \S+ \(.*\): copy it from (\S+) before", companion.said)
    assert f"kept in {said[1]}" in companion.account
    assert [h.data1 for h in read_take(Path(said[1])).heard()] == [72]


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


def test_ctrl_c_ends_a_companion_whose_sender_hangs_and_no_note_sounds_on(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    piano.play(0x90, 72, 80)
    time.sleep(0.3)
    sender = companion.sender()
    os.kill(sender, signal.SIGSTOP)
    began = time.monotonic()
    companion.signal(signal.SIGINT)
    assert companion.ends() == 130
    assert time.monotonic() - began < PATIENCE  # some two seconds, on a free machine
    assert wait_for(lambda: piano.sounding() == set(), 2.0)
    assert [take.how for take in list_takes(companion.data)] == ["interrupted"]


def test_what_sounds_when_everything_is_killed_at_once_is_silenced_at_the_next_start(instrument, start):
    piano = instrument()
    companion = start("stand-in")
    assert wait_for(piano.sounding)
    sender = companion.sender()
    os.kill(sender, signal.SIGSTOP)  # so that it can't silence anything in between
    os.kill(companion.process.pid, signal.SIGKILL)
    os.kill(sender, signal.SIGKILL)
    companion.ends()
    time.sleep(0.3)
    assert piano.sounding()
    again = start("stand-in")
    assert again.hears("the companion was killed last time")
    left = {note for _, note in piano.sounding()}
    assert left <= {40, 41}
    again.signal(signal.SIGINT)
    assert again.ends() == 130
    assert piano.sounding() == set()
    offs = [m[1] for _, m in piano.received if m[0] & 0xF0 == 0x80]
    assert set(range(128)) <= set(offs)


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


def test_a_missing_instrument_is_one_line(start):
    companion = start("play", "--in", "harpsichord")
    assert companion.ends() == 3
    assert len(companion.said.splitlines()) == 1 and "harpsichord" in companion.said


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


def test_a_misspelt_name_is_said_before_any_port_is_looked_for(monkeypatch, tmp_path):
    monkeypatch.setenv("COMPANION_DATA", str(tmp_path))
    with pytest.raises(UseError, match=r"--treatment: .* did you mean 'walking'\?"):
        play(parse_toml(CHART), Settings(treatment="walkin"), midi="none of them", screen=StringIO())


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
