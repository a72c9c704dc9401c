"""``companion chart capture``: a chart from what is played, at the keyboard or in a recording."""

from __future__ import annotations

import argparse
import csv
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.cli.asking import ask, is_terminal
from companion.cli.outputs import force_word
from companion.cli.words import command, count, seconds, tempo
from companion.errors import CompanionError, DeviceError, UseError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from companion.chart.imported import Imported
    from companion.chart.model import Chart
    from companion.music.chords import Chord
    from companion.music.meter import Metre
    from companion.music.played import BeatMap
    from companion.transcribe.captured import KnownTune, Pass

SKELETON_BARS = 64
"""Bars of the empty chart under which the take of a tune is kept whose length isn't known yet."""
FEELS = ("swing", "straight")
SAME_TEMPO = 0.01
"""Share by which a recording's own tempo may differ from the one that is said, and be the same."""


def add_capture(actions: Any) -> None:
    """Describe the command."""
    parser = command(
        actions,
        "capture",
        _capture,
        "make a chart of a tune you play: it clicks, you play the melody, then the chords",
        """
        companion chart capture --tempo 120
        companion chart capture --metre 3/4 --key "F minor" --type --out evening.toml
        companion chart capture --from melody.mid --tempo 132 --start 4.64 --chords chords.mid
        companion chart capture --from melody.mid --beats beats.csv --symbols "| Dm7 G7 | Cmaj7 |"
        """,
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="FILE.toml",
        help="the chart to write (default: the title, among your own charts)",
    )
    force_word(parser)
    _tune_words(parser)
    _chord_words(parser)
    _recording_words(parser)
    _instrument_words(parser)


def _tune_words(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("what is known of the tune", "What isn't said is found out.")
    group.add_argument("--title", default="Untitled", metavar="TEXT", help="its title")
    group.add_argument("--metre", default="4/4", metavar="METRE", help="such as 3/4 or 6/8")
    group.add_argument("--key", metavar="KEY", help='such as "Eb" or "C minor" (default: found)')
    group.add_argument("--feel", choices=FEELS, help="how the quavers were meant (default: found)")
    group.add_argument("--tempo", type=tempo, metavar="BPM", help="quarters a minute (default: you tap four beats)")
    group.add_argument("--bars", type=count, metavar="N", help="how many bars it has (default: until you are silent)")


def _chord_words(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("its chords").add_mutually_exclusive_group()
    group.add_argument("--type", action="store_true", help="type them after the melody, instead of playing them")
    group.add_argument("--symbols", metavar="TEXT", help='here they are: "| Dm7 G7 | Cmaj7 |", as in a chart')
    group.add_argument("--chords", type=Path, metavar="FILE.mid", help="with --from: where they are recorded")
    group.add_argument("--no-chords", action="store_true", help="the melody alone")


def _recording_words(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("from a recording instead of the keyboard")
    group.add_argument(
        "--from",
        dest="source",
        type=Path,
        metavar="FILE",
        help="a Standard MIDI File of the melody, or a take's folder",
    )
    group.add_argument(
        "--start",
        type=seconds,
        metavar="SECONDS",
        help="when the first downbeat is due, in seconds (default: where the file's first bar begins)",
    )
    group.add_argument("--beats", type=Path, metavar="FILE.csv", help="or where each beat fell: chart_beat,seconds")
    group.add_argument(
        "--chords-start", type=seconds, metavar="SECONDS", help="the same of --chords, in seconds (default: --start)"
    )


def _instrument_words(parser: argparse.ArgumentParser) -> None:
    about = "What isn't said here comes from configs/instruments.toml."
    group = parser.add_argument_group("your instrument", about)
    group.add_argument("--count-in", type=count, default=2, metavar="BARS", help="click so many bars first")
    group.add_argument("--in", dest="port_in", metavar="NAME", help="the port to listen to: its name or part of it")
    group.add_argument(
        "--click-on", dest="port_out", metavar="NAME", help="the port to click on: its name or part of it"
    )
    group.add_argument("--midi", choices=("auto", "alsa", "jack", "core", "windows"), help="which MIDI service to use")
    group.add_argument(
        "--sound", action=argparse.BooleanOptionalAction, help="click with FluidSynth, not on your instrument"
    )


def _capture(args: argparse.Namespace) -> int:
    from companion.cli.importing import check_chart_file

    wanted = _wanted(args)
    symbols = None if args.symbols is None else _symbols(args.symbols, wanted.metre)
    check_chart_file(args.out)
    if args.source is None:
        return _live(args, wanted, symbols)
    melody, chords, wanted = _recorded(args, wanted)
    return _write(args, wanted, melody, chords if symbols is None else symbols)


def _wanted(args: argparse.Namespace) -> KnownTune:
    from companion.chart.keys import read_key
    from companion.chart.model import UNTITLED
    from companion.chart.plain import printable_text
    from companion.music.meter import parse_metre
    from companion.transcribe.captured import KnownTune

    if args.source is None and any((args.chords, args.beats, args.start is not None, args.chords_start is not None)):
        raise UseError("--chords, --start and --beats go with a recording", mend="name it with --from")
    try:
        metre = parse_metre(args.metre)
    except ValueError:
        raise UseError(f"'{args.metre}' is not a metre", mend="write it like 4/4 or 6/8") from None
    key = read_key(args.key) if args.key else None
    return KnownTune(printable_text(args.title).strip() or UNTITLED, metre, key, args.feel, args.tempo, args.bars)


def _symbols(text: str, metre: Metre) -> list[tuple[Fraction, Chord]]:
    """Chords in bars between bar lines, each with the beat on which it begins."""
    from companion.chart.toml.chords import count_bars, read_chords

    spans = read_chords(text, [metre.bar] * count_bars(text), metre)
    return [(span.start, span.chord) for span in spans]


# From a recording


def _recorded(args: argparse.Namespace, wanted: KnownTune) -> tuple[Pass | None, Pass | None, KnownTune]:
    from dataclasses import replace

    from companion.stage.performance import read_performance
    from companion.transcribe.captured import Pass
    from companion.transcribe.playing import keys_of

    if args.source.is_dir():
        return _kept(args, wanted)
    keys = tuple(keys_of(read_performance(args.source)))
    beats = _beats(args, args.source, args.start)
    melody = Pass(keys, beats)
    wanted = replace(wanted, tempo=wanted.tempo or round(beats.tempo(0.0), 1))
    if args.chords is None:
        return melody, None, wanted
    start = args.start if args.chords_start is None else args.chords_start
    chord_keys = tuple(keys_of(read_performance(args.chords)))
    return melody, Pass(chord_keys, _beats(args, args.chords, start)), wanted


def _kept(args: argparse.Namespace, wanted: KnownTune) -> tuple[Pass | None, Pass | None, KnownTune]:
    """The passes of a take that was kept, with the tempo at which they were clicked."""
    from dataclasses import replace

    from companion.stage.capture import passes_of
    from companion.stage.take import read_take

    take = read_take(args.source)
    melody, chords = passes_of(take.states, take.heard())
    if melody is None:
        raise UseError("no melody was captured in that take", file=str(args.source), mend="give its take.mid")
    return melody, chords, replace(wanted, tempo=wanted.tempo or round(melody.beats.tempo(0.0), 1))


def _beats(args: argparse.Namespace, file: Path, start: float | None) -> BeatMap:
    """Where the beats of a recording are: as they were listed, as was said, or as the file itself has them."""
    from companion.music.played import BeatMap
    from companion.transcribe.midi_tune import own_beats

    if args.beats is not None:
        return beat_list(args.beats)
    if args.tempo is not None and start is not None:
        return BeatMap.steady(args.tempo, start)
    own, first = own_beats(file, args.tempo)
    if args.tempo is not None and abs(own.tempo(0.0) / args.tempo - 1.0) > SAME_TEMPO:
        return BeatMap.steady(args.tempo, first)
    if start is None:
        return own
    zero = round(own.beat(start))
    return BeatMap(tuple((beat - zero, moment) for beat, moment in own.points))


def beat_list(path: Path) -> BeatMap:
    """The beats of a list: rows of chart beat and seconds under the words chart_beat,seconds.

    Raises
    ------
    UseError
        It is none, or has fewer than two beats.
    """
    from companion.music.played import BeatMap

    try:
        with path.open(newline="", encoding="utf-8-sig") as file:
            rows = [(float(row["chart_beat"]), float(row["seconds"])) for row in csv.DictReader(file)]
    except OSError as error:
        raise UseError((error.strerror or "can't be read").lower(), file=str(path)) from None
    except (KeyError, ValueError, TypeError, UnicodeDecodeError):
        raise UseError("is no list of beats", file=str(path), mend="begin it with: chart_beat,seconds") from None
    points = _going_on(rows)
    if len(points) < 2:
        raise UseError("has fewer than two beats", file=str(path), mend="list every beat: chart_beat,seconds")
    return BeatMap(tuple(points))


def _going_on(rows: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Beats that go on rising where a list begins again with each chorus."""
    points: list[tuple[float, float]] = []
    added, step = 0.0, 1.0
    for beat, moment in rows:
        if points and beat + added <= points[-1][0]:
            added = points[-1][0] + step - beat
        elif points:
            step = beat + added - points[-1][0]
        if not points or moment > points[-1][1]:
            points.append((beat + added, moment))
    return points


# At the keyboard


def _live(args: argparse.Namespace, wanted: KnownTune, symbols: Sequence[tuple[Fraction, Chord]] | None) -> int:
    from dataclasses import replace

    from companion.stage.capture import Capture, CaptureSettings
    from companion.stage.live import play
    from companion.stage.settings import Settings

    played = not (args.type or args.no_chords or symbols is not None)
    capture = Capture(CaptureSettings(wanted.metre, args.tempo, args.count_in, args.bars, played))
    interrupted: BaseException | None = None
    try:
        play(
            _skeleton(wanted),
            Settings(you=frozenset({"melody"}), parts=("click",), tempo=args.tempo),
            port_in=args.port_in,
            port_out=args.port_out,
            midi=args.midi,
            sound=args.sound,
            rehearsal=capture,
            ask=ask if is_terminal() else None,
        )
    except (KeyboardInterrupt, DeviceError) as stop:
        if capture.melody is None:
            raise
        interrupted = stop  # what there is is written all the same
    if capture.melody is None:
        raise UseError("no note was played", mend="play the melody after the count-in")
    wanted = replace(wanted, tempo=capture.tempo and round(capture.tempo))
    chords: Pass | Sequence[tuple[Fraction, Chord]] | None = capture.chords if symbols is None else symbols
    if args.type and interrupted is None:
        chords = _typed(wanted.metre)
    status = _write(args, wanted, capture.melody, chords)
    if interrupted is not None:
        raise interrupted
    return status


def _skeleton(wanted: KnownTune) -> Chart:
    """The empty chart under which the take is kept."""
    from fractions import Fraction

    from companion.chart.model import Chart, ChordSpan, Section
    from companion.music.chords import NO_CHORD

    bars = (wanted.metre.bar,) * (wanted.bars or SKELETON_BARS)
    silent = (ChordSpan(Fraction(0), sum(bars, Fraction(0)), NO_CHORD),)
    fifths, minor = wanted.key or (0, False)
    feel = wanted.feel or "swing"
    section = Section("tune", bars, silent)
    return Chart(wanted.title, (section,), ("tune",), wanted.metre, fifths, minor, wanted.tempo or 120.0, feel)


def _typed(metre: Metre) -> list[tuple[Fraction, Chord]] | None:
    """Ask for the chords in the terminal, until a line can be read or is empty."""
    print("type the chords in bars, such as | Dm7 G7 | Cmaj7 | (an empty line: none):", file=sys.stderr)
    text = ""
    while True:
        line = sys.stdin.readline()
        text += line
        if not line.strip():
            if not text.strip():
                return None
            try:
                return _symbols(text, metre)
            except CompanionError as error:
                if not line:
                    raise
                print(f"{error}; once more:", file=sys.stderr)
                text = ""


# The chart


def _write(
    args: argparse.Namespace,
    wanted: KnownTune,
    melody: Pass | None,
    chords: Pass | Sequence[tuple[Fraction, Chord]] | None,
) -> int:
    from companion.cli.importing import keep_imported
    from companion.transcribe.captured import captured_chart

    assert melody is not None
    imported: Imported = captured_chart(melody, chords, wanted, source=str(args.source or ""))
    keep_imported(imported, args.out, force=args.force)
    return 0
