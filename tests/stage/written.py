"""What is played and reported as text, to be kept in a test.

Written so: ``second state beat tempo``, ``beat@second sure``, and of each part ``second midi.velocity/length``: moments
in seconds, lengths in milliseconds, beats in quarters from the first downbeat, the surety in hundredths.
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.messages import Beat, Belief, Order, Report, State
from tests.wrapping import wrapped


def told(report: Report) -> str:
    if isinstance(report, Beat):
        more = "".join(f" {word}" for word in (report.event, report.turn) if word)
        return f"{report.chart_beat:g}@{report.seconds:.3f} {100 * report.sure:.0f}{more} {report.chorus};"
    if isinstance(report, Belief):
        place = f"{report.chart_beat:.2f} {report.tempo:.1f} ±{report.spread:.3f} {report.mass:.2f}"
        return f"({report.pitch} {report.seconds:.2f}: {place} {report.free:.2f} {report.stopped:.2f});"
    assert isinstance(report, State)
    where = "" if report.chart_beat is None else f" {report.chart_beat:.2f}"
    tempo = "" if report.tempo is None else f" {report.tempo:.1f}"
    event = f" {report.event} {report.time}/{report.times}{' last' * report.last}" if report.event else ""
    return f"{report.seconds:.3f} {report.name}{where}{tempo}{event};"


def played(orders: Sequence[Order]) -> list[str]:
    """Each part's notes in order; what isn't a note as it is."""
    found: dict[str, list[tuple[float, str]]] = {}
    down: dict[tuple[str, int], Order] = {}
    for order in orders:
        part = found.setdefault(order.part, [])
        if order.status == 0x90:
            down[order.part, order.data1] = order
        elif order.status == 0x80 and (begun := down.pop((order.part, order.data1), None)):
            assert not order.data2, "a key comes up without a velocity of its own"
            length = round(1000 * (order.seconds - begun.seconds))
            part.append((begun.seconds, f"{begun.seconds:.3f} {begun.data1}.{begun.data2}/{length}"))
        else:
            part.append((order.seconds, f"{order.seconds:.3f} {order.status:#x} {order.data1} {order.data2}"))
    assert not down, "every key that goes down comes up"
    return [line for name, part in found.items() for line in (name, *wrapped(text for _, text in sorted(part)))]
