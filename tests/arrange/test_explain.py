"""Every bar says what it plays and why."""

from __future__ import annotations

from collections.abc import Callable

from companion.arrange.explain import explain
from companion.arrange.request import Request
from companion.chart.model import Form

Composer = Callable[..., Form]


def test_each_bar_has_its_symbols_and_a_reason_for_every_note(minor_swing: Form) -> None:
    bars = explain(minor_swing, Request(treatment="walking"))
    assert [bar.bar for bar in bars] == list(range(1, 33))
    assert bars[0].symbols == "Gm6"
    assert all(any(part == "bass" for part, _ in bar.lines) for bar in bars)
    assert "the root says Gm6" in str(bars[0])


def test_a_few_bars_may_be_asked_for(minor_swing: Form) -> None:
    assert [bar.bar for bar in explain(minor_swing, first=5, last=8)] == [5, 6, 7, 8]


def test_the_voicing_names_its_form_and_how_the_hand_came_there(minor_swing: Form) -> None:
    said = " ".join(str(bar) for bar in explain(minor_swing, Request(treatment="walking")))
    assert "rootless from the" in said
    assert "two notes stay" in said or "every voice moves by step" in said
    assert "where the melody rests" in said or "while the melody holds" in said


def test_a_section_opens_with_its_treatment_and_each_chord_has_its_scale(compose: Composer) -> None:
    form = compose("Dm7 | G7 | Cmaj7 | Cmaj7", sections=[("A", 2, "walking"), ("B", 2, "sparse")])
    bars = explain(form)
    assert [bar.opens for bar in bars] == [True, False, True, False]
    assert str(bars[0]).startswith("A: walking, a walking bass")
    assert [bar.scales for bar in bars] == ["D dorian", "G mixolydian", "C ionian", "C ionian"]
    assert str(bars[0]).splitlines()[-1].split() == ["scales", "D", "dorian"]


def test_what_is_thinned_says_what_would_have_rubbed(compose: Composer) -> None:
    """A ninth a semitone below the melody's third: common practice."""
    form = compose(" | ".join(["Bm7"] * 4), fifths=2, melody=[(0, 16, 74)])
    said = [line for bar in explain(form, Request(treatment="walking")) for _, line in bar.lines if "thinned" in line]
    assert said
    assert all("its ninth would rub against the melody's D5" in line for line in said)


def test_a_dominant_says_that_it_resolves_to_minor(compose: Composer) -> None:
    form = compose("Dm7b5 | G7 | Cm6 | Cm6", fifths=-3, minor=True)
    assert "it resolves to minor" in " ".join(map(str, explain(form, Request(treatment="walking"))))


def test_a_melody_that_is_let_go_is_said_to_be(compose: Composer) -> None:
    form = compose(" | ".join(["Em7", "A7"] * 4), melody=[(4 * k, 2, 76) for k in range(8)])
    assert all(("melody", "let go here") in bar.lines for bar in explain(form, Request(treatment="sliding")))
