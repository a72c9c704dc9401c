"""How a page leads through the whole tune: repeats or leaps, what is said about them, and the last chord held.

The head stands once on paper. What comes between its first time and the ending goes over the same bars, so they are put
between repeat signs, and it is said how often and for what. Where there are repeats inside already, which can't be
nested, a leap (D.S. al Coda, say) leads back instead (common practice). Notes that lead into the head stand where they
are played when it comes again: small, at the end of its last bar.

Conventions: beats in quarters.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from typing import Any

from companion.arrange.events import Stretch
from companion.arrange.part import Note
from companion.engrave.sheet import Bar, Sheet, Voice
from companion.engrave.values import VoiceSpan, write_bar
from companion.engrave.voices import MELODY, spans_by_voice
from companion.preferences import preferences
from companion.preferences.order import OrderPreferences

SMALL_NOTES = "small notes lead back"


def with_road_map(sheet: Sheet, stretches: Sequence[Stretch], lead_in: Sequence[Note], last_bars: int) -> Sheet:
    """The sheet with the signs and words that lead through the rest of the tune, and the last chord held.

    Parameters
    ----------
    sheet : Sheet
    stretches : sequence of Stretch
        The tune in its order.
    lead_in : sequence of Note
        The melody's notes before the head, below beat 0.
    last_bars : int
        How many whole bars the ending rests on its last chord.
    """
    if not stretches:
        return sheet
    bars = list(sheet.bars)
    ending = stretches[-1].kind == "ending"
    begins = max(k for k, bar in enumerate(bars) if bar.heading) if ending else len(bars)
    top = next(k for k, bar in enumerate(bars) if bar.number == 1)
    passes = [stretch.kind for stretch in stretches if stretch.kind in ("head", "solos")]
    if len(passes) > 1:
        leaps = any(bar.marks.repeat_end for bar in bars[top:begins])
        if leaps:
            _leap(bars, top, begins, passes, ending=ending)
        else:
            _repeat(bars, top, begins, passes)
        if _led_back(bars, begins, lead_in, sheet):
            bars[begins - 1] = replace(
                bars[begins - 1], words="; ".join(filter(None, (bars[begins - 1].words, SMALL_NOTES)))
            )
    if ending:
        bars[-1] = replace(bars[-1], fermata=True)
        first = _slower(stretches[-1], len(bars) - last_bars)
        if 0 <= first < len(bars):
            again = len(passes) > 1 and first < begins
            bars[first] = replace(bars[first], manner="rit. the last time" if again else "rit.")
    return replace(sheet, bars=tuple(bars))


def _repeat(bars: list[Bar], top: int, begins: int, passes: Sequence[str]) -> None:
    """Put the head between repeat signs, and say what each time through is for."""
    bars[top] = _with_marks(bars[top], repeat_start=True)
    bars[begins - 1] = replace(
        _with_marks(bars[begins - 1], repeat_end=len(passes)), words=_steps(passes), double=False
    )


def _leap(bars: list[Bar], top: int, begins: int, passes: Sequence[str], *, ending: bool) -> None:
    """Lead back to the head by a leap, where it comes again at last; its own repeats are made again."""
    again = passes[-1] == "head"
    bars[begins - 1] = replace(bars[begins - 1], words=_steps(passes[1:-1] if again else passes[1:]))
    if not again:
        return
    bars[top] = _with_marks(bars[top], segno=bool(top))
    bars[begins - 1] = replace(
        _with_marks(
            bars[begins - 1],
            jump="segno" if top else "capo",
            until="coda" if ending else "fine",
            to_coda=ending,
            fine=not ending,
        ),
        with_repeats=True,
    )
    if ending:
        bars[begins] = replace(_with_marks(bars[begins], coda=True), heading="Coda")
    for k in range(top, begins):
        if bars[k].marks.repeat_end:  # which a leap leaves out unless it says otherwise
            bars[k] = _with_marks(bars[k], repeat_after_jump=True)


def _with_marks(bar: Bar, **marks: Any) -> Bar:
    return replace(bar, marks=replace(bar.marks, **marks))


def _steps(passes: Iterable[str]) -> str:
    """What is played over the same bars, in words; nothing where it is the head and no more."""
    runs = [(kind, len(list(run))) for kind, run in groupby(passes)]
    if [kind for kind, _ in runs] == ["head"]:
        return ""
    said = [f"{kind} {count}×" if count > 1 else kind for kind, count in runs]
    text = ", ".join(said)
    return text[:1].upper() + text[1:]


def _slower(ending: Stretch, rests: int) -> int:
    """From which bar an ending that comes to rest with bar ``rests`` slows down; one that isn't there if it doesn't."""
    bars = preferences(OrderPreferences).ritardando.bars.of(ending.how)
    return rests - bars if bars else -1


# what leads into the head


def _led_back(bars: list[Bar], begins: int, lead_in: Sequence[Note], sheet: Sheet) -> bool:
    """Write what leads into the head small at the end of its last bars; whether there is any."""
    staff, number = MELODY
    if staff not in sheet.staves:
        return False
    spans = spans_by_voice([note for note in lead_in if note.beat < 0], (staff,))[MELODY]
    last = _sounding(bars[begins - 1])
    if not spans or (last and last[-1].tied_on):
        return False
    end = Fraction(0)
    for k in range(begins - 1, -1, -1):
        bar = bars[k]
        start = end - bar.length
        inside = [
            replace(
                span,
                start=max(span.start, start) - start,
                end=min(span.end, end) - start,
                tied_back=span.start < start,
                tied_on=span.end > end and bool(end),
                small=True,
            )
            for span in spans
            if span.start < end and span.end > start
        ]
        if inside:
            kept = _until(_sounding(bar), inside[0].start)
            voice = Voice(staff, number, write_bar([*kept, *inside], bar.length, bar.metre))
            others = [other for other in bar.voices if (other.staff, other.number) != MELODY]
            others = [other for other in others if other.staff != staff or any(head.pitches for head in other.heads)]
            bars[k] = replace(bar, voices=(voice, *others))
        if not inside or not k or spans[0].start >= start:
            return True
        end = start
    return True


def _sounding(bar: Bar) -> list[VoiceSpan]:
    """What the melody of a bar holds, tie by tie."""
    heads = [h for voice in bar.voices if (voice.staff, voice.number) == MELODY for h in voice.heads if h.pitches]
    return [VoiceSpan(h.start, h.end, h.pitches, h.tied_back, h.tied_on) for h in heads]


def _until(spans: Iterable[VoiceSpan], beat: Fraction) -> list[VoiceSpan]:
    """The spans up to a beat; a note that goes on over it ends there."""
    return [replace(s, end=min(s.end, beat), tied_on=s.tied_on and s.end < beat) for s in spans if s.start < beat]
