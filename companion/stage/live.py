"""Playing live: the player process at real ports, from what is to be played to the account of what was.

Three processes: this one owns all state (input port, following, rehearsal, take) and drives it in a loop
(:mod:`companion.stage.loop`); the *sender* (:mod:`companion.stage.sender`) owns the output; a *page* may listen and
wish. A page (or anything else) gets every report through ``watch``, callables that must return at once, and puts its
:class:`~companion.messages.Wish` into ``wishes``; the moment of a wish is set when it is taken.

Conventions: the rehearsal's seconds count from the start of :func:`play`. An order is given to the sender
``latency`` and :data:`LEAD` before it sounds, and sent ``latency`` before it sounds, latency being what the instrument
takes from message to sound.
"""

from __future__ import annotations

import contextlib
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue
from typing import TYPE_CHECKING, TextIO

from companion.arrange.transposition import in_key
from companion.errors import DeviceError
from companion.messages import PARTS, Report
from companion.ports.choice import Choice, choose_ports
from companion.ports.instruments import Instruments, Setup, read_instruments
from companion.ports.midi import find_ports
from companion.ports.quiet import quiet_libraries
from companion.resources import data_folder
from companion.stage import sounding_marks
from companion.stage.console import Account, LiveLine
from companion.stage.loop import AHEAD, PRIORITY, AnyRehearsal, Inbox, Player, ends_asked_for
from companion.stage.priority import is_granted
from companion.stage.recovery import recover
from companion.stage.signals import Signals
from companion.stage.take_writer import TakeWriter, why_not_kept
from companion.stage.window import Window
from companion.stage.window import fits as window_fits
from companion.stage.wire import SenderWords

if TYPE_CHECKING:
    from companion.chart.model import Chart
    from companion.stage.settings import Settings

LEAD, ORDINARY_LEAD = 0.004, 0.014
"""Seconds that an order takes at most from the rehearsal to the sender's order book, with real-time priority and
without: then the loop itself is up to some 10 ms late where others keep the processors busy."""


def play(
    chart: Chart,
    settings: Settings,
    *,
    port_in: str | None = None,
    port_out: str | None = None,
    midi: str | None = None,
    sound: bool | None = None,
    through: bool | None = None,
    latency: float | None = None,
    data: Path | None = None,
    wav: Path | None = None,
    force: bool = False,
    watch: Sequence[Callable[[Report], None]] = (),
    wishes: Inbox | None = None,
    rehearsal: AnyRehearsal | Callable[[Settings], AnyRehearsal] | None = None,
    signals: Signals | None = None,
    screen: TextIO | None = None,
    large: bool = False,
    ask: sounding_marks.Ask | None = None,
    played: float = 0.0,
    begins: Callable[[float], None] = lambda origin: None,
) -> Account:
    """Play a chart with the person at the keyboard, until they or the form end it.

    Parameters
    ----------
    chart : Chart
        What is played.
    settings : Settings
        Who plays what, and how; its latency is replaced by the instrument's.
    port_in, port_out : str, optional
        Part of the name of a port; by default those of ``configs/instruments.toml``, or the first instrument.
    midi : str, optional
        The MIDI service ('auto', 'alsa', 'jack', 'core', 'windows').
    sound : bool, optional
        Whether FluidSynth sounds the companion's parts, and no port; by default as ``configs/instruments.toml`` has it,
        unless an output is named.
    through : bool, optional
        Whether the output sounds what the player plays, too.
    latency : float, optional
        Seconds that the instrument takes from message to sound; by default those of the configuration.
    data : path, optional
        The folder for user data, where the take is kept.
    wav : path, optional
        Where to render what was played, after the end.
    force : bool
        A file that stands there needn't be kept.
    watch : sequence of callable
        Get every report; must return at once.
    wishes : SimpleQueue, optional
        The queue that the loop waits on, for wishes from elsewhere.
    rehearsal : optional
        What to drive instead of a :class:`~companion.stage.from_the_top.FromTheTop` of chart and settings; or what
        makes it once the settings are known with the instrument's latency.
    signals : Signals, optional
        What of the keyboard's messages is no playing but tells something; by default what the tune leaves free for it,
        and with a rehearsal of the caller's own nothing.
    screen : text file, optional
        Where the live line goes; standard error by default.
    large : bool
        Whether it takes the whole window, where that is a terminal with room.
    ask : callable, optional
        Asks whether to play on an instrument that another companion uses; nobody does unless given.
    played : float
        Seconds of playing without a pause before this.
    begins : callable, optional
        Told the moment of the live clock at which the rehearsal's seconds begin.

    Returns
    -------
    Account
        What happened. The take is kept before anything is raised.

    Raises
    ------
    DeviceError
        A port is missing, or went away for good; or another companion uses it.
    KeyboardInterrupt
        The player pressed Ctrl-C; everything has been ended in order.
    """
    if rehearsal is None:
        _check_names(chart, settings)
    instruments = read_instruments()
    sound = (instruments.computer and port_out is None) if sound is None else sound
    inbox: Inbox = wishes or SimpleQueue()
    kept_in = data or data_folder()
    with quiet_libraries(), contextlib.ExitStack() as playing:
        shown = screen or sys.stderr  # not before: what was standard error until here is silenced
        wanted_in, wanted_out = port_in or instruments.input, port_out or instruments.output
        ports = find_ports(midi or instruments.midi, wanted_in, None if sound else wanted_out)
        choice = choose_ports(ports, wanted_in, wanted_out, play=not sound)
        sounding_marks.check_alone(
            kept_in / sounding_marks.FOLDER,
            choice.api,
            output=choice.output,
            listening=choice.input,
            ask=ask,
        )
        playing.enter_context(ends_asked_for(inbox.put))  # not before: whoever is asked may answer with Ctrl-C
        setup = _setup(instruments, choice, sound, through, latency)
        lead = LEAD if is_granted(PRIORITY) else ORDINARY_LEAD
        settings = replace(settings, latency=setup.latency + lead)
        signals = signals or (Signals() if rehearsal else _signals_of(chart, settings))
        driven = _driven(chart, settings, rehearsal)
        for chorus in range(1, AHEAD + 1):
            if work := driven.prepare(chorus):
                driven.adopt(work())
        line: LiveLine | Window = (
            LiveLine(chart.unfold(), shown)
            if not (large and window_fits(shown))
            else Window(chart.unfold(), shown, lambda key: in_key(chart, key).unfold())
        )
        try:
            for text in recover(data).lines():
                line.say(text)
            if trouble := why_not_kept(data):
                line.say(trouble)
            line.say(f"{chart.title}: {_who_plays_what(settings)}")
            take = TakeWriter(chart, settings, data, tell=line.say, elsewhere=Path(tempfile.gettempdir()))
            watch = [line.report, *watch]
            words = _sender_words(instruments, choice, setup, kept_in, chart.title)
            player = Player(driven, signals, inbox, take, instruments, choice, setup, watch, line.say, words)
            for text in reversed(signals.table.lines()):  # a window shows what was said last
                line.say(text)
            player.pause.played = played
            begins(player.origin)
            line.wait()
            stop = player.run()
            account = player.account(chart.title)
            for text in player.remarks():
                line.say(text)
        finally:
            line.close()
    if wav and account.take:
        _render(wav, account.take, screen or sys.stderr, force=force)
    print("\n".join(account.lines()))
    if stop.error:
        raise stop.error
    if stop.how == "interrupted":
        raise KeyboardInterrupt
    if stop.how == "lost":
        raise DeviceError(stop.why, mend=stop.mend)
    return account


def _check_names(chart: Chart, settings: Settings) -> None:
    from companion.stage.names import check_names

    check_names(chart, settings)


def _driven(
    chart: Chart, settings: Settings, given: AnyRehearsal | Callable[[Settings], AnyRehearsal] | None
) -> AnyRehearsal:
    """What is driven: what was given, or a rehearsal of chart and settings."""
    from companion.stage.from_the_top import FromTheTop

    if given is None:
        return FromTheTop(chart, settings)
    return given(settings) if callable(given) else given


def _signals_of(chart: Chart, settings: Settings) -> Signals:
    from companion.stage.from_the_top import signals_of

    return signals_of(chart, settings)


def _who_plays_what(settings: Settings) -> str:
    yours = [f"the {part}" for part in PARTS if part in settings.you]
    ours = [f"the {part}" for part in settings.parts]
    turns = ""
    if settings.trade:
        turns = "; you improvise in turn" + (f", {settings.trade} bars each" if settings.trade < 100 else "")
    return f"you play {listed(yours)}, the companion {listed(ours) if ours else 'listens'}{turns}"


def listed(words: Sequence[str]) -> str:
    """Words as a sentence has them: 'the chords and the bass'."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _setup(instruments: Instruments, choice: Choice, sound: bool, through: bool | None, latency: float | None) -> Setup:
    setup = instruments.setups["synth" if sound else "piano" if choice.same else "module"]
    return replace(
        setup,
        latency=setup.latency if latency is None else latency,
        through=setup.through if through is None else through,
    )


def _sender_words(instruments: Instruments, choice: Choice, setup: Setup, data: Path, title: str) -> SenderWords:
    programs = {setup.channels[part] - 1: program - 1 for part, program in setup.programs.items()}
    return SenderWords(
        api=choice.api,
        port=choice.output,
        channels=tuple(sorted({channel - 1 for channel in setup.channels.values()})),
        programs=tuple(programs.items()),
        shared=choice.same,
        give_up_after=instruments.give_up_after,
        synth=instruments.synth if choice.output is None else None,
        marks=str(data / sounding_marks.FOLDER),
        listening=choice.input,
        title=title,
    )


def _render(wav: Path, folder: Path, screen: TextIO, *, force: bool) -> None:
    from companion.files import made_output
    from companion.ports.wav import render
    from companion.stage.take import read_take

    with contextlib.suppress(OSError):  # a terminal that was closed
        print(f"writing {wav} ...", file=screen)
    take = read_take(folder)
    with made_output(wav, force=force) as made:
        render(made.path, take.heard(), take.sounded())
    if made.former is not None:
        with contextlib.suppress(OSError):
            print(f"what stood there is kept in {made.former}", file=screen)
