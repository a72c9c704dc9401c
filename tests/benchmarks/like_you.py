"""What it does to arrangements that their chords are like a player's: how often shapes and rhythms of theirs come, and
whether the arrangements stay as good, by the figures that a teacher would count. Our own charts, three choruses a seed.

    python tests/benchmarks/like_you.py [SEEDS]
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction
from itertools import groupby
from platform import machine, python_version

from companion.arrange.audit.arrangement import figures
from companion.arrange.audit.figures import AuditFigure, totals
from companion.arrange.chords.comping_style import CompingStyle, UsedRhythm, UsedShape, places
from companion.arrange.part import Note
from companion.arrange.plan import arrange, plan
from companion.arrange.request import Request
from companion.chart.model import Form
from companion.load import load
from companion.music.kinds import degree, degrees
from companion.resources import chart_names, chart_path, is_shipped

TREATMENT = "walking"
THIRD = {
    "maj7": "3 5 7 9", "m7": "b3 5 b7 9", "7": "3 13 b7 9", "7alt": "3 b13 b7 #9", "6": "3 5 6 9", "maj": "3 5 6 9",
    "m6": "b3 5 6 9", "m7b5": "b3 b5 b7 1", "dim7": "b3 b5 bb7 1", "mmaj7": "b3 5 7 9",
}  # fmt: skip
SEVENTH = {
    "maj7": "7 9 3 5", "m7": "b7 9 b3 5", "7": "b7 9 3 13", "7alt": "b7 #9 3 b13", "6": "6 9 3 5", "maj": "6 9 3 5",
    "m6": "6 9 b3 5", "m7b5": "b7 1 b3 b5", "dim7": "bb7 1 b3 b5", "mmaj7": "7 9 b3 5",
}  # fmt: skip
PUSHED = ((0.5, 2.5), (1.0, 1.0))
"""The and of 1 and of 3, a rhythm that the swing set doesn't have."""


def shapes(rows: dict[str, str], low: int = 62, high: int = 74) -> tuple[UsedShape, ...]:
    """A player's only shapes."""
    return tuple(UsedShape(kind, row, 0, 0.9, low, high, 40, 8) for kind, row in rows.items())


PLAYERS = {
    "nobody's": None,
    "from the third": CompingStyle(shapes(THIRD), (), 8),
    "from the seventh": CompingStyle(shapes(SEVENTH, 58, 70), (), 8),
    "the and of 1 and of 3": CompingStyle((), (UsedRhythm("4/4", "swing", *PUSHED, 0.9, 40, 8),), 8),
}


def chords(notes: Iterable[Note]) -> list[tuple[Fraction, tuple[str, ...]]]:
    """Each chord with its degrees, late voices left out."""
    in_order = sorted((n for n in notes if not n.reason.startswith("late")), key=lambda n: (n.beat, n.midi))
    return [(beat, tuple(n.degree for n in group)) for beat, group in groupby(in_order, key=lambda n: n.beat)]


def share_of_shapes(rows: dict[str, str], notes: Sequence[Note]) -> tuple[int, int]:
    """How many chords of four notes have one of some shapes, and how many there are."""
    wanted = {places(degrees(row)) for row in rows.values()}
    full = [row for _, row in chords(notes) if len(row) == 4 and "x" not in row]
    return sum(places([degree(one) for one in row]) in wanted for row in full), len(full)


def share_of_rhythm(form: Form, notes: Sequence[Note]) -> tuple[int, int]:
    """How many bars with chords in 4/4 have the rhythm, and how many there are."""
    by_bar: dict[int, list[float]] = {}
    for beat, _ in chords(notes):
        if beat >= 0:
            bar = form.bar_at(beat)
            by_bar.setdefault(bar, []).append(float(beat - form.bars[bar - 1]))
    there = list(by_bar.values()) if str(form.metre) == "4/4" and form.feel == "swing" else []
    return sum(tuple(one) == PUSHED[0] for one in there), len(there)


def arranged(style: CompingStyle | None, seeds: int) -> tuple[list[str], dict[str, float]]:
    """Everything arranged in a style: the shares of shapes and rhythm, and the figures, as means over the charts."""
    counts: dict[str, list[tuple[int, int]]] = {"from the third": [], "from the seventh": [], "the rhythm": []}
    found: list[tuple[str, list[AuditFigure]]] = []
    for chart in (one for one in chart_names() if is_shipped(chart_path(one))):
        form = load(chart_path(chart)).unfold().free
        rows: dict[str, list[Sequence[Note]]] = {"bass": [], "chords": [], "melody": []}
        for seed in range(seeds):
            for chorus in (1, 2, 3):
                asked = Request(treatment=TREATMENT, chorus=chorus, seed=seed, style=style)
                for part, made in rows.items():
                    made.append(arrange(form, part, asked))
        for notes in rows["chords"]:
            counts["from the third"].append(share_of_shapes(THIRD, notes))
            counts["from the seventh"].append(share_of_shapes(SEVENTH, notes))
            counts["the rhythm"].append(share_of_rhythm(form, notes))
        told = figures(form, plan(form, TREATMENT), rows["bass"], rows["chords"], 3, rows["melody"])
        found.append((chart, [one for one in told if one.part in PARTS]))
    shares = [f"{what} {sum(a for a, _ in pairs) / sum(b for _, b in pairs):.0%}" for what, pairs in counts.items()]
    return shares, {total.figure.name: total.mean for total in totals(found)}


PARTS = ("chords", "rhythm of the chords", "hands", "harmony")


def main() -> None:
    """Run it."""
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print(f"{date.today()}, {machine()}, Python {python_version()}, {seeds} seeds of three choruses, {TREATMENT}")
    columns = []
    for name, style in PLAYERS.items():
        shares, means = arranged(style, seeds)
        print(f"{name}: {', '.join(shares)}", flush=True)
        columns.append(means)
    print("figures, in the same order:")
    for figure in columns[0]:
        print("  ", *(f"{means.get(figure, 0.0):8.3f}" for means in columns), f"  {figure}")


if __name__ == "__main__":
    main()
