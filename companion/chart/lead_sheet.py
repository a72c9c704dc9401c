"""A lead sheet as it stands on the page, and the chart it makes: what readers of staff notation and of ABC share.

A reader fills in a :class:`LeadSheet`; :func:`as_chart` plays its repeats, cuts it into sections, guesses what it
leaves open, and puts its remarks where they belong. Where a sheet gives no metre, its bars tell; where it gives no
key, its notes do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from companion.chart.imported import Imported
from companion.chart.keys import guess_fifths, sounds_minor
from companion.chart.mending import kept_metre, mended
from companion.chart.model import UNTITLED, Chart
from companion.chart.plain import printable_text
from companion.chart.remarks import Remark
from companion.chart.repeats import playing_order
from companion.chart.sections import Cut, cut_into_sections
from companion.chart.written import WrittenBar
from companion.errors import ChartError
from companion.music.meter import Metre

LONGEST_BAR = Fraction(64)
"""In quarters; a longer one has no time signature that could be written."""


FINEST = 960
"""Of so many parts of a quarter a bar, and what stands in it, may be made: halves of halves, thirds and fifths."""
MOST_BEATS = 32
"""Of a bar, and in a whole note."""


@dataclass(frozen=True)
class LeadSheet:
    """A lead sheet as written, one bar after the other."""

    title: str
    composer: str | None
    bars: tuple[WrittenBar, ...]
    metre: Metre
    fifths: int | None
    """None: the sheet gives no key signature."""
    minor: bool | None
    """None: the sheet doesn't say."""
    tempo: float | None
    """Quarters a minute, where the sheet says."""
    feel: str | None
    order: tuple[int, ...] | None = None
    """Indices of the bars in the order of playing; None: their marks say it."""
    remarks: tuple[Remark, ...] = ()
    """What goes for the whole tune; the others are with their bars."""


def as_chart(sheet: LeadSheet, source: str) -> Imported:
    """The chart, and what the sheet says beyond it. Raises ChartError."""
    _check(sheet)
    sheet = _as_meant(_plain(sheet))
    check_metre(sheet.metre)
    order = sheet.order if sheet.order is not None else playing_order([bar.marks for bar in sheet.bars])
    cut = cut_into_sections(sheet.bars, order)
    melody = [note for section in cut.sections for note in section.melody]
    chords = [span for name in cut.form for section in cut.sections if section.name == name for span in section.chords]
    fifths = guess_fifths(melody, chords) if sheet.fifths is None else sheet.fifths
    chart = Chart(
        title=sheet.title,
        sections=cut.sections,
        form=cut.form,
        metre=sheet.metre,
        fifths=fifths,
        minor=sounds_minor(fifths, chords) if sheet.minor is None else sheet.minor,
        tempo=sheet.tempo or 120.0,
        feel=sheet.feel or ("straight" if sheet.metre.compound else "swing"),
        composer=sheet.composer,
        source=source,
    )
    return Imported(chart, (*sheet.remarks, *_placed(sheet, cut)))


def _check(sheet: LeadSheet) -> None:
    """Refuse what no chart could write down."""
    for bar in sheet.bars:
        if bar.length > LONGEST_BAR:
            what = f"lasts {float(bar.length):g} quarters"
            raise ChartError(what, where=f"bar {bar.number}", mend="look for bar lines that are missing")
        if bar.length.denominator > FINEST:
            what = f"lasts {bar.length} of a quarter"
            raise ChartError(what, where=f"bar {bar.number}", mend="look for a note of an odd length")
        beats = [*(beat for note in bar.notes for beat in (note.beat, note.length)), *(beat for beat, _ in bar.chords)]
        if odd := next((beat for beat in beats if beat.denominator > FINEST), None):
            what = f"parts a quarter into {odd.denominator}"
            raise ChartError(what, where=f"bar {bar.number}", mend="look for a note of an odd length")


def check_metre(metre: Metre) -> None:
    """Refuse a metre that no chart could write down. Raises ChartError."""
    if metre.beats > MOST_BEATS or metre.beat_type > MOST_BEATS:
        raise ChartError(f"a metre of {metre}", mend="look for bar lines that are missing")


def _plain(sheet: LeadSheet) -> LeadSheet:
    """The sheet with its texts made fit to be printed."""
    bars = tuple(
        replace(bar, marks=replace(bar.marks, heading=printable_text(heading).strip() or None))
        if (heading := bar.marks.heading) and heading != printable_text(heading).strip()
        else bar
        for bar in sheet.bars
    )
    composer = printable_text(sheet.composer or "").strip() or None
    return replace(sheet, title=printable_text(sheet.title).strip() or UNTITLED, composer=composer, bars=bars)


def _as_meant(sheet: LeadSheet) -> LeadSheet:
    """The sheet with what is a slip of the pen read as a musician would."""
    bars, metre = kept_metre(sheet.bars, sheet.metre)
    return replace(sheet, bars=mended(bars), metre=metre)


def _placed(sheet: LeadSheet, cut: Cut) -> Iterator[Remark]:
    """The remarks of all bars, each with its section."""
    lengths = {section.name: section.bars for section in cut.sections}
    for index, bar in enumerate(sheet.bars):
        section, number = cut.places.get(index, (None, 0))
        for remark in bar.remarks:
            yield replace(remark, bar=bar.number, section=section, section_bar=number)
        if section is None:
            yield Remark("is never played", bar=bar.number)
        elif number and (length := lengths[section][number - 1]) != bar.nominal:
            what = f"lasts {float(length):g} quarters where its metre has {float(bar.nominal):g}"
            yield Remark(what, "", bar.number, section, number)


def metre_from_lengths(bars: Sequence[WrittenBar]) -> Metre:
    """The metre of a sheet that gives none: the commonest length of its bars."""
    lengths = Counter(bar.length for bar in bars if bar.length)
    if not lengths:
        return Metre()
    length = lengths.most_common(1)[0][0]
    for beat_type in (4, 8, 16, 32):
        if (length * beat_type / 4).denominator == 1:
            return Metre(int(length * beat_type / 4), beat_type)
    return Metre()


def with_lengths(bars: Sequence[WrittenBar], metre: Metre) -> tuple[WrittenBar, ...]:
    """The bars, each of which knows what its metre asks for; those without notes are as long."""
    return tuple(
        bar if bar.nominal else replace(bar, nominal=metre.bar, length=bar.length or Fraction(metre.bar))
        for bar in bars
    )
