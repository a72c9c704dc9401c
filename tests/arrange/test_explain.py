"""Every bar says what it plays and why."""

from __future__ import annotations

from companion.arrange.explain import explain
from companion.chart.model import Form


def test_each_bar_has_its_symbols_and_a_reason_for_every_note(minor_swing: Form) -> None:
    bars = explain(minor_swing, treatment="walking")
    assert [bar.bar for bar in bars] == list(range(1, 33))
    assert bars[0].symbols == "Gm6"
    assert all(any(part == "bass" for part, _ in bar.lines) for bar in bars)
    assert "the root says Gm6" in str(bars[0])


def test_a_few_bars_may_be_asked_for(minor_swing: Form) -> None:
    assert [bar.bar for bar in explain(minor_swing, first=5, last=8)] == [5, 6, 7, 8]


def test_the_voicing_names_its_form_and_how_the_hand_came_there(minor_swing: Form) -> None:
    said = " ".join(str(bar) for bar in explain(minor_swing, treatment="walking"))
    assert "rootless from the" in said
    assert "the hand" in said or "each voice moves a second at most" in said
