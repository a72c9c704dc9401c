"""A review as other programs read it: notes, bars, moves, findings and voicings as a table for JSON."""

from __future__ import annotations

import statistics
from typing import Any

from companion.practice.recurring import before_words, recurs_words
from companion.practice.review import Review, ReviewedBar


def review_table(found: Review) -> dict[str, Any]:
    """A review as a table for JSON."""
    return {
        "notes": [
            {
                "kind": note.kind,
                "chart_beat": round(note.chart_beat, 4),
                "pass": note.chorus,
                "expected": note.expected,
                "pitch": note.pitch,
                "seconds": None if note.seconds is None else round(note.seconds, 4),
                "deviation_ms": None if note.kind in ("missing", "extra") else note.deviation_ms,
            }
            for note in found.notes
        ],
        "bars": [_bar_row(bar) for bar in found.bars],
        "moves": [
            {
                "seconds": round(move.seconds, 4),
                "from_beat": round(move.from_beat, 4),
                "to_beat": round(move.to_beat, 4),
                "pause_s": round(move.pause, 3),
            }
            for move in found.moves
        ],
        "findings": [
            {
                "bar": one.bar,
                "pass": one.chorus,
                "what": one.what,
                "figure": one.figure,
                "text": one.text,
                "recurs": one.recurs
                and {"times": one.recurs.times, "takes": one.recurs.takes, "text": recurs_words(one.recurs)},
            }
            for one in found.findings
        ],
        "gone": [
            {
                "bar": one.bar,
                "what": one.what,
                "times": one.times,
                "takes": one.takes,
                "text": f"{one.words} {before_words(one)}",
            }
            for one in found.gone
        ],
        "voicings": [
            {
                "bar": one.bar,
                "pass": one.chorus,
                "chart_beat": round(one.chart_beat, 4),
                "seconds": round(one.seconds, 4),
                "chord": one.chord,
                "notes": list(one.midi),
                "bass": one.bass,
                "name": one.text,
            }
            for one in found.voicings
        ],
        "figures": list(found.figures),
    }


def _bar_row(bar: ReviewedBar) -> dict[str, Any]:
    off = bar.deviations
    return {
        "bar": bar.bar,
        "pass": bar.chorus,
        **{kind: bar.counts[kind] for kind in ("right", "wrong", "missing", "extra")},
        "deviation_ms": round(statistics.median(off), 1) if off else None,
        "spread_ms": round(statistics.pstdev(off), 1) if len(off) > 1 else None,
        "tempo": round(bar.tempo, 1),
        "swing": None if bar.swing is None else round(bar.swing, 2),
    }
