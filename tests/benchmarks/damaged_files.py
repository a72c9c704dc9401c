"""What the readers say to damaged files: valid ones, changed at random, and an answer to each within two seconds.

    python tests/benchmarks/damaged_files.py                        # 20 000 of each kind; takes an evening
    python tests/benchmarks/damaged_files.py --kind musicxml --kind abc --count 500
    python tests/benchmarks/damaged_files.py --kind take --count 5000 --keep /tmp/faults

A reader either reads a file or answers with one of our errors, which is one printable line. All else is a fault, and
is told with the place in our code where it was met: another exception or a warning, more than two seconds of processor
time, more than two gigabytes of memory, or a process that dies or is never heard of again. What was read is also used
as a command would use it: a chart is shown, checked and written as MusicXML, an imported one written as TOML.
``--keep`` keeps the files that were faults. The same seed and number give the same file.

A change is of bytes, words, numbers, lines, of a length (cut off, or a piece many times over), or of depth (a piece
between many brackets or inside many elements); of JSON and MIDI also of a single value or message, so that what is
changed gets past the parser, and inside a compressed file of the sheet in it.
"""

from __future__ import annotations

import argparse
import io
import json
import multiprocessing
import random
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from companion.errors import CompanionError

CHECKOUT = Path(__file__).resolve().parents[2]
PATIENCE = 2.0
"""Seconds of processor time for an answer, and as many times more as a file has grown, up to ``LARGER``."""
LARGER = 5.0
USING = 30.0
"""Seconds for showing and writing what was read: it may have two thousand bars."""
HUNG = 60.0
"""Seconds after which a process that says nothing is ended: long enough for a share of a busy machine."""
MEMORY = 2 << 30
"""Bytes that a process may take."""
Change = Callable[[bytes, random.Random], bytes]


# What is changed

NUMBERS = (b"0", b"-1", b"1", b"2", b"127", b"128", b"255", b"65536", b"-2147483649", b"99999999999999999999",
           b"0.0001", b"1e9", b"1e308", b"1e999", b"nan", b"inf", b"1/3", b"7/0", b"1" * 5000)  # fmt: skip
"""What is put in a number's place."""
BRACKETS = (b"[]", b"{}", b"()", b'""', b"<>", b"||")
TOKENS = re.compile(rb"[A-Za-z_]+|[0-9.]+|\s+|.", re.DOTALL)
DEEP, MANY = 3000, 400
"""Brackets one in the other; times that a piece is repeated."""


def _span(data: bytes, dice: random.Random, longest: int = 40) -> slice:
    at = dice.randrange(len(data) + 1)
    return slice(at, min(len(data), at + dice.randrange(1, longest)))


def _instead(data: bytes, place: slice, new: bytes) -> bytes:
    return data[: place.start] + new + data[place.stop :]


def bytes_changed(data: bytes, dice: random.Random) -> bytes:
    """Some bytes are others, gone, or more."""
    for _ in range(dice.choice((1, 1, 2, 20))):
        data = _instead(data, _span(data, dice, 3), dice.randbytes(dice.randrange(3)))
    return data


def words_changed(data: bytes, dice: random.Random) -> bytes:
    """Some words are others of the same file, twice there, or gone."""
    words = TOKENS.findall(data)
    for _ in range(dice.choice((1, 1, 2, 5)) if words else 0):
        at = dice.randrange(len(words))
        words[at] = dice.choice((b"", words[at] * 2, dice.choice(words), dice.choice(words), words[at].swapcase()))
    return b"".join(words)


def numbers_changed(data: bytes, dice: random.Random) -> bytes:
    """Some numbers are ones that nobody expects."""
    found = list(re.finditer(rb"-?[0-9][0-9.]*", data))
    for match in sorted(dice.sample(found, min(len(found), dice.choice((1, 1, 3)))), key=lambda m: -m.start()):
        data = _instead(data, slice(*match.span()), dice.choice(NUMBERS))
    return data


def lines_changed(data: bytes, dice: random.Random) -> bytes:
    """Lines are gone, twice there, joined, or stand elsewhere."""
    lines = data.splitlines(keepends=True)
    for _ in range(dice.choice((1, 1, 3)) if lines else 0):
        at, other = dice.randrange(len(lines)), dice.randrange(len(lines))
        lines[at] = dice.choice((b"", lines[at] * 2, lines[other], lines[at].rstrip()))
    return b"".join(lines)


def cut_off(data: bytes, dice: random.Random) -> bytes:
    """The end is missing, or the beginning."""
    at = dice.randrange(len(data) + 1)
    return data[:at] if dice.random() < 0.8 else data[at:]


def repeated(data: bytes, dice: random.Random) -> bytes:
    """A piece is there many times."""
    place = _span(data, dice, dice.choice((3, 40, 2000)))
    return _instead(data, place, data[place] * dice.choice((2, 7, MANY)))


def nested(data: bytes, dice: random.Random) -> bytes:
    """A piece lies between many brackets, or inside many elements."""
    place, depth = _span(data, dice), dice.choice((2, 30, DEEP))
    elements = re.findall(rb"<([a-z-]+)[^<>]*>", data)
    if elements and dice.random() < 0.7:
        match = dice.choice(list(re.finditer(rb"<[a-z-]+[^<>]*>", data)))
        name = dice.choice(elements)
        return _instead(data, slice(match.start(), match.start()), (b"<%s>" % name) * depth)
    left, right = (bytes([one]) for one in dice.choice(BRACKETS))
    return _instead(data, place, left * depth + data[place] + right * dice.choice((0, 1, depth)))


TEXT: tuple[Change, ...] = (
    bytes_changed, words_changed, words_changed, numbers_changed, numbers_changed, lines_changed, cut_off, repeated,
    nested,
)  # fmt: skip


def value_changed(data: bytes, dice: random.Random) -> bytes:
    """In JSON, or in lines of it, one value is another."""
    lines = data.splitlines(keepends=True) if data.startswith(b"[") else [data]
    at = dice.randrange(len(lines))
    table = json.loads(lines[at])
    holders = list(_holders(table))
    holder, key = dice.choice(holders)
    other, name = dice.choice(holders)
    odd: tuple[Any, ...] = (None, True, -1, 0, 1e308, 10**30, 2**53, "", "\ud800", "C", [], [1], {}, {"a": 1})
    if dice.random() < 0.1:
        del holder[key]
    else:
        holder[key] = dice.choice((*odd, other[name]))
    lines[at] = json.dumps(table).encode() + b"\n"
    return b"".join(lines)


def _holders(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every list and table in a value, with each of its keys."""
    for key in list(value) if isinstance(value, dict) else range(len(value)):
        yield value, key
        if isinstance(value[key], dict | list):
            yield from _holders(value[key])


def messages_changed(data: bytes, dice: random.Random) -> bytes:
    """In a Standard MIDI File some messages come at another time, twice, not at all, or are others; or its clock is."""
    import mido

    midi = mido.MidiFile(file=io.BytesIO(data))
    for _ in range(dice.choice((1, 3, 30))):
        track = dice.choice(midi.tracks)
        at = dice.randrange(len(track))
        message, kind = track[at], dice.randrange(6)
        if kind == 0:
            track[at] = message.copy(time=dice.choice((0, 1, 7, 479, 10_000, 2**21, 2**28 - 1)))
        elif kind == 1:
            del track[at]
        elif kind == 2:
            track[at:at] = [message] * dice.choice((1, 2, MANY))
        elif kind == 3:
            track[at] = dice.choice(dice.choice(midi.tracks) or [message])
        elif kind == 4 and not message.is_meta and hasattr(message, "note"):
            track[at] = message.copy(note=dice.randrange(128), channel=dice.randrange(16))
        else:
            metre = mido.MetaMessage(
                "time_signature", numerator=dice.choice((1, 5, 255)), denominator=dice.choice((1, 8, 128))
            )
            tempo = mido.MetaMessage("set_tempo", tempo=dice.choice((1, 1000, 2**24 - 1)))
            track.insert(at, dice.choice((metre, tempo)))
        if not track:
            track.append(message)
    midi.ticks_per_beat = dice.choice((*[midi.ticks_per_beat] * 8, 1, 3, 32767))
    saved = io.BytesIO()
    midi.save(file=saved)
    return saved.getvalue()


BINARY: tuple[Change, ...] = (bytes_changed, cut_off, repeated, messages_changed, messages_changed, messages_changed)


def inside_changed(data: bytes, dice: random.Random) -> bytes:
    """A file inside a compressed one is changed, and packed again in any way that there is."""
    way = dice.choice((zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA))
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(packed, "w", way) as new:
        names = old.namelist()
        meant = dice.choice(names)
        for name in names:
            content = old.read(name)
            new.writestr(name, dice.choice(TEXT)(content, dice) if name == meant else content)
    whole = packed.getvalue()
    return whole if dice.random() < 0.6 else bytes_changed(whole, dice)


COMPRESSED: tuple[Change, ...] = (bytes_changed, cut_off, repeated, inside_changed, inside_changed, inside_changed)


# What is read


@dataclass(frozen=True)
class Kind:
    """Files of one kind."""

    changes: tuple[Change, ...]
    read: Callable[[Path], object]
    """Reads one, and uses what it read; raises CompanionError where it can't."""
    valid: Callable[[], Mapping[str, bytes]]
    """By the path that it has in an empty folder."""


def _sheets() -> dict[str, bytes]:
    found = {path.name: path.read_bytes() for path in sorted((CHECKOUT / "tests" / "data").glob("*.musicxml"))}
    del found["all-kinds.musicxml"]  # a root with the kind "other" and no text has no symbol that reads back
    return found


def _compressed_sheets() -> dict[str, bytes]:
    from companion.engrave.musicxml_out import compressed

    return {f"{name}.mxl": compressed(data.decode(), name) for name, data in _sheets().items()}


def _charts() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((CHECKOUT / "charts").glob("*.toml"))}


def _arranged_charts() -> dict[str, bytes]:
    """Charts with both hands written note for note."""
    from companion.arrange.writing import write_arrangement
    from companion.chart.toml.read import parse_toml
    from companion.chart.toml.write import write_toml

    some = {name: parse_toml(data.decode()) for name, data in _charts().items()}
    return {name: write_toml(write_arrangement(chart, seed=1)).encode() for name, chart in list(some.items())[::4]}


def _preference_files() -> dict[str, bytes]:
    return {f"configs/{path.name}": path.read_bytes() for path in sorted((CHECKOUT / "configs").glob("*.toml"))}


TUNE = """%abc-2.1
X:1
T:Soap on the Stairs
M:4/4
L:1/8
Q:1/4=132
P:AABA
K:Gm
P:A
|:"Gm7" d2 (3cBA "C7" G2 E2|"Fmaj7" {g}F4- F2 z2|[1 "D7b9" ^F2 A2 c2 _e2:|[2 "D7b9" ^F2 A2 c4|]
w:one two three four five | six | se-ven eight nine ten | * _
P:B
"Bbmaj7" [Bd]4 "Eb7/G" e>d c<B|!fermata!"Am7b5" A8|[K:F] [M:3/4] "F6" f6|"^slowly" c'3 C,3|]
"""
"""A tune in ABC 2.1 with what its readers meet: repeats and endings, parts, triplets, grace notes, words."""
VOICES = """X:2
T:Two Hands
M:6/8
K:C
V:1 name="right"
V:2 clef=bass
[V:1] "C" c2d e2f | "G7" g3- g3 :|
[V:2] C,6 | G,,3 B,,3 :|
"""
"""Another for two hands."""


def _midi_files() -> dict[str, bytes]:
    """A tune with its arrangement, a lead sheet as a file with one track, and a recording of a rehearsal's."""
    from companion.chart.toml.read import parse_toml
    from companion.engrave.programme import sounding
    from companion.engrave.recording import midi_file, orders
    from companion.engrave.score import chart_melody
    from companion.messages import Heard
    from companion.stage.performance import recording_bytes

    chart = parse_toml(SMALL)
    form, notes = sounding(chart, treatment=None, seed=1)
    sent = orders(form, notes)
    heard = [Heard(o.seconds, o.status, o.data1, o.data2) for o in orders(form, chart_melody(form))]
    return {
        "tune.mid": midi_file(form, notes, chart.title, 1, None, plain=False),
        "lead.mid": midi_file(form, chart_melody(form), chart.title, 1, None, plain=True),
        "take.mid": recording_bytes(heard, sent, title=chart.title, markers=[(2.0, "A")]),
    }


SMALL = """format = 1
title = "Soap on the Stairs"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "swing"
form = "A A"

[section.A]
chords = "| Gm7 | Am7b5 D7 | Gm7 C7 | F6 |"
melody = "| d2 B2 A2 G2 | c3 d e2 c2 | B4 (3cBA G2 | F6 z2 |"
"""


def _takes() -> dict[str, bytes]:
    from companion.chart.toml.read import parse_toml
    from companion.messages import Beat, Heard, State
    from companion.stage.journal import head_line, line_of
    from companion.stage.settings import Settings
    from companion.stage.take_writer import TakeWriter

    events = [State(0.0, "counting", None, 120.0)]
    for n in range(32):
        seconds = 1.0 + n / 2
        note = 60 + n * 5 % 12
        events += [Beat(float(n), seconds, 0.9), Heard(seconds, 0x90, note, 80), Heard(seconds + 0.4, 0x80, note, 64)]
    chart = parse_toml(SMALL)
    with tempfile.TemporaryDirectory() as folder:
        writer = TakeWriter(chart, Settings(), Path(folder))
        for event in events:
            writer.add(event)
        kept = writer.close("ended")
        assert kept is not None
        files = {f"{TAKE}/{name}": (kept / name).read_bytes() for name in ("take.mid", "take.json")}
    table = json.loads(files[f"{TAKE}/take.json"])
    head = {name: table[name] for name in ("format", "companion", "title", "started", "chart", "settings")}
    return files | {f"{TAKE}/journal.jsonl": head_line(head) + b"".join(map(line_of, events))}


TAKE = "takes/2026-01-01-200000-soap-on-the-stairs"


def _marks() -> dict[str, bytes]:
    text = json.dumps({"api": "jack", "device": "upright", "channels": [0, 1]})
    return {"may-be-sounding/1-1.json": text.encode() + b"\n"}


def _beat_lists() -> dict[str, bytes]:
    rows = (f"{beat},{1 + beat / 2}" for beat in range(16))
    return {"beats.csv": "\n".join(("chart_beat,seconds", *rows)).encode() + b"\n"}


def only(*names: str) -> Callable[[], dict[str, bytes]]:
    """Of what a take leaves, the files that there are beside each other, the one to be changed first."""
    return lambda: {name: data for name, data in _takes().items() if name.rpartition("/")[2] in names}


# What is done with one


def read_chart(path: Path) -> None:
    """As 'chart check', 'chart show' and 'print --lead' do."""
    from companion.arrange.treatments import names
    from companion.load import check_file, load
    from companion.music.swing import feel_names

    faults = check_file(path, treatments=names(), feels=feel_names())
    for fault in faults:
        _one_line(str(fault))
    _use(load(path))


def _use(chart: Any) -> None:
    from companion.chart.show import show
    from companion.engrave.musicxml_out import musicxml
    from companion.engrave.score import lead_sheet
    from companion.engrave.writable import unprintable_bars

    with limits(USING):
        show(chart).encode()
        faults = unprintable_bars(chart)
        for fault in faults:
            _one_line(str(fault))
        if not faults:
            musicxml(lead_sheet(chart)).encode()


def import_and_use(path: Path) -> None:
    """As 'chart import' does."""
    from companion.chart.imported import report, write_imported
    from companion.load import import_file

    imported = import_file(path)
    write_imported(imported).encode()
    for line in report(imported):
        _one_line(line)
    _use(imported.chart)


def read_preferences(path: Path) -> None:
    """One of the player's own files of preferences, over ours."""
    from companion.ports.instruments import read_instruments
    from companion.preferences.every import EVERY
    from companion.preferences.reading import file_of, forget, preferences

    forget()
    for kind in EVERY:
        if file_of(kind) == path.stem:
            preferences(kind)
    if path.stem == "instruments":
        read_instruments()


def read_recording(path: Path) -> None:
    """As 'replay' and 'chart capture' do."""
    from companion.stage.performance import performance_length, read_performance
    from companion.transcribe.midi_tune import own_beats

    read_performance(path)
    performance_length(path)
    own_beats(path)


def read_beats(path: Path) -> None:
    """As 'chart capture --beats' does."""
    from companion.cli.capture import beat_list

    beat_list(path)


def read_kept_take(path: Path) -> None:
    """As 'take list', 'take show', 'print TAKE' and 'chart import TAKE' do."""
    from companion.chart.imported import write_imported
    from companion.stage.take import list_takes, read_take
    from companion.stage.take_chart import take_chart

    run_command("take", "list")
    run_command("take", "show", "last")
    list_takes()
    take = read_take(path.parent)
    write_imported(take_chart(take, alone=True))
    _use(take.rehearsed()[0])


def recover_take(path: Path) -> None:
    """As the next start does, and the player who then looks at what was played."""
    from companion.stage.recovery import recover

    for line in recover().lines():
        _one_line(line)
        if "a defect of the companion" in line:
            raise AssertionError(line)
    if path.parent.exists() and not path.exists():
        read_kept_take(path.parent / "take.json")


def run_command(*words: str) -> None:
    """Run a command here: it says what it has to say, or one line."""
    from contextlib import redirect_stderr, redirect_stdout

    from companion.cli import main

    said, complained = io.StringIO(), io.StringIO()
    with redirect_stdout(said), redirect_stderr(complained):
        status = main(list(words))
    said.getvalue().encode()
    if status:
        _one_line(complained.getvalue().removesuffix("\n"))


def silence(path: Path) -> None:
    """As whatever opens the port next does."""
    from companion.stage.sounding_marks import left_sounding, silencing

    for channels in left_sounding(path.parent, "jack", "upright").values():
        for message in silencing(channels):
            bytes(message)


def _one_line(text: str) -> None:
    if not text.isprintable():
        raise AssertionError(f"not one printable line: {text!r}")


KINDS: dict[str, Kind] = {
    "chart": Kind(TEXT, read_chart, _charts),
    "arrangement": Kind(TEXT, read_chart, _arranged_charts),
    "preferences": Kind(TEXT, read_preferences, _preference_files),
    "musicxml": Kind(TEXT, import_and_use, _sheets),
    "mxl": Kind(COMPRESSED, import_and_use, _compressed_sheets),
    "abc": Kind(TEXT, import_and_use, lambda: {"tune.abc": TUNE.encode(), "voices.abc": VOICES.encode()}),
    "midi": Kind(BINARY, import_and_use, _midi_files),
    "recording": Kind(BINARY, read_recording, _midi_files),
    "beats": Kind(TEXT, read_beats, _beat_lists),
    "take": Kind((*TEXT, *[value_changed] * 6), read_kept_take, only("take.json", "take.mid")),
    "take-notes": Kind(BINARY, read_kept_take, only("take.mid", "take.json")),
    "journal": Kind((*TEXT, *[value_changed] * 6), recover_take, only("journal.jsonl")),
    "mark": Kind((*TEXT, *[value_changed] * 4), silence, _marks),
}
TOGETHER = {"take": "take.json", "take-notes": "take.mid"}
"""Kinds whose files are parts of one: all are there, and this one is changed."""


# One damaged file


@dataclass(frozen=True)
class Answer:
    """What became of one file."""

    kind: str
    number: int
    said: str
    """'read', 'refused', or the fault."""
    where: str = ""
    """For a fault, the place in our code."""
    seconds: float = 0.0
    """Processor time."""


FINE = ("read", "refused")


def damaged(kind: str, seed: int, number: int, valid: Mapping[str, bytes]) -> tuple[str, bytes]:
    """The path of a file in its folder, and its bytes: the same for the same numbers."""
    dice = random.Random(f"{seed}-{kind}-{number}")
    one = TOGETHER.get(kind)
    name = next(path for path in valid if path.endswith(one)) if one else dice.choice(sorted(valid))
    data = valid[name]
    for _ in range(dice.choice((1, 1, 1, 2))):
        try:
            data = dice.choice(KINDS[kind].changes)(data, dice)
        except Exception:  # what was changed before can't be taken apart any more
            data = bytes_changed(data, dice)
    return name, data


class Late(BaseException):
    """The time is up."""


@contextmanager
def limits(seconds: float) -> Iterator[None]:
    """Ends what takes more processor time, with the place where that is met; a warning is an error in it."""

    def stop(*_: object) -> None:
        raise Late

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def answer(
    kind: str, seed: int, number: int, valid: Mapping[str, bytes], folder: Path, patience: float = PATIENCE
) -> Answer:
    """Damage a file, have it read in an empty folder, which is the player's, and say what became of it."""
    name, data = damaged(kind, seed, number, valid)
    for path, content in {**(valid if kind in TOGETHER else {}), name: data}.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    began = time.process_time()
    said, where = "read", ""
    try:
        with limits(patience * min(max(1.0, len(data) / len(valid[name])), LARGER)):
            KINDS[kind].read(folder / name)
    except CompanionError as error:
        said = "refused" if str(error).isprintable() else f"not one printable line: {str(error)!r}"
    except Late as late:
        said, where = "too slow", place(late)
    except Exception as defect:
        said, where = type(defect).__name__ + f": {defect}"[:80], place(defect)
    return Answer(kind, number, said, where, time.process_time() - began)


def place(error: BaseException) -> str:
    """Where in our code an error was met, from the innermost call outwards."""
    ours = [frame for frame in traceback.extract_tb(error.__traceback__) if "companion" in Path(frame.filename).parts]
    own = [frame for frame in ours if "tests" not in Path(frame.filename).parts]
    return " < ".join(f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in own[:-4:-1])


# Many of them


def work(orders: Connection, seed: int, valid: Mapping[str, Mapping[str, bytes]]) -> None:
    """In a process of its own: answer for each kind and number that comes."""
    import os

    from companion.preferences.reading import forget
    from companion.resources import DATA_VARIABLE

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one who gives the orders ends this
    os.environ["COMPANION_DEBUG"] = "1"  # defects come here
    while True:
        try:
            kind, number = orders.recv()
        except EOFError:
            return
        with tempfile.TemporaryDirectory(prefix="companion-damaged-") as folder:
            os.environ[DATA_VARIABLE] = folder
            forget()
            orders.send(answer(kind, seed, number, valid[kind], Path(folder)))


@dataclass
class Worker:
    """A process that answers, and what it is at."""

    process: multiprocessing.Process
    orders: Connection
    at: tuple[str, int]
    since: float


def answers(wanted: Sequence[tuple[str, int]], seed: int, processes: int) -> Iterator[Answer]:
    """The answers to so many files of each kind, from several processes; one that says nothing is ended."""
    valid = {kind: dict(KINDS[kind].valid()) for kind in dict.fromkeys(kind for kind, _ in wanted)}
    left = iter(wanted)
    workers: list[Worker] = []

    def begin(at: tuple[str, int]) -> Worker:
        ours, theirs = multiprocessing.Pipe()
        process = multiprocessing.Process(target=work, args=(theirs, seed, valid), daemon=True)
        process.start()
        theirs.close()
        ours.send(at)
        return Worker(process, ours, at, time.monotonic())

    try:
        workers += [begin(at) for at in islice(left, processes)]
        while workers:
            wait([worker.orders for worker in workers], 1.0)
            for worker in list(workers):
                said: Answer | None = None
                if worker.orders.poll():
                    try:
                        said = worker.orders.recv()
                    except (EOFError, OSError):
                        said = Answer(*worker.at, "its process died")
                elif time.monotonic() - worker.since > HUNG:
                    said = Answer(*worker.at, "never answered")
                if said is None:
                    continue
                yield said
                ended = said.said in ("its process died", "never answered")
                if ended or (following := next(left, None)) is None:
                    _end(worker)
                    workers.remove(worker)
                    if ended and (following := next(left, None)) is not None:
                        workers.append(begin(following))
                else:
                    worker.orders.send(following)
                    worker.at, worker.since = following, time.monotonic()
    finally:
        for worker in workers:
            _end(worker)


def _end(worker: Worker) -> None:
    worker.orders.close()
    worker.process.kill()
    worker.process.join()


def main(words: Sequence[str] | None = None) -> int:
    """Print a row for each kind and each fault; 1 when there was one."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kind", action="append", choices=tuple(KINDS), help="may be repeated (all)")
    parser.add_argument("--count", type=int, default=20_000, metavar="N", help="files of each kind (20000)")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="the same seed, the same files (1)")
    parser.add_argument("--first", type=int, default=0, metavar="N", help="the number of the first (0)")
    parser.add_argument("--processes", type=int, default=1, metavar="N", help="at a time (1)")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="where to put the files that were faults")
    asked = parser.parse_args(words)
    faults = 0
    print(f"{'kind':14}{'files':>8}{'read':>8}{'refused':>9}{'faults':>8}{'slowest s':>11}")
    try:
        for kind in asked.kind or KINDS:
            numbers = range(asked.first, asked.first + asked.count)
            every = list(_told(answers([(kind, n) for n in numbers], asked.seed, asked.processes)))
            faults += _report(kind, every, asked.seed, asked.keep)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return 130
    return int(faults > 0)


def _told(every: Iterator[Answer]) -> Iterator[Answer]:
    """The same, with how many there were by now on the terminal."""
    for count, one in enumerate(every, 1):
        if sys.stderr.isatty() and count % 50 == 0:
            print(f"\r{one.kind}: {count}", end="\r", file=sys.stderr, flush=True)
        yield one


def _report(kind: str, every: Sequence[Answer], seed: int, keep: Path | None) -> int:
    """Print a kind's row and its faults, each place once; gives how many there were."""
    count = Counter(one.said for one in every)
    faults = [one for one in every if one.said not in FINE]
    slowest = max((one.seconds for one in every), default=0.0)
    print(f"{kind:14}{len(every):8}{count['read']:8}{count['refused']:9}{len(faults):8}{slowest:11.2f}", flush=True)
    places: dict[tuple[str, str], list[Answer]] = {}
    for one in faults:
        places.setdefault((one.where, "" if one.where else one.said), []).append(one)
    for alike in sorted(places.values(), key=len, reverse=True):
        print(f"    {len(alike)} times, as in number {alike[0].number}: {alike[0].said} ({alike[0].where})", flush=True)
    if keep and faults:
        valid = KINDS[kind].valid()
        for one in faults:
            name, data = damaged(kind, seed, one.number, valid)
            (keep / kind).mkdir(parents=True, exist_ok=True)
            (keep / kind / f"{one.number}-{Path(name).name}").write_bytes(data)
    return len(faults)


if __name__ == "__main__":
    sys.exit(main())
