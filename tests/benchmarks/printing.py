"""Print every chart of a folder, and invented ones of every sort, and look for what an engraver would be ashamed of.

    python tests/benchmarks/printing.py FOLDER --made 40 --keep /tmp/printed

Each chart is printed as a lead sheet, for two hands and for each hand alone. Counted are: what the engraver and the
maker of the PDF said on standard error (caught at the file descriptor); ink beyond the edge of the paper; words and
signs that stand on one another or on notes; heads, rests, dots and ties that do (``collisions.py``, but for
accidentals, which the engraver sets close); lines without a note; pages with one line where there are several pages; a
lead sheet that isn't the same chart when it is read again; a MIDI file that doesn't read back as it was written;
with ``--schema``, MusicXML that doesn't keep to the schema of MusicXML 4.0 (as the package ``musicxml`` carries it).
Prints a line a fault, then counts and the seconds a page. Exit status 1 when there is a fault.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import re
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path
from typing import Any

from collisions import collisions

from companion.chart.model import Chart, ChordSpan, Event, Form, MelodyNote, Section
from companion.chart.musicxml.read import read_musicxml
from companion.engrave import page
from companion.engrave.musicxml_out import musicxml
from companion.engrave.paper import Paper
from companion.engrave.programme import arrangement, sounding, with_order
from companion.engrave.recording import NOTE_ON, midi_file, sounded
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Sheet
from companion.errors import CompanionError
from companion.load import load
from companion.music.chords import NO_CHORD, Chord, parse_chord
from companion.music.meter import Metre, parse_metre
from companion.music.pitch import pitch_in_key
from companion.resources import CHART_SUFFIXES

WAYS = ("lead", "both", "right", "left")
STAVES = {"both": (1, 2), "right": (1,), "left": (2,)}
WORDS = ("harm", "dir", "reh", "ending", "repeatMark", "mNum")
IN_LETTERS = ("harm", "dir", "reh")
INK = ("note", "rest", "accid", "stem", "flag", "beam", "dots")
TOUCH = 60.0
"""Hundredths of a millimetre that two boxes may share: letters don't fill theirs."""
PAPER = (21000.0, 29700.0)


@dataclass(frozen=True)
class Box:
    what: str
    x: float
    y: float
    right: float
    foot: float
    text: str = ""

    def meets(self, other: Box) -> bool:
        across = min(self.right, other.right) - max(self.x, other.x)
        down = min(self.foot, other.foot) - max(self.y, other.y)
        return across > TOUCH and down > TOUCH


# invented charts

QUALITIES = (
    "", "m", "7", "maj7", "m7", "m7b5", "dim7", "7alt", "7b9", "13", "9sus4", "maj7#11", "m(maj7)", "7(b9,b13)", "6/9",
    "maj13", "7#5", "m11", "13#11", "aug",
)  # fmt: skip
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B", "Cb", "Fb", "E#", "B#")
METRES = ("4/4", "3/4", "6/8", "5/4", "2/2", "7/8", "12/8", "2/4", "3/2", "6/4", "5/8", "9/8", "7/4", "3/8")
UNITS = (Fraction(1, 2), Fraction(1), Fraction(1, 4), Fraction(1, 3), Fraction(3, 2), Fraction(1, 6))
FORMS = ("A", "A A B A", "A B", "A A", "A B A C", "A A A A", "A B C D", "A1 A2 B A2", "A B A B")


def invented(number: int) -> Chart:
    """A chart of no use to a player: odd metres, crowded or empty bars, any key."""
    chance = random.Random(number)
    metre = parse_metre(chance.choice(METRES))
    fifths, minor = chance.randint(-7, 7), chance.random() < 0.4
    form = chance.choice(FORMS).split()
    names = list(dict.fromkeys(form))
    made: dict[str, Section] = {}
    for name in names:
        before = made.get(f"{name[0]}1")
        made[name] = _ended_anew(before, chance) if before and len(name) > 1 else _section(name, metre, fifths, chance)
        made[name] = replace(made[name], name=name)
    events: tuple[Event, ...] = ()
    if chance.random() < 0.5:
        how = chance.choice(["vamp", "last-four", "pedal"])
        ending = chance.choice(["tag", "held", "vamp", "ritardando"])
        events = (
            Event("introduction", how=how), Event("head"), Event("solos", choruses=chance.randint(1, 5)),
            Event("head"), Event("ending", how=ending),
        )  # fmt: skip
    words = chance.choice(["Kettle", "A Very Long Walk Along the Canal in Somebody Else's Boots, and Back Again", "Q"])
    return Chart(
        title=f"{words} No. {number}",
        sections=tuple(made.values()),
        form=tuple(form),
        metre=metre,
        fifths=fifths,
        minor=minor,
        tempo=float(chance.choice([40, 66, 96, 132, 180, 260, 300])),
        feel=chance.choice(["swing", "straight"]),
        composer=chance.choice([None, "N. O. Body"]),
        events=events,
    )


def _section(name: str, metre: Metre, fifths: int, chance: random.Random) -> Section:
    count = chance.choice([1, 2, 4, 7, 8, 8, 8, 12, 16])
    bars = [metre.bar] * count
    if chance.random() < 0.1:
        bars[-1] = metre.bar + Fraction(1, 2) * chance.choice([-1, 1, 2])
    length = sum(bars, Fraction(0))
    spans: list[ChordSpan] = []
    if chance.random() > 0.05:
        at = Fraction(0)
        crowded = chance.random() < 0.2
        while at < length:
            step = chance.choice([1] if crowded else [metre.bar, metre.bar / 2, 2 * metre.bar, Fraction(1)])
            end = min(length, at + step)
            spans.append(ChordSpan(at, end, _chord(chance)))
            at = end
    melody: list[MelodyNote] = []
    if chance.random() > 0.1:
        unit = chance.choice(UNITS)
        at = -unit * chance.choice([0, 0, 1, 2, 3])
        at = at if -at < metre.bar else Fraction(0)  # a longer one would come back as a bar that leads in
        pitch = chance.randint(60, 79)
        while at < length - unit:
            step = unit * chance.choice([1, 1, 1, 2, 3, 4])
            pitch = min(91, max(53, pitch + chance.choice([-5, -3, -2, -1, 0, 1, 2, 4, 7])))
            if chance.random() > 0.15:
                melody.append(MelodyNote(at, min(step, length - at), pitch_in_key(pitch, fifths)))
            at += step
    return Section(name, tuple(bars), tuple(spans), tuple(melody))


def _ended_anew(section: Section, chance: random.Random) -> Section:
    """The same section with another last bar."""
    start = sum(section.bars[:-1], Fraction(0))
    chords = [span for span in section.chords if span.start < start]
    if chords:
        chords[-1] = replace(chords[-1], end=start)
        chords.append(ChordSpan(start, start + section.bars[-1], _chord(chance)))
    return replace(section, chords=tuple(chords))


def _chord(chance: random.Random) -> Chord:
    if chance.random() < 0.04:
        return NO_CHORD
    bass = f"/{chance.choice(ROOTS)}" if chance.random() < 0.1 else ""
    return parse_chord(chance.choice(ROOTS) + chance.choice(QUALITIES) + bass)


# what is looked at


@contextmanager
def overheard() -> Iterator[Callable[[], str]]:
    """What is written to the file descriptors of standard output and error meanwhile, by libraries in C, too."""
    with tempfile.TemporaryFile() as heard:
        kept = [(fd, os.dup(fd)) for fd in (1, 2)]
        sys.stdout.flush()
        sys.stderr.flush()
        for fd, _ in kept:
            os.dup2(heard.fileno(), fd)

        def said() -> str:
            heard.seek(0)
            return heard.read().decode(errors="replace").strip()

        try:
            yield said
        finally:
            for fd, copy in kept:
                os.dup2(copy, fd)
                os.close(copy)


@contextmanager
def talkative() -> Iterator[None]:
    """The engraver warns, and draws the box of whatever it draws."""
    import verovio

    quiet, engrave = verovio.enableLog, page._engrave
    verovio.enableLog = lambda level: None
    quiet(verovio.LOG_WARNING)

    def boxed(engraver: Any, sheet: Sheet, paper: Paper, staff: float, **options: Any) -> int:
        return engrave(engraver, sheet, paper, staff, **{**options, "svgBoundingBoxes": True})

    page._engrave = boxed
    try:
        yield
    finally:
        verovio.enableLog, page._engrave = quiet, engrave


_NUMBER = r'"(-?[\d.]+)"'
_BOX = re.compile(
    rf'class="(\w+)[^"]* bounding-box"[^>]*>\s*<rect x={_NUMBER} y={_NUMBER} height={_NUMBER} width={_NUMBER}'
)
_GROUP = re.compile(r'<g id="[^"]*" class="(\w+)')


_MOVED = re.compile(r' transform="translate\(0, (-?[\d.]+)\)"')


def boxes(svg: str) -> list[Box]:
    """The boxes of a line of music, words by the kind of sign that they belong to."""
    found = []
    sign = ""
    for part in re.split(r"(?=<g )", svg):
        if (group := _GROUP.match(part)) and "bounding-box" not in part[:80] and group[1] in (*WORDS, *INK):
            sign = group[1]
        if (box := _BOX.search(part)) and box[1] not in IN_LETTERS:
            what = sign if box[1] == "text" else box[1]
            x, y, height, width = map(float, box.groups()[1:])
            found.append(Box(what, x, y, x + width, y + height))
    return found


def page_faults(svg: str, number: int, count: int) -> list[str]:
    found = []
    lines = svg.split('class="pgHead')[0].split('class="system"')[1:]
    shift = re.search(r'class="page-margin" transform="translate\((-?[\d.]+), (-?[\d.]+)\)', svg)
    left, top = (float(shift[1]), float(shift[2])) if shift else (0.0, 0.0)
    for k, line in enumerate(lines, 1):
        where = f"page {number} of {count}, line {k}"
        if 'class="note"' not in line and 'class="rest"' not in line and 'class="mRest"' not in line:
            found.append(f"{where}: nothing stands there")
        drawn = boxes(line)
        down = top + float(moved[1]) if (moved := _MOVED.match(line)) else top
        for box in drawn:
            out = box.x + left < 0 or box.right + left > PAPER[0] or box.y + down < 0 or box.foot + down > PAPER[1]
            if out and box.what not in ("tie", "octave", "system", "page"):
                found.append(f"{where}: {box.what} reaches beyond the paper")
        words = [box for box in drawn if box.what in WORDS]
        ink = [box for box in drawn if box.what in INK]
        met = Counter((a.what, b.what) for n, a in enumerate(words) for b in (*words[n + 1 :], *ink) if a.meets(b))
        found += [f"{where}: {a} on {b} ({times})" for (a, b), times in met.items()]
    near = Counter(fault.split(": ")[1] for fault in collisions(svg))
    found += [f"page {number} of {count}: {what} ({times})" for what, times in near.items() if "accid" not in what]
    if count > 1 and number == count and len(lines) == 1 and count > 2:
        found.append(f"page {number} of {count} has one line")
    return found


def changes(form: Form) -> list[tuple[Fraction, Chord]]:
    return [next(same) for _, same in groupby(((s.start, s.chord) for s in form.chords), key=lambda pair: pair[1])]


def differences(chart: Chart, again: Chart) -> list[str]:
    """What a lead sheet holds and its reading doesn't."""
    one, other = chart.unfold(), again.unfold()
    keys = ("metre", "fifths", "minor", "tempo", "feel", "length", "bars", "melody")
    found = [key for key in keys if getattr(one, key) != getattr(other, key)]
    if changes(one) != changes(other):
        found.append("chords")
    if (chart.title, chart.composer) != (again.title, again.composer):
        found.append("title or composer")
    return found


def midi_faults(chart: Chart) -> list[str]:
    import mido

    form, notes = sounding(chart)
    written = Counter((round(m.beat * 960), m.data1) for m in sounded(form, notes) if m.status == NOTE_ON)
    read: Counter[tuple[int, int]] = Counter()
    for track in mido.MidiFile(file=io.BytesIO(midi_file(form, notes, chart.title))).tracks:
        at = 0
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity:
                read[at, message.note] += 1
    return [] if read == written else [f"MIDI: {len((read - written) + (written - read))} notes differ"]


def schema() -> Any:
    import xmlschema

    spec = find_spec("musicxml")
    assert spec and spec.submodule_search_locations
    folder = Path(spec.submodule_search_locations[0]) / "generate_classes"
    xml = [("http://www.w3.org/XML/1998/namespace", str(folder / "xml.xsd"))]
    return xmlschema.XMLSchema(str(folder / "musicxml_4_0.xsd"), allow="local", locations=xml)


@dataclass
class Tally:
    charts: int = 0
    sheets: int = 0
    pages: int = 0
    folded: int = 0
    seconds: float = 0.0
    slowest: float = 0.0


def look_at(chart: Chart, name: str, keep: Path | None, rules: Any, tally: Tally, ways: Iterable[str]) -> list[str]:
    found: list[str] = []
    for way in ways:
        started = time.perf_counter()
        if way == "lead":
            sheet = with_order(lead_sheet(chart), chart)
            tally.folded += len(sheet.bars) < len(chart.unfold().bars)
        else:
            sheet = arrangement(chart, staves=STAVES[way])
        with overheard() as said, talkative():
            svgs = page.pages(sheet)
            page.pdf(svgs, sheet.title)
            warned = said()
        spent = time.perf_counter() - started
        tally.sheets, tally.pages, tally.seconds = tally.sheets + 1, tally.pages + len(svgs), tally.seconds + spent
        tally.slowest = max(tally.slowest, spent / len(svgs))
        found += [f"{way}: said: {line}" for line in warned.splitlines()]
        found += [f"{way}: {fault}" for n, svg in enumerate(svgs, 1) for fault in page_faults(svg, n, len(svgs))]
        if keep:  # drawn again without the boxes, which the maker of the PDF can't do with
            (keep / f"{name}-{way}.pdf").write_bytes(page.pdf(page.pages(sheet), sheet.title))
        text = musicxml(sheet)
        if rules is not None:
            found += [f"{way}: schema: {fault.reason}" for fault in rules.iter_errors(text)]
        if way == "lead":
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "sheet.musicxml"
                path.write_text(text, encoding="utf-8")
                found += [f"read again: {what} differs" for what in differences(chart, read_musicxml(path))]
    return [f"{name}: {fault}" for fault in found + midi_faults(chart)]


def charts(folder: Path | None, made: int) -> Iterator[tuple[str, Chart | CompanionError]]:
    for path in sorted(folder.iterdir()) if folder else []:
        if path.suffix.lower() in CHART_SUFFIXES:
            try:
                yield path.stem, load(path)
            except CompanionError as error:
                yield path.stem, error
    for number in range(made):
        yield f"made-{number}", invented(number)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", help="with charts of any kind that can be read")
    parser.add_argument("--made", type=int, default=0, metavar="N", help="so many invented charts besides")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="where to leave the pages")
    parser.add_argument("--only", metavar="LIST", default=",".join(WAYS), help="of lead, both, right, left")
    parser.add_argument("--schema", action="store_true", help="hold the MusicXML to its schema, too")
    args = parser.parse_args()
    if args.keep:
        args.keep.mkdir(parents=True, exist_ok=True)
    rules = schema() if args.schema else None
    tally, faults = Tally(), []
    for name, chart in charts(args.folder, args.made):
        if isinstance(chart, CompanionError):
            found = [f"{name}: not read: {chart}"]
        else:
            tally.charts += 1
            found = look_at(chart, name, args.keep, rules, tally, args.only.split(","))
        for fault in found:
            print(fault, flush=True)
        faults += found
    per_page = tally.seconds / max(1, tally.pages)
    print(f"{tally.charts} charts, {tally.sheets} sheets, {tally.pages} pages; {tally.folded} lead sheets folded")
    print(f"{per_page:.2f} s a page, {tally.slowest:.2f} s at most, the arranging included")
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
