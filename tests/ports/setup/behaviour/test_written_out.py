"""Whole evenings, word by word and moment by moment, and what the instrument was sent.

What stands here is what is said and played today. When it changes, read it as the player does: other words and waits
are as good where they are as clear. What is shown of the files is left out.
"""

from __future__ import annotations

from collections.abc import Callable

from tests.wrapping import lines, wrapped

from ..simulated import Evening, Person, SimulatedPiano

SetUp = Callable[..., Evening]

ALL_GOES_WELL = """
0.00 About a minute, at the piano. Enter skips a step; Ctrl-C leaves everything as it was.
1.00 1  Press any key at the piano.
1.75    upright:keys, channel 1
1.75 2  Play the lowest key, then the highest.
6.95    88 keys, A0 to C8
6.95 3  Press each pedal once, slowly. (None there: wait.)
11.75    damper (half positions too), soft
11.75 4  Set the volume low, on headphones above all, and take your hands off the keys.
11.75    It plays quiet notes. When you hear them press any key; silence is no.
12.15    upright:ears ...
13.55    heard, on channel 1
13.55    it answers as manufacturer 7D, family 130, member 5, version 1.0.0.2
13.55    it sends back what it gets, which is told from your playing
13.55    Low notes on channel 2, so that your pedal won't hold the bass. Heard?
14.95    The same as a plucked bass. Did the sound change to one?
16.35    And your own: is this still your piano's sound?
17.75    Clicks on the drum channel. Heard?
19.15 5  Local control joins your keys to the piano's own sound.
19.15    It should be on here. If your keys are silent, press one: it is turned on.
19.15    If they sound, just wait.
19.15    (Type off to part them: the keys then only send MIDI.)
23.15    left as it is
23.15 6  Your hands, comfortably: it is no contest, and pain means stop.
23.15    Left hand: the widest chord it holds, all at once.
26.15    a tenth (16 semitones)
26.15    Right hand: the widest chord it holds, all at once.
29.15    a ninth (14 semitones)
29.15 7  Latency: MIDI takes 90.0 ms there and back; half of it is the least it can be: 45 ms.
29.15    (If you know your sound's latency, type it in milliseconds.)
29.15    Keep this? Any key or Enter is yes; silence, or n, leaves everything as it was.
32.15
"""

NOBODY_PLAYS = """
0.00 About a minute, at the piano. Enter skips a step; Ctrl-C leaves everything as it was.
1.00 1  Press any key at the piano.
1.00    skipped: upright:keys is taken, the first there is
1.00 2  Play the lowest key, then the highest.
21.00    not heard: it stays as it was
21.00 3  Press each pedal once, slowly. (None there: wait.)
31.00    no pedal heard: it stays as it was
31.00 4  Set the volume low, on headphones above all, and take your hands off the keys.
31.00    It plays quiet notes. When you hear them press any key; silence is no.
31.40    upright:ears ...
41.20    Not on this channel. Now the others, one by one: press a key when you hear one.
58.00    Nothing was heard. Turn it up, or try another cable or output, and set it up again.
58.00 6  Your hands, comfortably: it is no contest, and pain means stop.
58.00    Left hand: the widest chord it holds, all at once.
70.00    no chord heard: it stays as it was
70.00    Right hand: the widest chord it holds, all at once.
82.00    no chord heard: it stays as it was
82.00 7  What was found:
82.00    Nothing was found that isn't so already.
82.00
"""

ONE_CHANNEL_OF_A_MODULE = """
0.00 About a minute, at the piano. Enter skips a step; Ctrl-C leaves everything as it was.
1.00 1  Press any key at the piano.
1.75    upright:keys, channel 1
1.75 2  Play the lowest key, then the highest.
3.95    88 keys, A0 to C8
3.95 3  Press each pedal once, slowly. (None there: wait.)
8.75    damper (half positions too), soft
8.75 4  Set the volume low, on headphones above all, and take your hands off the keys.
8.75    It plays quiet notes. When you hear them press any key; silence is no.
9.15    module:ears ...
18.95    Not on this channel. Now the others, one by one: press a key when you hear one.
23.15    Channel 5 once more: heard?
24.55    heard, on channel 5
24.55    Low notes on channel 2, so that your pedal won't hold the bass. Heard?
34.35    no: the bass shares channel 5
34.35    Clicks on the drum channel. Heard?
44.15    no: the click will be high notes on channel 5
44.15 6  Your hands, comfortably: it is no contest, and pain means stop.
44.15    Left hand: the widest chord it holds, all at once.
47.15    a tenth (16 semitones)
47.15    Right hand: the widest chord it holds, all at once.
50.15    a ninth (14 semitones)
50.15 7  Latency: nothing comes back to measure it by; it stays at 10 ms.
50.15    (If you know your sound's latency, type it in milliseconds.)
50.15    Keep this? Any key or Enter is yes; silence, or n, leaves everything as it was.
53.15
"""

A_SILENT_PIANO_AND_A_MODULE = """
0.00 About a minute, at the piano. Enter skips a step; Ctrl-C leaves everything as it was.
1.00 1  Press any key at the piano.
1.75    upright:keys, channel 1
1.75 2  Play the lowest key, then the highest.
6.95    88 keys, A0 to C8
6.95 3  Press each pedal once, slowly. (None there: wait.)
11.75    damper (half positions too), soft
11.75 4  Set the volume low, on headphones above all, and take your hands off the keys.
11.75    It plays quiet notes. When you hear them press any key; silence is no.
12.15    upright:ears ...
21.95    Not on this channel. Now the others, one by one: press a key when you hear one.
39.15    module:ears ...
40.55    heard, on channel 1
40.55    Low notes on channel 2, so that your pedal won't hold the bass. Heard?
41.95    The same as a plucked bass. Did the sound change to one?
43.35    And your own: is this still your piano's sound?
44.75    Clicks on the drum channel. Heard?
46.15 5  Local control joins your keys to the piano's own sound.
46.15    Off, your keys sound only by module:ears, through the companion.
46.15    Any key turns it off, to try; silence leaves it.
47.55    It is off. Press a key to keep it so; silence turns it on again.
48.55    off, until the piano is switched off: many forget it then
48.55 6  Your hands, comfortably: it is no contest, and pain means stop.
48.55    Left hand: the widest chord it holds, all at once.
51.55    a tenth (16 semitones)
51.55    Right hand: the widest chord it holds, all at once.
54.55    a ninth (14 semitones)
54.55 7  Latency: nothing comes back to measure it by; it stays at 10 ms.
54.55    (If you know your sound's latency, type it in milliseconds.)
54.55    Keep this? Any key or Enter is yes; silence, or n, leaves everything as it was.
55.55    Keep it?
85.55
"""

NO_KEY = """
0.00 About a minute, at the piano. Enter skips a step; Ctrl-C leaves everything as it was.
1.00 1  Press any key at the piano.
31.00    Nothing heard yet from: upright:keys.
31.00    Is the piano on, and its cable in? Press a key.
61.00
"""

SENT_TO_THE_PIANO = """
90 60 30; 80 60 64; 90 64 30; 80 64 64; 90 67 30; 80 67 64; 91 40 30; 81 40 64; 91 45 30; 81 45 64; 91 43 30;
81 43 64; C1 32; 91 40 54; 81 40 64; 91 45 54; 81 45 64; 91 43 54; 81 43 64; 90 60 30; 80 60 64; 90 64 30; 80 64 64;
90 67 30; 80 67 64; 99 76 30; 89 76 64; 99 77 30; 89 77 64; 99 75 30; 89 75 64;
"""
"""Status byte in hexadecimal, then the data bytes (MIDI 1.0)."""

SENT_TO_THE_MODULE = """
90 60 30; 80 60 64; 90 64 30; 80 64 64; 90 67 30; 80 67 64; 90 60 54; 80 60 64; 90 64 54; 80 64 64; 90 67 54;
80 67 64; 91 60 54; 81 60 64; 92 60 54; 82 60 64; 93 60 54; 83 60 64; 94 60 54; 84 60 64; 94 60 54; 84 60 64;
94 64 54; 84 64 64; 94 67 54; 84 67 64; 91 40 30; 81 40 64; 91 45 30; 81 45 64; 91 43 30; 81 43 64; 91 40 54;
81 40 64; 91 45 54; 81 45 64; 91 43 54; 81 43 64; 99 76 30; 89 76 64; 99 77 30; 89 77 64; 99 75 30; 89 75 64;
99 76 54; 89 76 64; 99 77 54; 89 77 64; 99 75 54; 89 75 64;
"""


def said(evening: Evening) -> list[str]:
    """What was said, each line with its moment; at last how long it took."""
    rows = [f"{at:.2f} {line}" for at, line in evening.lines if not line.startswith("     ") and ".toml" not in line]
    return [*rows, f"{evening.seconds:.2f}"]


def sent(piano: SimulatedPiano) -> list[str]:
    """The channel messages that it got."""
    return wrapped(
        f"{message[0]:X} {' '.join(map(str, message[1:]))};" for message in piano.received if message[0] < 0xF0
    )


def test_at_a_piano_that_answers_everything(set_up: SetUp, upright: SimulatedPiano) -> None:
    upright.echo = 0.09
    assert said(set_up(upright)) == lines(ALL_GOES_WELL)
    assert sent(upright) == lines(SENT_TO_THE_PIANO)


def test_with_nobody_at_the_keys(set_up: SetUp) -> None:
    idle = ("range", "pedals", "left hand", "right hand")
    person = Person({"key": "", **dict.fromkeys(idle)}, answers=False)  # type: ignore[arg-type]
    assert said(set_up(person=person)) == lines(NOBODY_PLAYS)
    assert said(set_up(person=Person({"key": None}))) == lines(NO_KEY)


def test_with_a_module_that_hears_one_channel_and_no_click(set_up: SetUp) -> None:
    module = SimulatedPiano(input="", output="module:ears", hears=(5,))
    person = Person({"clicks": None, "local": None, "range": (21, 108)})
    assert said(set_up(SimulatedPiano(output=None), module, person=person)) == lines(ONE_CHANNEL_OF_A_MODULE)
    assert sent(module) == lines(SENT_TO_THE_MODULE)


def test_with_a_silent_piano_whose_keys_are_to_sound_by_a_module(set_up: SetUp) -> None:
    silent, module = SimulatedPiano(sounds=False), SimulatedPiano(input="", output="module:ears")
    person = Person({"local": (60,), "keep local": (62,), "keep": "12"})
    assert said(set_up(silent, module, person=person)) == lines(A_SILENT_PIANO_AND_A_MODULE)
