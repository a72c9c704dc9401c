"""How well the companion follows: every figure with its target, over recorded and made-up players.

    python tests/benchmarks/following.py DATA [--set LIST] [--kind LIST]
                                              [--take N] [--jobs 2] [--rows] [--strict] [--keep FOLDER]

LIST names sets of players, separated by commas: sessions, practising, made, rubato, left, pulse, tunes, nocount and
reliability, which are played unless others are named; and aside, which is played only when it is named.
DATA holds the players (``followed_players.py`` says in which files); the whole takes some fifteen minutes on two cores.
Players ``made`` and ``aside`` are made up here (``practising_players.py``); nobody tunes on those set aside.
Each performance is replayed in workers of this process, and what was sounded is compared with the beats the player felt
(``beat_scores.py`` defines the figures). The set ``reliability`` plays nothing: it asks of all that was played how many
of the beats called so sure were the player's.

``--keep FOLDER`` writes for each player NAME.trace.jsonl and NAME.truth.csv, which ``belief_picture.py`` draws.
Exit status 1 with ``--strict`` when a figure is below what is asked at least; 2 when there is nothing to measure.
"""

from __future__ import annotations

import argparse
import datetime
import multiprocessing
import os
import platform
import random
import statistics
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from math import inf, isfinite
from pathlib import Path

import beat_scores as scores
from followed_players import FOLDERS, ONLY_WHEN_ASKED, PARTS_OF_KIND, SETS, Entry, Player

from companion.messages import Beat
from companion.stage.replay import Recording, replay

RELIABILITY = "reliability"
USUAL_SETS = [*(name for name in SETS if name not in ONLY_WHEN_ASKED), RELIABILITY]
FIRST = 8
"""Number of the beat at which a recording's count-in ends."""


@dataclass(frozen=True)
class Outcome:
    """What came of following one player; figures that don't apply are None."""

    row: str
    name: str
    hold: float
    equal_hold: float | None = None
    middle: float | None = None
    """Median error of the held beats, seconds."""
    stray: float | None = None
    unsteady: float | None = None
    sounded: float | None = None
    recoveries: tuple[float, ...] = ()
    claims: tuple[scores.Claim, ...] = ()
    took: float = 0.0
    seconds: float = 0.0
    failed: str = ""


def follow(entry: Entry, keep: Path | None, with_bass: frozenset[str]) -> Outcome:
    """Replay one player, and score what was sounded."""
    began = time.perf_counter()
    try:
        player = entry.player()
        if entry.name in with_bass:
            player = replace(player, settings=replace(player.settings, parts=("bass",)))
        if keep:
            player = replace(player, settings=replace(player.settings, trace=True))
        recording = replay(player.chart, player.heard, player.settings, until=player.until)
        if keep:
            _keep(keep, player, recording)
        outcome = _counted(player, recording) if player.counted else _placed(player, recording)
    except Exception as error:  # one that fails counts as following nothing, and the others go on
        return Outcome(entry.row, entry.name, 0.0, failed=f"{type(error).__name__}: {error}")
    return replace(outcome, took=time.perf_counter() - began, seconds=player.until)


def _beats(recording: Recording) -> list[Beat]:
    return [report for report in recording.reports if isinstance(report, Beat)]


def _placed(player: Player, recording: Recording) -> Outcome:
    """Scores of a player who has a chart."""
    said, judged = _beats(recording), slice(player.judged_from, None)
    truth = player.truth[judged]
    late = scores.errors(truth, said)
    equal = scores.share(scores.held(scores.errors(truth, said, player.equal[judged]))) if player.equal else None
    together = scores.held(late)
    strikes = [o.seconds for o in recording.orders if o.part == "bass" and o.status & 0xF0 == 0x90 and o.data2]
    return Outcome(
        player.row,
        player.name,
        scores.share(together),
        equal,
        _middle(late),
        scores.stray(truth, said),
        scores.unsteady(truth, late),
        scores.sounded(said, sorted(strikes)) if player.settings.parts else None,
        tuple(scores.recoveries(truth, together)),
        tuple(scores.claims(player.truth, said)),
    )


def _counted(player: Player, recording: Recording) -> Outcome:
    """Scores of a player whose beats are told by nothing but the count."""
    said, counted = _beats(recording), player.counted or {}
    late = scores.counted_errors(counted, said, FIRST)
    found = tuple(scores.counted_claims(counted, said, FIRST))
    return Outcome(player.row, player.name, scores.share(scores.held(late)), middle=_middle(late), claims=found)


def _middle(late: Sequence[float]) -> float | None:
    held = [abs(x) for x, ok in zip(late, scores.held(late), strict=True) if ok]
    return statistics.median(held) if held else None


def _keep(folder: Path, player: Player, recording: Recording) -> None:
    from companion.cli.commands import trace_lines

    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{player.name}.trace.jsonl").write_text(trace_lines(recording.reports))
    rows = [f"{b.chart_beat:g},{b.seconds:.6f},{b.mark}\n" for b in player.truth]
    (folder / f"{player.name}.truth.csv").write_text("chart_beat,seconds,mark\n" + "".join(rows))


# The table


@dataclass(frozen=True)
class Target:
    """A figure, and what it should come to: at least (or, where less is better, at most), and as an aim."""

    row: str
    """Rows it speaks of begin with this."""
    figure: str
    least: float
    aim: float
    less: bool = False


PRACTISING = {
    "phrased": (0.97, 0.99), "phrased-free": (0.90, 0.95),
    "improvised": (0.97, 0.99), "improvised-free": (0.83, 0.90),
    "half-head": (0.96, 0.98), "half-head-free": (0.90, 0.95),
    "again": (0.94, 0.97), "again-free": (0.94, 0.97),
    "loop": (0.92, 0.96), "loop-free": (0.92, 0.96),
    "reading": (0.90, 0.94), "reading-free": (0.90, 0.94),
    "slower": (0.95, 0.98), "slower-free": (0.95, 0.98), "tempo-off": (0.94, 0.98),
    "half-late": (0.94, 0.98), "beat-late": (0.94, 0.98), "bar-late": (0.94, 0.98), "beat-early": (0.94, 0.98),
    "free-start": (0.92, 0.95), "free-start-free": (0.92, 0.95),
    "octave": (0.98, 0.995), "octave-free": (0.98, 0.995),
    "both-hands": (0.98, 0.995), "both-hands-free": (0.98, 0.995),
}  # fmt: skip
"""Mean hold of players who practise, by kind: at least, and as an aim."""
TARGETS = (
    Target("melody-clean", "mean hold", 0.985, 0.997),
    Target("melody-human", "mean hold", 0.985, 0.997),
    Target("right-hand", "mean hold", 0.985, 0.997),
    Target("bassline", "mean hold", 0.985, 0.998),
    Target("solo", "mean hold", 0.985, 0.998),
    Target("solo-loose", "mean hold", 0.95, 0.985),
    Target("comping", "mean hold", 0.95, 0.985),
    Target("melody-messy", "mean hold", 0.95, 0.98),
    Target("slow", "mean hold", 0.95, 0.97),
    Target("accelerate", "mean hold", 0.95, 0.985),
    Target("melody-jump", "mean hold", 0.95, 0.975),
    Target("melody-jump", "beats to recover, median", 3, 2, less=True),
    Target("melody-jump", "beats to recover, worst", 8, 5, less=True),
    Target("melody-stop", "mean hold", 0.97, 0.995),
    Target("melody-stop", "beats to recover, median", 1, 0, less=True),
    Target("melody-stop", "beats to recover, worst", 3, 1, less=True),
    Target("rubato 3", "mean hold", 0.88, 0.94),
    Target("rubato 1", "mean hold", 0.78, 0.86),
    Target("rubato 4", "mean hold", 0.66, 0.76),
    Target("left hand, mean over pieces", "mean hold", 0.55, 0.70),
    Target("pulse", "mean hold", 0.82, 0.90),
    Target("pulse", "median hold", 0.94, 0.99),
    Target("pulse", "median error of held beats, ms", 17, 13, less=True),
    Target("tunes", "mean hold", 0.985, 0.997),
    Target("melody-human from the top", "mean hold", 0.97, 0.99),
    Target("melody-human from the middle", "mean hold", 0.93, 0.97),
    Target("melody-human from the middle", "mean hold, equal places counted", 0.93, 0.97),
    Target("worst session kind", "stray", 0.01, 0.005, less=True),
    Target("worst session kind", "unsteady", 1.3, 1.0, less=True),
    Target("worst session kind", "sounded", 0.99, 1.0),
    *(Target(f"{of}{kind}", "mean hold", *goals) for kind, goals in PRACTISING.items() for of in ("", "made ")),
)
KINDS = frozenset(t.row for t in TARGETS[:16])
"""The kinds of session."""


@dataclass
class Line:
    """One line of the table."""

    row: str
    figure: str
    value: float
    count: int
    note: str = ""
    target: Target | None = field(init=False)

    def __post_init__(self) -> None:
        self.target = next((t for t in TARGETS if (t.row, t.figure) == (self.row, self.figure)), None)

    @property
    def verdict(self) -> str:
        """'reached' the aim, 'enough', or 'short'; empty without a target."""
        if self.target is None:
            return ""
        sign = -1 if self.target.less else 1
        value = sign * round(self.value, 3)
        return (
            "reached" if value >= sign * self.target.aim else "enough" if value >= sign * self.target.least else "short"
        )

    def text(self) -> str:
        """The line as printed."""
        t = self.target
        goals = f"{t.least:>8g} {t.aim:>7g}  {self.verdict:7}" if t else f"{'':8} {'':7}  {'':7}"
        shown = "never" if not isfinite(self.value) else f"{self.value:.3f}"
        return f"{self.row:29} {self.figure:32} {self.count:4} {shown:>7} {goals}  {self.note}".rstrip()


def table(outcomes: Sequence[Outcome]) -> list[Line]:
    """Every figure of every row, in the order in which the rows came."""
    rows: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        rows[outcome.row].append(outcome)
    lines = [line for row, found in rows.items() for line in _row(row, found)]
    lines += _over_pieces(rows, "left hand") + _worst_kind(rows)
    return lines


def _row(row: str, found: Sequence[Outcome]) -> list[Line]:
    holds = [o.hold for o in found]
    worst = min(found, key=lambda o: o.hold)
    failed = [o for o in found if o.failed]
    note = f"least {worst.hold:.3f} {worst.name}" + (f"; {len(failed)} failed: {failed[0].failed}" if failed else "")
    lines = [Line(row, "mean hold", statistics.fmean(holds), len(found), note)]
    if row == "pulse":
        lines.append(Line(row, "median hold", statistics.median(holds), len(found)))
    if equal := [o.equal_hold for o in found if o.equal_hold is not None]:
        lines.append(Line(row, "mean hold, equal places counted", statistics.fmean(equal), len(equal)))
    if middles := [o.middle for o in found if o.middle is not None]:
        lines.append(Line(row, "median error of held beats, ms", 1000 * statistics.median(middles), len(middles)))
    if back := [r for o in found for r in o.recoveries]:
        slowest = max(found, key=lambda o: max(o.recoveries, default=-1))
        lines.append(Line(row, "beats to recover, median", statistics.median(back), len(back)))
        lines.append(Line(row, "beats to recover, worst", max(back), len(back), slowest.name))
    uneven = [o.unsteady for o in found if o.unsteady is not None]
    if uneven and row.startswith((*PRACTISING, "made ", "aside ")):
        lines.append(Line(row, "unsteady, median", statistics.median(uneven), len(uneven)))
    return lines


def _over_pieces(rows: dict[str, list[Outcome]], prefix: str) -> list[Line]:
    means = [statistics.fmean(o.hold for o in found) for row, found in rows.items() if row.startswith(prefix)]
    return [Line(f"{prefix}, mean over pieces", "mean hold", statistics.fmean(means), len(means))] if means else []


def _worst_kind(rows: dict[str, list[Outcome]]) -> list[Line]:
    """Figures that every kind of session has to reach, of the kind that is furthest from them."""
    figures: tuple[tuple[str, Callable[[Iterable[float]], float], Callable[..., tuple[float, str]]], ...] = (
        ("stray", statistics.fmean, max),
        ("unsteady", statistics.median, max),
        ("sounded", statistics.median, min),
    )
    lines = []
    for name, middle, worst in figures:
        by_kind = []
        for kind in rows.keys() & KINDS:
            if values := [v for o in rows[kind] if (v := getattr(o, name)) is not None]:
                by_kind.append((middle(values), kind))
        if by_kind:
            value, kind = worst(by_kind)
            every = "  ".join(f"{k} {v:.3f}" for v, k in sorted(by_kind, key=lambda p: p[1]))
            lines.append(Line("worst session kind", name, value, len(by_kind), f"{kind}   ({every})"))
    return lines


def calibration(outcomes: Sequence[Outcome]) -> list[str]:
    """How many of the beats called so sure were the player's: in ten bins, for groups of rows, and by row in short."""
    groups: dict[str, Callable[[str], bool]] = {
        "melody heard": lambda row: row.startswith(("melody", "right-hand", "slow", "accelerate", "tunes")),
        "other parts": lambda row: row in ("comping", "solo", "solo-loose", "bassline") or row.startswith("comping"),
        "free time": lambda row: row.startswith(("rubato", "left hand")),
        "pulse": lambda row: row == "pulse",
        "all": lambda row: True,
    }
    lines = ["", "Of the beats called so sure, the share that was the player's (number of beats)"]
    lines.append(f"{'':14}" + "".join(f"{n / 10:>8.1f}-{(n + 1) / 10:.1f}    " for n in range(10)) + "  off by")
    for name, belongs in groups.items():
        found = [c for o in outcomes if belongs(o.row) for c in o.claims]
        if not found:
            continue
        bins = scores.reliability(found)
        cells = {round(10 * b.low): f"{b.right:.2f} ({b.count})" for b in bins}
        lines.append(f"{name:14}" + "".join(f"{cells.get(n, '-'):>15}" for n in range(10)) + f"  {_off(found)}")
    lines += ["", f"{'row':29} {'beats':>7} {'called':>7} {'were':>7} {'off by':>7}   of those called over 0.9"]
    for row in dict.fromkeys(o.row for o in outcomes):
        if found := [c for o in outcomes if o.row == row for c in o.claims]:
            called = statistics.fmean(c.sure for c in found)
            were = scores.share([c.right for c in found])
            high = [c for c in found if c.sure > 0.9]
            top = f"{len(high)}: {statistics.fmean(c.sure for c in high):.3f}, were {_right(high):.3f}" if high else ""
            lines.append(f"{row:29} {len(found):7} {called:7.3f} {were:7.3f} {_off(found):>7}   {top}")
    return lines


def _off(found: Sequence[scores.Claim]) -> str:
    return f"{scores.miscalibration(scores.reliability(found)):.3f}"


def _right(found: Sequence[scores.Claim]) -> float:
    return scores.share([c.right for c in found])


# The command


def chosen(options: argparse.Namespace) -> list[Entry]:
    """The players asked for; a set whose folder is missing is passed over with a word."""
    entries: list[Entry] = []
    wanted = [name for name in (options.set if options.set != [RELIABILITY] else USUAL_SETS) if name != RELIABILITY]
    for name in wanted:
        folder = options.data / FOLDERS.get(name, name)
        if not folder.is_dir():
            print(f"{folder}: no such folder; {name} is not measured", file=sys.stderr)
            continue
        rows: dict[str, list[Entry]] = defaultdict(list)
        for entry in SETS[name](options.data):
            if not options.kind or entry.row in options.kind or entry.name in options.kind:
                rows[entry.row].append(entry)
        for row, found in rows.items():
            few = options.take and options.take < len(found)
            entries += random.Random(f"{options.seed}{row}").sample(found, options.take) if few else found
    return entries


def with_a_bass(entries: Sequence[Entry]) -> frozenset[str]:
    """The first session of each kind in which the player leaves the bass to the companion."""
    first: dict[str, str] = {}
    for entry in entries:
        if entry.row in KINDS and PARTS_OF_KIND.get(entry.row) != "bass":
            first.setdefault(entry.row, entry.name)
    return frozenset(first.values())


def machine() -> str:
    """What it ran on."""
    names = [line.partition(":")[2].strip() for line in _cpuinfo() if line.startswith("model name")]
    name = names[0] if names else platform.processor() or platform.machine()
    return f"{name}, {os.cpu_count()} cores, Python {platform.python_version()}"


def _cpuinfo() -> list[str]:
    try:
        return Path("/proc/cpuinfo").read_text().splitlines()
    except OSError:
        return []


def run(entries: Sequence[Entry], jobs: int, keep: Path | None, rows: bool) -> list[Outcome]:
    """Follow every player, telling standard error how far it has come."""
    work = partial(follow, keep=keep, with_bass=with_a_bass(entries))
    found: list[Outcome] = []
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        for n, outcome in enumerate(pool.imap(work, entries), 1):
            found.append(outcome)
            back = ",".join("never" if r == inf else f"{r:.0f}" for r in outcome.recoveries)
            if rows:
                print(f"  {outcome.name:28} hold {outcome.hold:.3f}" + (f" back {back}" if back else ""), flush=True)
            elif sys.stderr.isatty() or n % 20 == 0 or n == len(entries):
                end = "" if sys.stderr.isatty() else "\n"
                print(f"\r{n} of {len(entries)}: {outcome.row:30}", end=end, file=sys.stderr, flush=True)
    if sys.stderr.isatty():
        print("\r" + " " * 60 + "\r", end="", file=sys.stderr)
    return found


def words(text: str) -> list[str]:
    """A list written with commas."""
    return [word.strip() for word in text.split(",") if word.strip()]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("data", type=Path, metavar="DATA")
    parser.add_argument("--set", type=words, default=USUAL_SETS, metavar="LIST", help="default: all but aside")
    parser.add_argument("--kind", type=words, default=[], metavar="LIST", help="only these rows, or players by name")
    parser.add_argument("--take", type=int, default=0, metavar="N", help="so many players a row, at random")
    parser.add_argument("--seed", type=int, default=1, help="which ones (default 1)")
    parser.add_argument("--jobs", type=int, default=2, help="how many at a time (default 2)")
    parser.add_argument("--rows", action="store_true", help="a line for each player too")
    parser.add_argument("--strict", action="store_true", help="exit status 1 when a figure is short")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="write each player's trace and truth there")
    options = parser.parse_args()
    if unknown := set(options.set) - {*SETS, RELIABILITY}:
        parser.error(f"no such set: {', '.join(sorted(unknown))}; there are {', '.join([*SETS, RELIABILITY])}")
    if not options.data.is_dir():
        print(f"{options.data}: no such folder; nothing measured", file=sys.stderr)
        return 2
    entries = chosen(options)
    if not entries:
        print(f"{options.data}: none of the players asked for is in it; nothing measured", file=sys.stderr)
        return 2
    began = time.perf_counter()
    outcomes = run(entries, options.jobs, options.keep, options.rows)
    lines = table(outcomes)
    print(f"{'row':29} {'figure':32} {'n':>4} {'value':>7} {'least':>8} {'aim':>7}")
    print(*(line.text() for line in lines), sep="\n")
    if RELIABILITY in options.set:
        print(*calibration(outcomes), sep="\n")
    short = [line for line in lines if line.verdict == "short"]
    aimed = [line for line in lines if line.target]
    print(f"\n{len(aimed) - len(short)} of {len(aimed)} figures reach what is asked at least.", end=" ")
    took = f"{time.perf_counter() - began:.0f} s with {options.jobs} at a time"
    print(f"{datetime.date.today().isoformat()}, {machine()}; {took}")
    return 1 if short and options.strict else 0


if __name__ == "__main__":
    try:
        raise SystemExit(main())
    except KeyboardInterrupt:
        raise SystemExit(130) from None
