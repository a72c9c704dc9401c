"""What a teacher puts down for a pupil: remarks on bars, and drills; read from TOML and written as it.

A lesson's text is TOML with ``format = 1``, a title, who gives it, remarks and drills::

    format = 1
    title = "The left hand, lightly"
    by = "M. K."
    [[remarks]]
    bars = "9-12"                # without bars it is about the whole tune
    text = "keep the left hand light"
    [kinds.hands]                # as in configs/drills.toml, and what else 'companion drill' takes
    bars = "9-12"                # or section = "B"
    you = "bass"
    from = 60                    # tempi in quarters a minute
    to = 100

It may come from anywhere: each value is checked, and each text made fit to print.

Conventions: bars of the form, 1 = its first full bar; tempi in quarters a minute.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from msgspec import Meta

from companion.chart.model import Chart
from companion.chart.plain import printable_text, unfit
from companion.chart.toml.read import read_table
from companion.chart.toml.text import quoted
from companion.chart.transpose import signature
from companion.errors import InputError, LessonError, UseError
from companion.files import MEGABYTE, read_limited
from companion.messages import PARTS, Part
from companion.practice.passage import section_bars
from companion.practice.request import USUAL, Said, drill_request
from companion.preferences import preferences
from companion.preferences.drills import Divide, DrillPreferences, Rounds, TempoStep
from companion.preferences.reading import told
from companion.preferences.structure import Fault, read_only, structured
from companion.preferences.units import Count, Tempo
from companion.resources import read_toml_file, shipped_folder
from companion.stage.clicks import click_pattern

T = TypeVar("T", "Lesson", "BarRemark", "LessonDrill")
FORMAT = 1
WORDS = "lesson.toml"
"""The file that holds a lesson's text."""
MOST_REMARKS = 500
MOST_DRILLS = 100
Line = Annotated[str, Meta(max_length=200, description="200 letters at most")]
Remarked = Annotated[str, Meta(max_length=2000, description="2000 letters at most")]
Seed = Annotated[int, Meta(ge=0, le=2**53, description="a seed")]


@dataclass(frozen=True)
class BarRemark:
    """What a teacher says about some bars."""

    text: Remarked
    bars: Line = ""
    """As written; empty for the whole tune."""

    def __post_init__(self) -> None:
        if self.bars:
            read_bars(self.bars)

    @property
    def span(self) -> tuple[int, int] | None:
        """First and last bar; None for the whole tune."""
        return read_bars(self.bars) if self.bars else None


@dataclass(frozen=True)
class LessonDrill:
    """A drill that is given; what isn't said is left to the kind of drill."""

    what: Line = ""
    """In words."""
    bars: Line = ""
    section: Line = ""
    kind: Line = ""
    """A kind of drill from ``drills.toml``."""
    you: Line = ""
    parts: Line = ""
    start: Tempo | None = field(default=None, metadata={"key": "from"})
    to: Tempo | None = None
    step: TempoStep | None = None
    ladder: Line = ""
    rounds: Rounds | None = None
    time: Literal["follow", "steady", "patient"] | None = None
    click: Line = ""
    divide: Divide | None = None
    swap: Count | None = None
    keys: Line = ""
    each: Rounds | None = None
    memory: bool = False
    anywhere: bool = False
    treatment: Line = ""
    seed: Seed | None = None
    key: Line = ""

    def __post_init__(self) -> None:
        if self.bars:
            read_bars(self.bars)
        if self.bars and self.section:
            raise ValueError("it has bars and a section: say one of them")
        if self.start is not None and self.to is not None and self.to < self.start:
            raise ValueError(f"a ladder climbs: to = {self.to:g} lies below from = {self.start:g}")


@dataclass(frozen=True)
class Lesson:
    """A lesson's text."""

    format: int = FORMAT
    title: Line = ""
    by: Line = ""
    """Who gives it."""
    chart: Line = ""
    """The name that the chart has where the lesson was made."""
    reply_to: Line = ""
    """Of a pupil's take that comes back: the title of the lesson that it answers."""
    remarks: tuple[BarRemark, ...] = ()
    kinds: Mapping[str, LessonDrill] = field(default_factory=lambda: read_only({}))
    """Drills by name."""

    def __post_init__(self) -> None:
        if len(self.remarks) > MOST_REMARKS:
            raise ValueError(f"it has more than {MOST_REMARKS} remarks")
        if len(self.kinds) > MOST_DRILLS:
            raise ValueError(f"it has more than {MOST_DRILLS} drills")
        for name in self.kinds:
            if not name.strip() or len(name) > 60 or unfit(name):
                raise ValueError(f"{name[:60]!a} is no name for a drill")


def read_bars(text: str) -> tuple[int, int]:
    """Read bars: '9-12', '9–12' or '9'.

    Raises
    ------
    ValueError
        It names none.
    """
    match = re.fullmatch(r"\s*([0-9]{1,4})\s*(?:[-–]\s*([0-9]{1,4})\s*)?", text)
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
    if not 1 <= first <= last:
        raise ValueError(f"{text!r} names no bars; write 9-12, or 9")
    return first, last


def bars_text(bars: tuple[int, int]) -> str:
    """Bars as they are written: '9-12', '9'."""
    first, last = bars
    return f"{first}-{last}" if last > first else str(first)


def said_remark(text: str, chart: Chart) -> BarRemark:
    """A remark as it is said on the command line: '9-12: keep the left hand light'.

    In place of the bars stands a section's name; without them it is about the whole tune.

    Raises
    ------
    UseError
        It says nothing, or too much.
    """
    place, colon, rest = text.partition(":")
    bars: tuple[int, int] | None = None
    if colon:
        try:
            bars = read_bars(place)
        except ValueError:
            names = {section.name.casefold() for section in chart.sections}
            bars = section_bars(chart.unfold(), place) if place.strip().casefold() in names else None
    said = printable_text(rest if bars else text).strip()
    if not said:
        raise UseError(f"the remark {text!r} says nothing", mend="write it as in '9-12: keep the left hand light'")
    if len(said) > 2000:
        raise UseError("the remark is longer than 2000 letters", mend="make two of it")
    return BarRemark(said, bars_text(bars) if bars else "")


# Read and written


def read_lesson(data: bytes) -> Lesson:
    """Read a lesson's text.

    Raises
    ------
    LessonError
        It isn't UTF-8 or TOML, is of a newer format, or holds something that can't be; with its place.
    """
    try:
        table = read_table(data.decode("utf-8-sig"), FORMAT)
        return fit_to_print(structured(Lesson, table))
    except UnicodeDecodeError as error:
        line = f"line {data[: error.start].count(bytes([10])) + 1}"
        raise LessonError("is not UTF-8 text", where=line, mend="save it as UTF-8") from None
    except Fault as fault:
        raise plainly(told(fault, [(Path(WORDS), table)]), file=None) from None
    except InputError as error:
        raise plainly(error, file=None) from None


def read_words(path: Path) -> Lesson:
    """Read a lesson's text from a file of the teacher's. Raises LessonError with the file and the place in it."""
    try:
        return read_lesson(read_limited(path, MEGABYTE // 2, "a lesson", LessonError))
    except LessonError as error:
        raise error.within(file=str(path)) from None


def plainly(error: InputError, **place: str | None) -> LessonError:
    """An error about what a lesson holds, fit to print whatever it quotes; ``file``, ``where``: in place of its own."""
    texts = {"file": error.file, "where": error.where, "mend": error.mend, **place}
    return LessonError(printable_text(error.what), **{k: v and printable_text(v) for k, v in texts.items()})


def fit_to_print(lesson: Lesson) -> Lesson:
    """The same without what can't be printed, and without remarks of which nothing is left."""
    remarks = tuple(fit for one in lesson.remarks if (fit := _fit(one)).text)
    kinds = read_only({name: _fit(drill) for name, drill in lesson.kinds.items()})
    return replace(_fit(lesson), remarks=remarks, kinds=kinds)


def _fit(table: T) -> T:
    values = {one.name: getattr(table, one.name) for one in fields(table)}
    texts: dict[str, Any] = {key: printable_text(v).strip() for key, v in values.items() if isinstance(v, str)}
    return replace(table, **texts)


def write_lesson(lesson: Lesson) -> str:
    """A lesson's text, the same for the same; :func:`read_lesson` reads it back to an equal one."""
    lines = _rows(lesson)
    for remark in lesson.remarks:
        lines += ["", "[[remarks]]", *_rows(remark)]
    for name, drill in lesson.kinds.items():
        lines += ["", f"[kinds.{quoted(name)}]", *_rows(drill)]
    return "\n".join(lines) + "\n"


def _rows(table: Any) -> list[str]:
    """The values of a table that are said, one a line."""
    rows = []
    for one in fields(table):
        value, key = getattr(table, one.name), one.metadata.get("key", one.name.replace("_", "-"))
        if isinstance(value, bool):
            rows += [f"{key} = true"] if value else []
        elif isinstance(value, str):
            rows += [f"{key} = {quoted(value)}"] if value else []
        elif isinstance(value, int | float):
            rows.append(f"{key} = {int(value) if value == int(value) else repr(value)}")
    return rows


# Drills


def check_against(lesson: Lesson, chart: Chart) -> None:
    """See that remarks and drills are about bars, sections and keys that the chart has.

    Raises
    ------
    LessonError
        With the remark or the drill as its place.
    """
    form = chart.unfold()
    for number, remark in enumerate(lesson.remarks, 1):
        if remark.span and remark.span[1] > len(form.bars):
            mend = f"the form has bars 1 to {len(form.bars)}"
            raise LessonError(f"there is no bar {remark.span[1]}", where=f"remark {number}", mend=mend)
    for name, drill in lesson.kinds.items():
        try:
            _check_drill(drill, chart)
        except (InputError, ValueError) as error:
            fault = error if isinstance(error, InputError) else LessonError(str(error))
            raise plainly(fault, file=None, where=f"[kinds.{name}]") from None


def _check_drill(drill: LessonDrill, chart: Chart) -> None:
    bars = section_bars(chart.unfold(), drill.section) if drill.section else read_bars(drill.bars or "1")
    if drill.click:
        click_pattern(drill.click, chart.metre)
    if drill.key:
        signature(drill.key, chart.minor)
    you = _parts(drill.you) or ("melody",)
    said = Said(
        frozenset(you),
        parts=_parts(drill.parts) or None,
        start=drill.start,
        goal=drill.to,
        swap=drill.swap,
        keys=drill.keys or None,
    )
    if {"melody", "solo"} <= said.you or "click" in said.you:
        raise UseError(f"you = {drill.you!r} can't be played by one", mend="write melody, chords, bass, or two of them")
    drill_request(chart, bars, said, USUAL)


def _parts(text: str) -> tuple[Part, ...]:
    words = {word.strip().lower() for word in text.split(",")} if text else set()
    if strange := sorted(words - set(PARTS)):
        raise UseError(f"{strange[0]!r} is not a part", mend=f"there are {', '.join(PARTS)}")
    return tuple(part for part in PARTS if part in words)


def unknown_here(drill: LessonDrill) -> dict[str, str]:
    """What a drill names that isn't among the player's preferences: keys (kind, ladder, treatment) and names."""
    from companion.arrange.treatments import names

    known = preferences(DrillPreferences)
    there = {"kind": known.kinds, "ladder": known.ladders, "treatment": names() if drill.treatment else ()}
    return {key: name for key, all_of_it in there.items() if (name := getattr(drill, key)) and name not in all_of_it}


def names_of_ones_own(drill: LessonDrill) -> dict[str, str]:
    """What a drill names that isn't among the shipped preferences, so that others don't have it: keys and names."""
    folder = shipped_folder() / "configs"
    drills = read_toml_file(folder / "drills.toml")
    treatments = [name for path in folder.glob("treatments*.toml") for name in read_toml_file(path)]
    there = {"kind": drills["kinds"], "ladder": drills["ladders"], "treatment": treatments}
    return {key: name for key, shipped in there.items() if (name := getattr(drill, key)) and name not in shipped}


def drill_command(chart: str, drill: LessonDrill) -> str:
    """The command that starts a drill, fit for a shell; what isn't known here is left out.

    >>> drill_command("chimney-weather", LessonDrill(bars="9-12", you="bass", start=60.0, time="patient"))
    'companion drill chimney-weather --bars 9-12 --you bass --from 60 --time patient'
    """
    words, unknown = ["companion", "drill", chart], unknown_here(drill)
    for one in fields(drill):
        value, option = getattr(drill, one.name), f"--{one.metadata.get('key', one.name)}"
        if one.name in unknown or one.name == "what" or value is None or value is False or value == "":
            continue  # 0 is said: a kind may have it otherwise
        if one.name == "bars":
            value = bars_text(read_bars(value))
        text = f"{value:g}" if isinstance(value, float) else str(value)
        words += [option] if value is True else [f"{option}={text}"] if text.startswith("-") else [option, text]
    return shlex.join(words)
