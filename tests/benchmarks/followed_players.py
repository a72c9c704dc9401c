"""The players that following is measured on: each with chart, performance, settings and the true beats.

DATA is a folder with any of these; what each holds is described beside it:

=============  =====================================================================================================
sessions/      ``index.csv`` (id, kind, leadsheet), ``ID.mid`` as played, truth ``ID.csv``: chart_beat,seconds,pass,mark
practising/    as sessions; its index has what the companion is told, too: you, told_tempo, told_start (empty: nothing)
leadsheets/    the sessions' charts, ``NNN.mxl`` or ``NNN.musicxml``; made-up players practise some of them, too
rubato/        ``index.csv`` (case, piece, sheet, melody, left, truth), scores, performances, truth as in sessions
pulse/         one CSV a recording: ``kind,seconds,beat_index`` with beats, and the pianist's onsets without pitch
tunes/         one JSON a song: ``beats_per_bar``, ``bpm``, ``melody`` rows [beat, length, MIDI number]
=============  =====================================================================================================

The count-in is given to the companion as a tempo and the moment of chart beat 0: the straight line through the beats
marked ``count_in``, or through the first eight.
"""

from __future__ import annotations

import bisect
import csv
import json
import random
import statistics
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from beat_scores import TrueBeat, equal_places
from practising_players import KINDS, SET_ASIDE, UNCOUNTED, perform

from companion.chart.model import Chart, ChordSpan, MelodyNote, Section
from companion.load import load
from companion.messages import Heard
from companion.music.chords import NO_CHORD
from companion.music.meter import Metre
from companion.music.pitch import pitch_in_key
from companion.resources import shipped_folder
from companion.stage.performance import performance_length, read_performance
from companion.stage.settings import Settings

PARTS_OF_KIND = {
    "comping": "chords",
    "solo": "solo",
    "solo-loose": "solo",
    "bassline": "bass",
    "right-hand": "melody,chords",
}
"""What the player plays in each kind of session, where it isn't the melody."""
COUNTED = 8
"""Beats of a recording that are given as its count-in."""
JITTER = 0.020
"""Seconds, standard deviation: how far a played tune's notes lie from the recording's beats."""
LONGEST_REST = 8
"""Quarters of rest in a played tune beyond which whole bars are left out: long silences can't be foreseen."""
SLIPS = 0.03
"""Share of a played tune's notes that are wrong, left out, and preceded by an unwritten one."""
MADE_OF_OURS, MADE_OF_SHEETS = 5, 3
"""How many made-up players of each kind practise our own charts, and lead sheets of DATA where there are any."""
MIDDLES = (0.3, 0.5, 0.7)
"""Parts of the form after which a player who begins in its middle comes in, at the next bar."""


@dataclass(frozen=True)
class Player:
    """One performance to be followed.

    Attributes
    ----------
    row : str
        The line of the table it counts for.
    truth : tuple of TrueBeat
        Every beat after the count-in, in order of time.
    judged_from : int
        Index of the first of them that counts for the hold.
    counted : dict, optional
        Where only the count tells the beats: their moments by number, the first one said being number 8.
    equal : tuple, optional
        For each true beat the chart beats that nobody could tell from it.
    """

    row: str
    name: str
    chart: Chart
    heard: tuple[Heard, ...]
    settings: Settings
    until: float
    truth: tuple[TrueBeat, ...]
    judged_from: int = 0
    counted: dict[int, float] | None = None
    equal: tuple[tuple[float, ...], ...] | None = None


@dataclass(frozen=True)
class Entry:
    """A player not yet read: its row and name, and what makes it (a function and its arguments)."""

    row: str
    name: str
    make: Callable[..., Player]
    arguments: tuple[object, ...]

    def player(self) -> Player:
        """Read it, or make it."""
        return self.make(self.row, self.name, *self.arguments)


def settings(parts: str, tempo: float | None = None, start: float | None = None) -> Settings:
    """The companion's settings for a player of these parts; it plays nothing itself, which is faster."""
    counted = None if tempo is None or start is None else (round(tempo, 3), round(start, 4))
    base = Settings(you=frozenset(parts.split(",")), parts=(), treatment="walking", seed=1)
    return base if counted is None else replace(base, tempo=counted[0], start=counted[1])


def count_in(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Tempo in quarters a minute, and the moment of beat 0, from (beat, seconds)."""
    slope, intercept = statistics.linear_regression(*zip(*points, strict=True))
    return 60 / slope, intercept


def read_truth(path: Path) -> tuple[list[tuple[float, float]], list[TrueBeat], list[int]]:
    """A truth file's count-in as (beat, seconds), its beats, and which time through the form each belongs to."""
    with path.open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    counted = [(float(r["chart_beat"]), float(r["seconds"])) for r in rows if r["mark"] == "count_in"]
    played = [r for r in rows if r["mark"] != "count_in"]
    beats = [TrueBeat(float(r["chart_beat"]), float(r["seconds"]), r["mark"]) for r in played]
    return counted, beats, [int(r["pass"]) for r in played]


# Sessions


def _index(folder: Path) -> list[dict[str, str]]:
    with (folder / "index.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


def _sheet(data: Path, number: str) -> Path:
    return next(p for suffix in ("mxl", "musicxml") if (p := data / "leadsheets" / f"{number}.{suffix}").exists())


def _files(data: Path, row: Mapping[str, str]) -> tuple[Path, Path, Path]:
    """A session's chart, performance and truth."""
    folder = data / "sessions"
    return _sheet(data, row["leadsheet"]), folder / f"{row['id']}.mid", folder / f"{row['id']}.csv"


def sessions(data: Path) -> Iterator[Entry]:
    """Sessions of each kind, counted in."""
    for r in _index(data / "sessions"):
        yield Entry(r["kind"], r["id"], counted_in, (*_files(data, r), PARTS_OF_KIND.get(r["kind"], "melody")))


def counted_in(row: str, name: str, sheet: Path, performance: Path, truth: Path, parts: str) -> Player:
    """A performance with its score and its truth, from the count-in."""
    counted, beats, _ = read_truth(truth)
    return Player(
        row,
        name,
        load(sheet),
        tuple(read_performance(performance)),
        settings(parts, *count_in(counted)),
        performance_length(performance),
        tuple(beats),
    )


def practising(data: Path) -> Iterator[Entry]:
    """Players as they practise: counted in rightly or wrongly, or not at all."""
    folder = data / "practising"
    for r in _index(folder):
        files = (_sheet(data, r["leadsheet"]), folder / f"{r['id']}.mid", folder / f"{r['id']}.csv")
        told = (float(r["told_tempo"]), float(r["told_start"])) if r["told_tempo"] else (None, None)
        name = r["id"] if r["told_tempo"] else f"{r['id']}-free"
        yield Entry(r["kind"], name, told_so, (*files, r["you"], *told))


def told_so(
    row: str,
    name: str,
    sheet: Path,
    performance: Path,
    truth: Path,
    parts: str,
    tempo: float | None,
    start: float | None,
) -> Player:
    """A performance with its truth, and a count-in that need not be true."""
    _, beats, _ = read_truth(truth)
    heard, until = tuple(read_performance(performance)), performance_length(performance)
    return Player(row, name, load(sheet), heard, settings(parts, tempo, start), until, tuple(beats))


def made(data: Path) -> Iterator[Entry]:
    """Made-up players who practise, over our own charts and DATA's lead sheets."""
    for kind in KINDS:
        for chart, name in _practised(data, kind):
            yield Entry(f"made {kind}", name, made_up, (chart, kind, True))
            if kind in UNCOUNTED:
                yield Entry(f"made {kind}-free", f"{name}-free", made_up, (chart, kind, False))


def aside(data: Path) -> Iterator[Entry]:
    """The same of the kinds that nobody tunes on."""
    for kind in SET_ASIDE:
        for chart, name in _practised(data, kind):
            yield Entry(f"aside {kind}", name, made_up, (chart, kind, True))


def _practised(data: Path, kind: str) -> Iterator[tuple[Path, str]]:
    """Charts for the players of a kind, each with a name for the player."""
    ours = sorted((shipped_folder() / "charts").glob("*.toml"))
    sheets = sorted((data / "leadsheets").glob("*.m*xl"))
    chance = random.Random(kind)
    chosen = chance.sample(ours, MADE_OF_OURS) + chance.sample(sheets, min(MADE_OF_SHEETS, len(sheets)))
    for chart in chosen:
        yield chart, f"made-{kind}-{chart.stem}"


def made_up(row: str, name: str, sheet: Path, kind: str, counted: bool) -> Player:
    """A made-up player of a kind; whether they are counted in."""
    chart = load(sheet)
    played = perform(chart.unfold(), kind, name.removesuffix("-free"))
    told = settings(played.you, played.tempo, played.start) if counted else settings(played.you)
    return Player(row, name, chart, played.heard, told, played.until, played.truth)


def rubato(data: Path) -> Iterator[Entry]:
    """The melody of free performances."""
    yield from _free(data, "melody", "melody", "rubato {}")


def left(data: Path) -> Iterator[Entry]:
    """The left hand of free performances."""
    yield from _free(data, "left", "bass", "left hand {}")


def _free(data: Path, column: str, parts: str, row: str) -> Iterator[Entry]:
    folder = data / "rubato"
    for r in _index(folder):
        files = (folder / r["sheet"], folder / r[column], folder / r["truth"])
        yield Entry(row.format(r["piece"]), f"{r['case']}_{column}", counted_in, (*files, parts))


# Without a count-in


def nocount(data: Path) -> Iterator[Entry]:
    """Sessions from their first note, and cut to begin in the middle of the form; nothing is told of tempo or start."""
    for r in _index(data / "sessions"):
        if r["kind"] not in ("melody-human", "comping"):
            continue
        files = _files(data, r)
        parts = PARTS_OF_KIND.get(r["kind"], "melody")
        known = 2 if parts == "melody" else 4
        yield Entry(f"{r['kind']} from the top", f"{r['id']}_top", uncounted, (*files, parts, known, None))
        if r["kind"] == "melody-human":
            for part in MIDDLES:
                name = f"{r['id']}_middle{100 * part:.0f}"
                yield Entry(f"{r['kind']} from the middle", name, uncounted, (*files, parts, known, part))


def uncounted(
    row: str, name: str, sheet: Path, performance: Path, truth: Path, parts: str, known: int, after: float | None
) -> Player:
    """A performance from its first note, or from the first bar line after that part of the form.

    Beats count from ``known`` bars after the first one heard.
    """
    chart = load(sheet)
    form = chart.unfold()
    bar, length = float(form.metre.bar), float(form.length)
    _, beats, passes = read_truth(truth)
    heard = read_performance(performance)
    if after is not None:
        lines = [b for b in beats if b.chart_beat >= after * length and b.chart_beat % bar < 1e-6]
        cut = lines[0].seconds - 0.1
        heard = [h for h in heard if h.seconds >= cut]
    entry = next(h.seconds for h in heard if h.is_note_on)
    first = next(n for n, b in enumerate(beats) if b.seconds >= entry - 0.3)
    beats, passes = beats[first:], passes[first:]
    unwrapped = [b.chart_beat + length * (p - passes[0]) for b, p in zip(beats, passes, strict=True)]
    start = unwrapped[0] - 0.25
    melody = [(float(n.beat), n.pitch.midi) for n in form.melody]
    equal = equal_places(melody, length, bar, start, unwrapped) if "melody" in parts else [[] for _ in beats]
    judged = next(n for n, b in enumerate(unwrapped) if b >= unwrapped[0] + known * bar - 1e-6)
    return Player(
        row,
        name,
        chart,
        tuple(heard),
        settings(parts),
        performance_length(performance),
        tuple(beats),
        judged_from=judged,
        equal=tuple(map(tuple, equal)),
    )


# Recordings


def _recording(path: Path) -> tuple[dict[int, float], list[float]]:
    """A recording's beats by index, and its pianist's onsets."""
    with path.open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    beats = {int(r["beat_index"]): float(r["seconds"]) for r in rows if r["kind"] == "beat"}
    return beats, sorted(float(r["seconds"]) for r in rows if r["kind"] == "piano" and float(r["seconds"]) >= 0)


def pulse(data: Path) -> Iterator[Entry]:
    """Pianists heard without pitch, over a chart without chords."""
    for path in sorted((data / "pulse").glob("*.csv")):
        yield Entry("pulse", path.stem, unpitched, (path,))


def unpitched(row: str, name: str, path: Path) -> Player:
    """A recording's onsets, all on one key."""
    beats, onsets = _recording(path)
    tempo, start = count_in([(i - COUNTED, t) for i, t in sorted(beats.items())[:COUNTED]])
    heard = []
    for n, onset in enumerate(onsets):
        following = onsets[n + 1] - 0.005 if n + 1 < len(onsets) else onset + 0.1
        heard += [Heard(_ticked(onset), 0x90, 60, 80)]
        heard += [Heard(_ticked(max(min(onset + 0.1, following), onset + 0.002)), 0x80, 60, 64)]
    heard.sort(key=lambda h: h.seconds)
    truth = [TrueBeat((i - COUNTED) % 128, t) for i, t in sorted(beats.items()) if i >= COUNTED]
    chart = _plain("No chords", 32, (), tempo=120.0, feel="swing")
    return Player(
        row, name, chart, tuple(heard), settings("solo", tempo, start), heard[-1].seconds, tuple(truth), counted=beats
    )


def _ticked(seconds: float) -> float:
    """As a file at 1920 ticks a second would have it."""
    return round(seconds * 1920) / 1920


def _plain(title: str, bars: int, melody: Sequence[MelodyNote], *, tempo: float, feel: str) -> Chart:
    """A chart of one section in 4/4 without chords."""
    metre = Metre()
    length = bars * metre.bar
    section = Section("A", (metre.bar,) * bars, (ChordSpan(Fraction(0), length, NO_CHORD),), tuple(melody))
    return Chart(title, (section,), ("A",), metre=metre, tempo=tempo, feel=feel)


def tunes(data: Path) -> Iterator[Entry]:
    """Tunes whose beats are a recording's: the slower the tune, the slower the recording."""
    songs = sorted((data / "tunes").glob("*.json"), key=lambda p: (json.loads(p.read_text())["bpm"], p.stem))
    recordings = []
    for path in sorted((data / "pulse").glob("*.csv")):
        beats, _ = _recording(path)
        first, last = min(beats), max(beats)
        if len(beats) >= 180:
            recordings.append(((last - first) / (beats[last] - beats[first]), path))
    recordings.sort(key=lambda pair: (pair[0], pair[1].stem))
    for song, (_, recording) in zip(songs, recordings, strict=False):
        yield Entry("tunes", song.stem, tune, (song, recording))


def tune(row: str, name: str, song: Path, recording: Path) -> Player:
    """A tune's melody on a recording's beats, jittered and with slips; its random numbers follow from its name.

    Whole bars before the first note are left out, and of longer rests, and what the recording is too short for.
    """
    written = json.loads(song.read_text())
    rows = sorted((round(b * 48), round(length * 48), midi) for b, length, midi in written["melody"])
    rows = closed_up(rows, 48 * LONGEST_REST, 192)
    beats, _ = _recording(recording)
    indices = sorted(beats)
    moments = [_between(indices, beats, i) for i in range(indices[0], indices[-1] + 1)]
    melody = []
    for this, after in zip(rows, [*rows[1:], (rows[-1][0] + 192, 0, 0)], strict=True):
        if size := min(this[1], after[0] - this[0]):
            melody.append(MelodyNote(Fraction(this[0], 48), Fraction(size, 48), pitch_in_key(this[2])))
    bars = -(-(rows[-1][0] + rows[-1][1]) // 192)
    tempo, start = count_in([(i - COUNTED, t) for i, t in enumerate(moments[:COUNTED])])
    chart = _plain(name, bars, melody, tempo=tempo, feel="straight")
    last = min(len(moments) - 1, COUNTED + 4 * bars)
    truth = [TrueBeat(i - COUNTED, moments[i]) for i in range(COUNTED, last)]
    chance = random.Random(zlib.crc32(name.encode()))
    heard = _played(melody, lambda beat: _at(moments[: last + 1], beat + COUNTED), chance)
    return Player(row, name, chart, tuple(heard), settings("melody", tempo, start), moments[last], tuple(truth))


def closed_up(rows: Sequence[tuple[int, int, int]], longest: int, bar: int) -> list[tuple[int, int, int]]:
    """Notes (start, length, MIDI number) with whole bars left out before the first, and of rests over the longest."""
    closed, end, gone = [], 0, 0
    for n, (start, size, midi) in enumerate(rows):
        rest = start - gone - end
        if rest > (longest if n else 0):
            gone += (rest - (longest if n else 0)) // bar * bar
        closed.append((start - gone, size, midi))
        end = max(end, start - gone + size)
    return closed


def _between(indices: list[int], beats: dict[int, float], i: int) -> float:
    """The moment of a beat that nobody marked, on the line between those about it."""
    if i in beats:
        return beats[i]
    k = bisect.bisect(indices, i)
    a, b = indices[k - 1], indices[k]
    return beats[a] + (beats[b] - beats[a]) * (i - a) / (b - a)


def _at(moments: Sequence[float], beat: float) -> float | None:
    """The moment of a place between two beats; None past the last one."""
    whole = int(beat)
    if whole + 1 >= len(moments):
        return None
    return moments[whole] + (moments[whole + 1] - moments[whole]) * (beat - whole)


def _played(melody: Sequence[MelodyNote], when: Callable[[float], float | None], chance: random.Random) -> list[Heard]:
    """The melody as somebody plays it: each note off by a little, a few of them wrong, left out or ornamented."""
    strokes: list[tuple[float, float, int]] = []
    for note in melody:
        moment, end = when(float(note.beat)), when(float(note.beat + note.length))
        off = max(-2.5, min(2.5, chance.gauss())) * JITTER
        slip, step = chance.random(), chance.choice((-2, -1, 1, 2))
        if moment is None or end is None or slip < SLIPS:
            continue
        struck = moment + off
        pitch = note.pitch.midi + (step if slip < 2 * SLIPS else 0)
        strokes.append((struck, max(struck + 0.03, end - 0.02), pitch))
        if 2 * SLIPS <= slip < 3 * SLIPS:
            strokes.append((struck - chance.uniform(0.06, 0.12), struck, note.pitch.midi + step))
    heard = []
    for struck, end, pitch in strokes:
        heard += [Heard(max(struck, 0.0), 0x90, pitch, chance.randint(60, 90)), Heard(max(end, 0.0), 0x80, pitch, 64)]
    return sorted(heard, key=lambda h: (h.seconds, h.status))


SETS: dict[str, Callable[[Path], Iterator[Entry]]] = {
    "sessions": sessions,
    "practising": practising,
    "made": made,
    "aside": aside,
    "rubato": rubato,
    "left": left,
    "pulse": pulse,
    "tunes": tunes,
    "nocount": nocount,
}
FOLDERS = {"left": "rubato", "nocount": "sessions", "made": ".", "aside": "."}
"""Where a set lies, if not in the folder of its name."""
ONLY_WHEN_ASKED = frozenset({"aside"})
"""Sets that are played only when they are asked for by name, lest anybody tune on them."""
