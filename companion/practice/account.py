"""A review in words: three sentences, the most important first, the drill that would mend it, and then the rest.

A sentence tells one kind of finding, with its bars. What weighs most comes first (``[weights]`` of ``review.toml``):
what broke the flow, then notes, time, and how it was played; what recurs weighs more. The drill is over the bars with
the most of that weight.
"""

from __future__ import annotations

import shlex
import statistics
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence

from companion.chart.model import Form
from companion.messages import NoteKind, Part
from companion.practice.findings import Finding, What, place_words
from companion.practice.judging import JudgedNote
from companion.practice.proposal import findings_by_bar, weight_of, worst_bars
from companion.practice.recurring import before_words, recurs_words
from companion.practice.review import Review
from companion.preferences import preferences
from companion.preferences.drills import DrillPreferences
from companion.preferences.review import ReviewPreferences

NOTHING = "nothing was played that can be laid on the chart"
SENTENCES = 3
MOST_SAID = 24
"""Findings in the list."""
BARS_NAMED = 6
"""In a sentence."""
PART_ORDER: tuple[Part, ...] = ("melody", "chords", "bass", "solo")
SAID: dict[What, tuple[str, str]] = {
    "skipped": ("You left out {bars}.", "You left out {bars}."),
    "restarted": ("You went back once, in {bars}.", "You went back in {bars}."),
    "hesitated": ("You held back in {bars}, for {figure:.1f} s.", "You held back in {bars}."),
    "wrong-note": ("A note is wrong in {bars}: {detail}.", "Notes are wrong in {bars}."),
    "missed-note": ("A note is missing in {bars}: {detail}.", "Notes are missing in {bars}."),
    "extra-note": ("A note is too many in {bars}: {detail}.", "Notes are too many in {bars}."),
    "rushed": ("You rushed in {bars}, by {figure:.0f} ms a beat.", "You rushed in {bars}."),
    "dragged": ("You dragged in {bars}, by {figure:.0f} ms a beat.", "You dragged in {bars}."),
    "unsteady": ("Your time was uneven in {bars}: {detail}.", "Your time was uneven in {bars}."),
    "swing": ("You swung otherwise in {bars}: {detail}.", "You swung otherwise than elsewhere in {bars}."),
    "late-chord": ("A chord came late in {bars}, by {figure:.0f} ms.", "Chords came late in {bars}."),
    "early-chord": ("A chord came early in {bars}, by {figure:.0f} ms.", "Chords came early in {bars}."),
    "clash": ("Two notes rub in {bars}: {detail}.", "Notes rub against each other in {bars}."),
    "voicing": ("The chord isn't the written one in {bars}: {detail}.", "Chords aren't the written ones in {bars}."),
    "dynamics": ("In {bars}, {detail}.", "The melody didn't come out in {bars}."),
}
"""A sentence for one finding, and for several."""


def account(title: str, found: Review, form: Form, parts: Collection[Part], chart: str, told: str = "") -> list[str]:
    """A review in words, a line each.

    Parameters
    ----------
    title : str
    found : Review
    form : Form
    parts : collection of str
        The player's.
    chart : str
        What the chart is called on the command line.
    told : str
        What stands behind a command that can be started, so that it runs as it stands.
    """
    if not found.bars:
        return [f"{title}: {NOTHING}"]
    lines = sentences(found)
    drill = drill_command(found, form, parts, chart)
    if drill is not None:
        lines += ["", "to mend it:", f"  {drill}{told}"]
    return [title, *lines, "", *_figures(found), *_list(found)]


# Three sentences


def sentences(found: Review, rules: ReviewPreferences | None = None) -> list[str]:
    """What is said first: a sentence a kind of finding, those that weigh most; then what went well."""
    rules = rules or preferences(ReviewPreferences)
    kinds: defaultdict[What, list[Finding]] = defaultdict(list)
    for one in found.findings:
        kinds[one.what].append(one)
    heaviest = sorted(kinds, key=lambda what: -sum(weight_of(one, rules) for one in kinds[what]))
    said = [_sentence(what, kinds[what]) for what in heaviest[:SENTENCES]]
    return (said + _well(found, rules.timing.steady))[:SENTENCES]


def _sentence(what: What, findings: Sequence[Finding]) -> str:
    one, several = SAID[what]
    bars = _bars([(found.bar, found.last or found.bar) for found in findings])
    first = findings[0]
    detail = first.text.partition(": ")[2]
    said = (one if len(findings) == 1 else several).format(bars=bars, figure=abs(first.figure), detail=detail)
    return f"{said.removesuffix('.')}{_again(findings)}."


def _again(findings: Sequence[Finding]) -> str:
    """That one of these recurs, the one that does so most; with its bar where there are others."""
    most = max(findings, key=lambda one: one.recurs.times if one.recurs else 0)
    if most.recurs is None:
        return ""
    alone = len({(one.bar, one.last) for one in findings}) == 1
    return f", {'' if alone else f'{in_bars(most.bar, most.last)} '}{recurs_words(most.recurs)}"


def in_bars(bar: int, last: int | None) -> str:
    """Where something is, in a sentence.

    >>> in_bars(7, None), in_bars(0, None)
    ('in bar 7', 'in the pickup')
    """
    return f"in {place_words(bar, last)}"


def _bars(bars: Sequence[tuple[int, int]]) -> str:
    """Bars in a sentence: "bars 3, 9 to 12 and 20", "the pickup and bar 4"."""
    once = [one for one in sorted(set(bars)) if one != (0, 0)]
    if not once:
        return "the pickup"
    told = [f"{a} to {b}" if b > a else str(a) for a, b in once[:BARS_NAMED]]
    if len(once) > BARS_NAMED:
        told.append(f"{len(once) - BARS_NAMED} more")
    text = told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"
    one_bar = len(once) == 1 and once[0][0] == once[0][1]
    return f"{'the pickup and ' if (0, 0) in bars else ''}{'bar' if one_bar else 'bars'} {text}"


def _well(found: Review, steady: float) -> list[str]:
    """What can be said of a take in which little went wrong; ``steady``: the share by which a kept tempo may differ."""
    counts = _counts(found)
    said = []
    said += [f"{one.words[0].upper()}{one.words[1:]} {before_words(one)}, not this time." for one in found.gone[:1]]
    if counts["right"] and not counts["wrong"] and not counts["missing"] and not counts["extra"]:
        said.append("No note was wrong, missing or too many.")
    bars = len({(bar.bar, bar.chorus) for bar in found.bars if bar.bar})
    if not found.moves:
        said.append(f"You went through {bars} bars without a stop.")
    tempi = _tempi(found)
    if tempi and abs(tempi[1] / tempi[0] - 1) < steady:
        said.append(f"You kept the tempo: ♩ = {tempi[0]:.0f} at the beginning, {tempi[1]:.0f} at the end.")
    return said + [f"{line[0].upper()}{line[1:]}." for line in found.figures if line.startswith(OF_A_SOLO)]


OF_A_SOLO = ("on strong beats", "phrases", "form: bars")
"""Figures of an improvised line that are said first where nothing else is."""


# What would mend it


def drill_command(found: Review, form: Form, parts: Collection[Part], chart: str) -> str | None:
    """The command of the drill over the bars in which most went wrong; None where nothing is worth one."""
    drills = preferences(DrillPreferences)
    bars = worst_bars(
        form, findings_by_bar(found.findings), min(drills.rounds.bars, len(form.bars)), drills.proposal.least
    )
    mine = [part for part in PART_ORDER if part in parts and part != "solo"]
    tempi = [bar.tempo for bar in found.bars if bar.bar]
    if bars is None or not mine or not tempi:
        return None
    goal = statistics.median(tempi)
    first = drills.ladders[drills.kinds["usual"].ladder].start * goal
    return (
        f"companion drill {shlex.quote(chart)} --bars {bars[0]}-{bars[1]} --you {','.join(mine)} "
        f"--from {first:.0f} --to {goal:.0f}"
    )


# The rest


def _figures(found: Review) -> list[str]:
    counts = _counts(found)
    asked = counts["right"] + counts["wrong"] + counts["missing"]
    tempi = [bar.tempo for bar in found.bars if bar.bar]
    times = max(bar.chorus for bar in found.bars)
    bars = f"{len(tempi)} bars" + (f", {times} times through" if times > 1 else "")
    lines = [f"{counts['right']} of {asked} notes right"] if asked else []
    if (ends := _tempi(found)) is not None:
        lines.append(f"{bars}; ♩ = {ends[0]:.0f} at the beginning, {ends[1]:.0f} at the end")
    return [*lines, *found.figures]


def _counts(found: Review) -> Counter[NoteKind]:
    """Notes of each kind, where there is something to hold them against."""
    return Counter(note.kind for note in found.notes if not note.forgiven and not _improvised(note))


def _improvised(note: JudgedNote) -> bool:
    """Whether a note is of a line that nobody has written: it is neither right nor wrong."""
    return note.part == "solo" and note.expected is None


def _tempi(found: Review) -> tuple[float, float] | None:
    """The tempo at the beginning and at the end, in quarters a minute."""
    tempi = [bar.tempo for bar in found.bars if bar.bar]
    return (statistics.median(tempi[:4]), statistics.median(tempi[-4:])) if tempi else None


def _list(found: Review) -> list[str]:
    told = [_told(one) for one in found.findings]
    more = [f"and {len(told) - MOST_SAID} more"] if len(told) > MOST_SAID else []
    gone = [f"not this time: {slip.words} {before_words(slip)}" for slip in found.gone]
    return [*told[:MOST_SAID], *more, *gone]


def _told(finding: Finding) -> str:
    """A finding in the list."""
    more = [f"time {finding.chorus} through"] if finding.chorus > 1 else []
    more += [recurs_words(finding.recurs)] if finding.recurs else []
    return f"{finding.text} ({'; '.join(more)})" if more else finding.text
