"""Eight hours at the piano take no more memory than one: what is over is forgotten.

What a rehearsal keeps is measured by what it takes to write it all down; bytes.
"""

from __future__ import annotations

import pickle
from typing import Any

import pytest

from companion.chart.model import Form
from companion.messages import Heard
from companion.ports.echo import EchoFilter
from companion.stage.rehearsal import Rehearsal
from companion.stage.settings import Settings

TEMPO = 300.0
BEAT = 60 / TEMPO


def kept(thing: object) -> int:
    return len(pickle.dumps(thing))


def bars(form: Form, chorus: int, down: int) -> list[Heard]:
    """The melody of a chorus (0 = the first), so many semitones down; every third time the keys are left down."""
    heard: list[Heard] = []
    for note in form.melody:
        begins, midi = float(chorus * form.length + note.beat), note.pitch.midi - down
        heard.append(Heard(begins * BEAT, 0x90, midi, 64))
        if chorus % 3:
            heard.append(Heard((begins + 0.8 * float(note.length)) * BEAT, 0x80, midi, 0))
    return sorted(heard, key=lambda h: h.seconds)


@pytest.mark.parametrize(
    ("role", "parts", "more"),
    [
        ("melody", ("chords", "bass"), {}),
        ("bass", ("melody", "chords"), {"time": "patient"}),
        ("solo", ("chords", "bass"), {"trade": 1, "time": "steady"}),
    ],
)
def test_a_rehearsal_keeps_no_more_after_many_choruses_than_after_a_few(
    stand: Any, role: str, parts: tuple[str, ...], more: dict[str, Any]
) -> None:
    chart = stand.chart(("| C6 A7 |", "| c2 e2 g2 e2 |"))  # so short that there are many of them
    form = chart.unfold()
    rehearsal = Rehearsal(chart, Settings(you=frozenset({role}), parts=parts, tempo=TEMPO, start=0.0, **more))
    sizes: list[int] = []  # the last two eighty choruses apart
    for chorus in range(160):
        rehearsal.adopt(rehearsal.prepare(chorus + 3)())
        for event in bars(form, chorus, down=24 if role == "bass" else 0):
            rehearsal.advance(event.seconds, [event])
        if chorus in (59, 79, 159):
            sizes.append(kept(rehearsal))
    assert rehearsal.state == "playing" and rehearsal.now > 159 * 4 * BEAT
    # One chorus of a solo is longer than another, and what was kept at first may have been of the longer ones.
    assert sizes[2] < max(sizes[:2]) + 0.02 * sizes[0]


def test_what_was_sent_is_forgotten_however_long_nothing_is_heard() -> None:
    echo = EchoFilter(0.12)
    sizes = []
    for n in range(20_000):
        echo.sent(n / 8, (0x90 if n % 2 else 0x80, 40 + n % 12, 64))
        if n % 10_000 == 9_999:
            sizes.append(kept(echo))
    assert sizes[1] < sizes[0] + 100
