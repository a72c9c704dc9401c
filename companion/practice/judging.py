"""stub"""

from __future__ import annotations
from dataclasses import dataclass
from companion.messages import NoteKind


@dataclass(frozen=True)
class JudgedNote:
    kind: NoteKind
    chart_beat: float
    expected: int | None
    pitch: int | None
    seconds: float | None
    deviation_ms: float | None


def expected_notes(form, you):
    return [(float(n.beat), n.pitch.midi) for n in form.melody]


def judge(expected, played, beats):
    import numpy as np

    xs = [b for b, _ in beats]
    ys = [s for _, s in beats]
    out = []
    used = set()
    for b, p in expected:
        t = float(np.interp(b, xs, ys))
        c = [
            (abs(n.seconds - t), i)
            for i, n in enumerate(played)
            if i not in used and n.data1 == p and abs(n.seconds - t) < 0.4
        ]
        if c:
            i = min(c)[1]
            used.add(i)
            out.append(JudgedNote("right", b, p, p, played[i].seconds, 1000 * (played[i].seconds - t)))
        else:
            out.append(JudgedNote("missing", b, p, None, None, None))
    for i, n in enumerate(played):
        if i not in used:
            out.append(JudgedNote("extra", float(np.interp(n.seconds, ys, xs)), None, n.data1, n.seconds, None))
    return sorted(out, key=lambda n: n.chart_beat)
