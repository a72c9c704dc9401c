"""What is said of a take, over the bars of its paper: the findings of a review, in a few words, at their bars.

A paper of a take has its bars in the order in which they were played, whatever way the player took through the form;
findings are told by the bar of the form and by which time through it that was.

Conventions: bars of the form, 1 = its first full bar, 0 = a pickup; bars on paper, 1 = the first full one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from companion.practice.findings import Finding
from companion.practice.review import take_review
from companion.stage.take import Take
from companion.stage.take_chart import bars_gone_through

MOST = 4
"""Things said of one bar."""
BACK = ("restarted",)
"""Findings after which bars come again that were on paper before."""


def words_at_bar(finding: Finding) -> str:
    """What is said of a bar where the bar is seen: without its name."""
    place, _, words = finding.text.partition(": ")
    return words if words and place in ("the pickup", f"bar {finding.bar}") else finding.text


def joined(findings: Sequence[Finding]) -> str:
    """Several findings of one bar as one remark; what is said twice is said once, and of many the first are."""
    words = list(dict.fromkeys(words_at_bar(one) for one in findings))
    more = [f"and {len(words) - MOST} more"] if len(words) > MOST + 1 else []
    return "; ".join([*words[:MOST], *more] if more else words)


def take_remarks(take: Take, bars: int, *, pickup: bool) -> Mapping[int, str]:
    """What is said over the bars on the paper of a take; nothing in a take of a drill, whose rounds said it already.

    Parameters
    ----------
    take : Take
    bars : int
        Full bars on paper.
    pickup : bool
        Whether a pickup stands before them.

    Raises
    ------
    InputError
        The take is damaged.
    """
    if take.rounds:
        return {}
    found = take_review(take)
    played = bars_gone_through(take)
    before = bars - len(played)
    """Bars that a long pickup takes on paper."""
    at_bars = placed(found.findings, played)
    return {n + before + 1 if n >= 0 else int(not pickup): joined(said) for n, said in at_bars.items()}


def placed(findings: Sequence[Finding], played: Sequence[tuple[int, int]]) -> dict[int, list[Finding]]:
    """Findings by the place of their bar among the bars that were played, from 0; -1 is the pickup before them.

    Parameters
    ----------
    findings : sequence of Finding
        In order of time.
    played : sequence of (int, int)
        Bar of the form, and which time through it, in order of time.
    """
    found: dict[int, list[Finding]] = defaultdict(list)
    begin = 0
    for one in findings:
        at = -1 if one.bar == 0 else _place(one, played, begin)
        if at is None:
            continue
        found[at].append(one)
        begin = max(begin, at + (one.what in BACK))
    return found


def _place(finding: Finding, played: Sequence[tuple[int, int]], begin: int) -> int | None:
    """Where a finding's bar is: no earlier than what was found before, and in the same time through, if it can be."""
    here = [n for n, (bar, _) in enumerate(played) if bar == finding.bar]
    same = [n for n in here if played[n][1] == finding.chorus]
    later = [n for n in same if n >= begin]
    return next(iter([*later, *same, *here]), None)
