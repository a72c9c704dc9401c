"""A picture of what the companion believed over time, from a trace.

    companion replay CHART PERFORMANCE.mid --trace trace.jsonl
    python tests/benchmarks/belief_picture.py trace.jsonl --out belief.png [--truth TRUTH.csv] [--from S] [--to S]

Across: seconds. Above: places in the chart; each likely place is a grey dot, the darker the likelier, the place gone by
is the blue line, a beat sounded is a blue ring. With --truth (``chart_beat,seconds`` and more columns, one row a beat)
the player's own beats are the green line, and a beat sounded more than 70 ms from each of its name is a red cross.
Ticks at the top are the notes heard. A shaded stretch is one in which the companion thinned out, or held, or waited.
Below: the tempo believed in, its rivals as grey dots, and the true one; then how sure the beats were called; and two
bands, the darker the likelier: that the time is free, that the player has stopped.

OUT's suffix says the format: .png, .svg, .pdf. Needs matplotlib (the extra ``test`` has it).
"""

from __future__ import annotations

import argparse
import csv
import itertools
import json
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from beat_scores import TrueBeat, errors, held

from companion.messages import Beat

SHADED = {"thinning": "#ffe9c7", "holding": "#f6c9c9", "waiting": "#e4e4ee"}
"""States in which it doesn't play on as usual."""
LONG_STEP = 3.0
"""Seconds between two true beats from which the line breaks: the player had stopped."""


@dataclass(frozen=True)
class Trace:
    """The reports of a trace, by kind."""

    beliefs: list[dict[str, Any]]
    beats: list[Beat]
    states: list[dict[str, Any]]


def read_trace(lines: Iterable[str]) -> Trace:
    """Sort the lines of a trace; each is a JSON object whose ``report`` says what it is."""
    kinds: dict[str, list[dict[str, Any]]] = {"belief": [], "beat": [], "state": []}
    for line in lines:
        row = json.loads(line)
        kinds[row.pop("report")].append(row)
    return Trace(kinds["belief"], [Beat(**row) for row in kinds["beat"]], kinds["state"])


def read_truth(path: Path) -> list[TrueBeat]:
    """The beats after the count-in."""
    with path.open(newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row.get("mark") != "count_in"]
    return [TrueBeat(float(row["chart_beat"]), float(row["seconds"]), row.get("mark") or "") for row in rows]


def astray(truth: Sequence[TrueBeat], beats: Sequence[Beat]) -> list[bool]:
    """For each beat sounded, whether none of the player's beats of its name is within 70 ms."""
    said = [TrueBeat(b.chart_beat, b.seconds) for b in beats]
    true = [Beat(t.chart_beat, t.seconds, 1.0) for t in truth]
    return [not ok for ok in held(errors(said, true))]


def broken(places: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    """A line through (seconds, place) that breaks where the place goes back, leaps, or waits long."""
    xs: list[float] = []
    ys: list[float] = []
    for n, (x, y) in enumerate(places):
        if n and (y < places[n - 1][1] - 0.5 or y > places[n - 1][1] + 4 or x > places[n - 1][0] + LONG_STEP):
            xs.append(x)
            ys.append(float("nan"))
        xs.append(x)
        ys.append(y)
    return xs, ys


def likely(beliefs: Sequence[dict[str, Any]], least: float) -> list[tuple[float, float, float]]:
    """Seconds, place and probability of the likely places; those of the last note, gone on since at their tempo."""
    found, struck = [], 0.0
    for belief in beliefs:
        now = belief["seconds"]
        struck = now if belief["event"] == "note" else struck
        ahead = [(now, place + tempo / 60 * (now - struck), mass) for place, tempo, mass in belief["places"]]
        found += [dot for dot in ahead if dot[2] >= least]
    return found


def true_tempo(truth: Sequence[TrueBeat]) -> tuple[list[float], list[float]]:
    """Tempo of the player from beat to beat, in quarters a minute, where they went straight on."""
    xs, ys = [], []
    for a, b in itertools.pairwise(truth):
        if b.mark in ("jump", "resume") or not 0 < b.chart_beat - a.chart_beat < 4:
            xs.append(b.seconds)
            ys.append(float("nan"))
            continue
        xs.append((a.seconds + b.seconds) / 2)
        ys.append(60 * (b.chart_beat - a.chart_beat) / (b.seconds - a.seconds))
    return xs, ys


def draw(trace: Trace, truth: Sequence[TrueBeat], out: Path, low: float, high: float, bar: float, title: str) -> None:
    """Draw the stretch from low to high seconds."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    width = min(max(10.0, (high - low) * 0.3), 60.0)
    figure, axes = plt.subplots(
        4, 1, sharex=True, figsize=(width, 9.5), height_ratios=[6, 2, 1, 0.6], layout="constrained"
    )
    draw_places(axes[0], trace, truth, bar)
    draw_tempo(axes[1], trace, truth)
    draw_sure(axes[2], trace, truth)
    draw_bands(axes[3], trace)
    shade(axes[0], trace, high)
    axes[0].set_title(title, loc="left")
    axes[0].set_xlim(low, high)
    axes[-1].set_xlabel("seconds")
    figure.savefig(out, dpi=90)
    plt.close(figure)


def draw_places(axis: Any, trace: Trace, truth: Sequence[TrueBeat], bar: float) -> None:
    from matplotlib.ticker import MultipleLocator

    dots = likely(trace.beliefs, 0.003)
    axis.scatter(
        [d[0] for d in dots],
        [d[1] for d in dots],
        s=14,
        color=[(0.2, 0.2, 0.2, min(1.0, max(0.06, d[2] ** 0.7))) for d in dots],
        linewidths=0,
        label="likely places",
    )
    if truth:
        xs, ys = broken([(t.seconds, t.chart_beat) for t in truth])
        axis.plot(xs, ys, color="#2a9d4a", linewidth=3, alpha=0.5, label="the player")
        for t in (t for t in truth if t.mark):
            axis.axvline(t.seconds, color="#2a9d4a", linewidth=0.8, linestyle=":")
    xs, ys = broken([(b["seconds"], b["chart_beat"]) for b in trace.beliefs])
    axis.plot(xs, ys, color="#2860b8", linewidth=0.9, label="gone by")
    wrong = astray(truth, trace.beats) if truth else [False] * len(trace.beats)
    right = {"marker": "o", "facecolors": "none", "edgecolors": "#2860b8", "s": 22, "label": "sounded"}
    off = {"marker": "x", "color": "#c8102e", "s": 30, "label": "sounded, not held"}
    for flag, style in ((False, right), (True, off)):
        chosen = [b for b, w in zip(trace.beats, wrong, strict=True) if w is flag]
        if chosen:
            axis.scatter([b.seconds for b in chosen], [b.chart_beat for b in chosen], linewidths=0.9, zorder=3, **style)
    axis.yaxis.set_major_locator(MultipleLocator(4 * bar))
    axis.yaxis.set_minor_locator(MultipleLocator(bar))
    axis.grid(True, which="both", axis="y", alpha=0.25)
    notes = [b["seconds"] for b in trace.beliefs if b["event"] == "note"]
    axis.plot(notes, [0.995] * len(notes), "|", color="black", markersize=5, transform=axis.get_xaxis_transform())
    axis.set_ylabel("chart beat (a line a bar)")
    axis.legend(loc="upper left", fontsize=8, framealpha=0.8)


def draw_tempo(axis: Any, trace: Trace, truth: Sequence[TrueBeat]) -> None:
    dots = [(b["seconds"], tempo, mass) for b in trace.beliefs for _, tempo, mass in b["places"] if mass > 0.01]
    axis.scatter(
        [d[0] for d in dots],
        [d[1] for d in dots],
        s=8,
        color=[(0.2, 0.2, 0.2, min(1.0, max(0.05, d[2]))) for d in dots],
        linewidths=0,
    )
    if truth:
        axis.plot(*true_tempo(truth), color="#2a9d4a", linewidth=3, alpha=0.5)
    tempos = [b["tempo"] for b in trace.beliefs]
    axis.plot([b["seconds"] for b in trace.beliefs], tempos, color="#2860b8", linewidth=0.9)
    if tempos:
        middle = sorted(tempos)[len(tempos) // 2]
        axis.set_ylim(0.5 * middle, 1.6 * middle)
    axis.set_ylabel("quarters\na minute")
    axis.grid(True, alpha=0.25)


def draw_sure(axis: Any, trace: Trace, truth: Sequence[TrueBeat]) -> None:
    axis.plot([b["seconds"] for b in trace.beliefs], [b["mass"] for b in trace.beliefs], color="#999999", linewidth=0.8)
    wrong = astray(truth, trace.beats) if truth else [False] * len(trace.beats)
    colours = ["#c8102e" if w else "#2860b8" for w in wrong]
    axis.scatter([b.seconds for b in trace.beats], [b.sure for b in trace.beats], s=8, color=colours)
    axis.set_ylim(0, 1.03)
    axis.set_ylabel("sure (dots),\nmass (line)")
    axis.grid(True, alpha=0.25)


def draw_bands(axis: Any, trace: Trace) -> None:
    moments = [b["seconds"] for b in trace.beliefs]
    for height, name, colour in ((1, "free", "#7b3fa0"), (0, "stopped", "#c8102e")):
        for start, end, belief in zip(moments, moments[1:], trace.beliefs, strict=False):
            if belief[name] > 0.02:
                axis.fill_between(
                    [start, end], height + 0.05, height + 0.95, color=colour, alpha=min(1.0, belief[name]), linewidth=0
                )
    axis.set_yticks([0.5, 1.5], ["stopped", "free"])
    axis.set_ylim(0, 2)


def shade(axis: Any, trace: Trace, end: float) -> None:
    """Shade the stretches in which it thinned out, held, or hadn't come in."""
    following = [state["seconds"] for state in trace.states[1:]] + [end]
    for state, until in zip(trace.states, following, strict=False):
        if state["name"] in SHADED and until > state["seconds"]:
            axis.axvspan(state["seconds"], until, color=SHADED[state["name"]], zorder=0, linewidth=0)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("trace", type=Path, metavar="TRACE")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE")
    parser.add_argument("--truth", type=Path, metavar="FILE", help="the beats as the player felt them")
    parser.add_argument("--from", type=float, dest="low", metavar="S", help="first second drawn")
    parser.add_argument("--to", type=float, dest="high", metavar="S", help="last second drawn")
    parser.add_argument("--bar", type=float, default=4.0, metavar="BEATS", help="quarters in a bar (default 4)")
    options = parser.parse_args()
    for path in (options.trace, options.truth):
        if path and not path.is_file():
            print(f"{path}: no such file", file=sys.stderr)
            return 2
    with options.trace.open() as stream:
        trace = read_trace(stream)
    if not trace.beliefs:
        print(f"{options.trace}: it holds no belief; make it with companion replay --trace", file=sys.stderr)
        return 2
    truth = read_truth(options.truth) if options.truth else []
    low = trace.beliefs[0]["seconds"] if options.low is None else options.low
    high = trace.beliefs[-1]["seconds"] if options.high is None else options.high
    draw(trace, truth, options.out, low, high, options.bar, options.trace.name.removesuffix(".trace.jsonl"))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
