"""The sender process over real ports: each message at its moment, and nothing left sounding, whatever dies."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from queue import Empty, SimpleQueue

import pytest

from companion.errors import DeviceError
from companion.stage.clock import now
from companion.stage.link import HUNG, PATIENCE, Notice, SenderLink
from companion.stage.sender import lateness_figures
from companion.stage.wire import HEARTBEAT, ORDER, SenderWords, pack, unpack

pytestmark = pytest.mark.jack
EARS = "upright-01:ears"


def wait_for(condition, seconds=8.0):
    end = time.monotonic() + seconds
    while not condition() and time.monotonic() < end:
        time.sleep(0.01)
    return condition()


@pytest.fixture
def notices():
    return SimpleQueue()


def words(**more) -> SenderWords:
    return SenderWords(**{"api": "jack", "port": EARS, "channels": (0, 1), "give_up_after": 2.0, **more})


def test_a_message_crosses_the_pipe_as_it_is():
    frame = unpack(pack(12.5, ORDER, (0x91, 40, 90)))
    assert (frame.due, frame.kind, frame.message) == (12.5, ORDER, (0x91, 40, 90))


def test_what_it_is_started_with_crosses_the_command_line_as_it_is():
    given = words(programs=((1, 32),), shared=True)
    assert SenderWords.from_json(given.to_json()) == given


def test_lateness_is_told_by_median_and_99th_percentile():
    figures = lateness_figures([n / 1000 for n in range(101)])
    assert figures == {"sent": 101, "median_ms": 50.0, "p99_ms": 99.0, "worst_ms": 100.0}


def test_messages_come_out_in_order_of_their_moments(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    start = now() + 0.1
    for number in (3, 1, 2, 0):
        link.order(start + 0.05 * number, (0x91, 40 + number, 90))
    assert wait_for(lambda: len(piano.received) == 4)
    assert piano.notes_on() == [40, 41, 42, 43]
    # Never before its moment; how late it may be is measured by the benchmark.
    assert all(seconds >= start + 0.05 * n for n, (seconds, _) in enumerate(piano.received))
    figures = link.end()
    assert figures["sent"] == 4
    assert piano.sounding() == set()


def test_nothing_but_notes_is_sent_unless_the_player_set_a_sound(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x90, 40, 90))
    assert wait_for(lambda: piano.received)
    link.end()
    assert not [m for _, m in piano.received if m[0] & 0xF0 == 0xC0]


def test_a_sound_that_the_player_set_is_sent_first(instrument, notices):
    piano, link = instrument(), SenderLink(words(programs=((1, 32),)), notices.put)
    assert wait_for(lambda: piano.received) and piano.received[0][1] == [0xC1, 32]
    link.end()


def test_a_sound_that_is_ordered_in_between_has_two_bytes(instrument, notices):
    # MIDI 1.0: program change and channel pressure have one data byte, the other channel messages two.
    piano, link = instrument(), SenderLink(words(), notices.put)
    for message in ((0xC1, 32), (0xD1, 5), (0xB1, 122, 0), (0x91, 40, 90)):
        link.order(now(), message)
    assert wait_for(lambda: len(piano.received) == 4)
    assert [message for _, message in piano.received] == [[0xC1, 32], [0xD1, 5], [0xB1, 122, 0], [0x91, 40, 90]]
    link.end()


def test_an_orderly_end_plays_out_what_is_due_and_silences_the_rest(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x90, 40, 90))
    link.order(now() + 0.1, (0x90, 43, 90))
    link.order(now() + 60.0, (0x90, 47, 90))
    link.end()
    assert piano.notes_on() == [40, 43] and piano.sounding() == set(), piano.received
    assert [0xB0, 123, 0] in [m for _, m in piano.received]  # all notes off (MIDI 1.0)


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_to_the_sender_silences_everything(instrument, notices, how):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x91, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(1, 40)})
    os.kill(link.pid, how)
    assert wait_for(lambda: piano.sounding() == set())
    assert notices.get(timeout=5) == Notice("died")
    link.end()
    assert link._process.returncode == 0  # though its input was still open


def test_a_killed_sender_is_told_and_what_it_left_is_silenced_by_another(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x91, 40, 90))
    link.order(now() + 0.4, (0x81, 40, 64))  # ordered, but it will not come to sending it
    assert wait_for(lambda: piano.sounding() == {(1, 40)}), piano.received
    os.kill(link.pid, signal.SIGKILL)
    assert notices.get(timeout=5) == Notice("died")
    link.silence_for()
    assert piano.sounding() == set()
    assert link.end() == {}


def test_a_killed_player_leaves_no_note_sounding(instrument):
    piano = instrument()
    program = f"""
import time
from companion.stage.clock import now
from companion.stage.link import SenderLink
from companion.stage.wire import SenderWords
link = SenderLink(SenderWords(api="jack", port={EARS!r}, channels=(1,)), print)
link.order(now(), (0x91, 40, 90))
link.order(now() + 1.0, (0x91, 45, 90))
print("on", flush=True)
time.sleep(60)
"""
    player = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE)
    try:
        assert wait_for(lambda: piano.sounding() == {(1, 40)})
    finally:
        player.kill()
        player.wait()
        player.stdout.close()
    assert wait_for(lambda: piano.sounding() == set() and [0xB1, 64, 0] in [m for _, m in piano.received])
    time.sleep(1.2)
    assert piano.notes_on() == [40]  # what was ordered for later is not played by a companion that is dead


def test_what_the_player_holds_is_not_released(instrument, notices):
    piano, link = instrument(), SenderLink(words(shared=True), notices.put)
    link.order(now(), (0x90, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(0, 40)})
    link.player((0x90, 40, 70))
    link.order(now() + 0.05, (0x80, 40, 64))
    link.order(now() + 0.1, (0x90, 50, 90))
    assert wait_for(lambda: 50 in piano.notes_on())
    assert (0, 40) in piano.sounding()
    link.player((0x80, 40, 64))
    assert wait_for(lambda: piano.sounding() == {(0, 50)})
    link.end()
    assert piano.sounding() == set()


def test_a_missing_output_is_one_line(jack_server, notices):
    with pytest.raises(DeviceError, match="not there"):
        SenderLink(words(port="harpsichord:ears"), notices.put)


def test_an_unplugged_output_is_told_and_played_again_when_it_is_back(instrument, notices):
    piano, link = instrument(), SenderLink(words(give_up_after=30.0), notices.put)
    link.order(now(), (0x90, 40, 90))
    assert wait_for(lambda: piano.received)
    piano.close()
    assert notices.get(timeout=5).what == "lost"
    link.order(now(), (0x90, 41, 90))
    time.sleep(0.1)
    again = instrument()
    assert notices.get(timeout=8) == Notice("back", {"port": EARS})
    assert wait_for(lambda: (0x80, 40) in [(m[0], m[1]) for _, m in again.received])  # what sounded when it went
    link.order(now(), (0x90, 42, 90))
    assert wait_for(lambda: again.notes_on() == [42])
    link.end()
    assert again.sounding() == set()


def test_an_output_that_stays_away_is_given_up(instrument, notices):
    piano, link = instrument(), SenderLink(words(give_up_after=0.5), notices.put)
    piano.close()
    assert [notices.get(timeout=8).what for _ in range(2)] == ["lost", "gone"]
    link.end()


def test_a_player_that_falls_silent_is_not_taken_for_dead(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    time.sleep(2.5)
    link.order(now(), (0x90, 40, 90))
    assert wait_for(lambda: piano.received)
    link.end()
    with pytest.raises(Empty):
        notices.get_nowait()


# Stopped, and hung


def test_a_sender_that_hears_nothing_silences_and_plays_nothing_old(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x90, 40, 90))
    link.order(now() + 1.5, (0x90, 43, 90))  # due when nobody has been heard for long
    assert wait_for(lambda: piano.sounding() == {(0, 40)})
    assert wait_for(lambda: piano.sounding() == set(), 3.0)
    time.sleep(0.8)
    assert piano.notes_on() == [40]
    link.order(now(), (0x90, 45, 90))
    assert wait_for(lambda: piano.sounding() == {(0, 45)})  # it is there again
    assert link.end()["dropped"] == 1


def test_signs_of_life_keep_a_long_note(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x90, 40, 90))
    link.wait_until(now() + 2.0)
    assert piano.sounding() == {(0, 40)}
    link.end()


def test_what_is_late_is_not_begun_and_its_end_is_sent(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x90, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(0, 40)})
    for n in range(20):
        link.order(now() - 2.0, (0x90, 50 + n, 90))
    link.order(now() - 2.0, (0xB0, 64, 127))
    link.order(now() - 2.0, (0x80, 40, 64))
    assert wait_for(lambda: piano.sounding() == set())
    assert piano.notes_on() == [40] and [0xB0, 64, 127] not in [m for _, m in piano.received]
    assert link.end()["dropped"] == 21


def test_a_note_of_the_player_s_that_comes_late_is_not_sounded_through(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.player((0x90, 60, 80), through=now())
    link.player((0x90, 62, 80), through=now() - 1.0)
    assert wait_for(lambda: piano.notes_on() == [60])
    link.end()
    assert piano.notes_on() == [60] and piano.sounding() == set()


@pytest.mark.parametrize("beats", [0, 5])
def test_a_sender_that_hangs_at_the_end_is_ended_soon_and_its_note_silenced_from_here(instrument, notices, beats):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x91, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(1, 40)})
    os.kill(link.pid, signal.SIGSTOP)
    link.wait_until(now() + beats * HEARTBEAT)
    began = now()
    assert link.end() == {}
    assert piano.sounding() == set()
    assert now() - began < PATIENCE  # it isn't waited for as one that closes what it plays on


def test_a_sender_that_hangs_while_one_plays_is_told_as_dead(instrument, notices):
    piano, link = instrument(), SenderLink(words(), notices.put)
    link.order(now(), (0x91, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(1, 40)})
    os.kill(link.pid, signal.SIGSTOP)
    link.wait_until(now() + (HUNG + 3) * HEARTBEAT)
    assert notices.get(timeout=5) == Notice("died")
    link.silence_for()
    assert piano.sounding() == set()
    assert link.end() == {}


# Killed, all at once


def test_what_was_left_when_all_were_killed_at_once_is_silenced_at_the_next_start(instrument, notices, tmp_path):
    piano, given = instrument(), words(marks=str(tmp_path))
    first = SenderLink(given, notices.put)
    assert not first.silenced
    first.order(now(), (0x91, 40, 90))
    assert wait_for(lambda: piano.sounding() == {(1, 40)})
    first._ending = first._stood_in = True  # as if this process were killed, too
    os.kill(first.pid, signal.SIGKILL)
    first.end()
    assert piano.sounding() == {(1, 40)}
    second = SenderLink(given, notices.put)
    assert second.silenced
    assert wait_for(lambda: piano.sounding() == set())
    second.order(now(), (0x91, 43, 90))
    assert wait_for(lambda: piano.sounding() == {(1, 43)})
    third = SenderLink(given, notices.put)  # a second companion on one piano silences nothing of the first
    assert not third.silenced
    third.end()
    second.end()
    assert list(tmp_path.iterdir()) == []


def test_an_orderly_end_and_one_from_here_leave_no_mark(instrument, notices, tmp_path):
    instrument()
    SenderLink(words(marks=str(tmp_path)), notices.put).end()
    assert list(tmp_path.iterdir()) == []
    link = SenderLink(words(marks=str(tmp_path)), notices.put)
    assert len(list(tmp_path.iterdir())) == 1
    os.kill(link.pid, signal.SIGKILL)
    link.silence_for()
    assert list(tmp_path.iterdir()) == []
    link.end()
