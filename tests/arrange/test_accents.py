"""Where in the bar a part is firmer (common practice)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from companion.arrange.accents import accent
from companion.arrange.part import Note
from companion.chart.toml.read import parse_toml
from companion.music.pitch import Pitch
from companion.preferences import preferences
from companion.preferences.accents import AccentPreferences

ACCENTS = preferences(AccentPreferences)


def firmness(metre: str, part: str, beats: list[float]) -> list[float]:
    form = parse_toml(f'format = 1\nmetre = "{metre}"\n[section.A]\nchords = "| Dm7 | G7 |"').unfold()
    low_d = Pitch("D", 0, 2)
    return [
        accent(ACCENTS, form, Note(Fraction(beat).limit_denominator(12), Fraction(1), low_d, part)) for beat in beats
    ]


def test_a_walking_bass_is_firmer_on_two_and_four() -> None:
    one, two, three, four = firmness("4/4", "bass", [4, 5, 6, 7])
    assert two == four > one >= three


@pytest.mark.parametrize("metre", ["3/4", "9/8"])
def test_a_bar_of_three_has_no_backbeat(metre: str) -> None:
    pulse = 1.5 if metre == "9/8" else 1
    one, two, three = firmness(metre, "bass", [0, pulse, 2 * pulse])
    assert one >= two == three


def test_a_chord_off_the_beat_is_a_little_firmer_than_one_on_it() -> None:
    on, off = firmness("4/4", "chords", [2, 2.5])
    assert off > on


def test_the_melody_is_as_firm_as_its_player_wants_it() -> None:
    assert set(firmness("4/4", "melody", [-0.5, 0, 1, 1.5])) == {1.0}


@pytest.mark.parametrize(
    ("metre", "beats", "told"),
    [
        ("4/4", [0, 1, 2, 3, 0.5, 4, 5], [1, 2, 3, 2, 4, 1, 2]),
        ("2/4", [0, 1, 2, 3], [1, 2, 1, 2]),
        ("3/4", [0, 1, 2, 3, 4], [1, 3, 3, 1, 3]),
        ("5/4", [0, 1, 2, 3, 4], [1, 3, 3, 3, 3]),
        ("6/4", [0, 1, 2, 3, 4, 5], [1, 2, 3, 2, 3, 2]),
        ("12/8", [0, 1.5, 3, 4.5, 1, 2], [1, 2, 3, 2, 4, 4]),
        ("6/8", [0, 1.5, 0.5], [1, 2, 4]),
        ("9/8", [0, 1.5, 3], [1, 3, 3]),
    ],
)
def test_each_beat_of_a_bar_has_its_firmness(metre: str, beats: list[float], told: list[float]) -> None:
    shares = replace(ACCENTS.parts["bass"], first=1.0, backbeat=2.0, beat=3.0, off_beat=4.0)
    form = parse_toml(f'format = 1\nmetre = "{metre}"\n[section.A]\nchords = "| Dm7 | G7 |"').unfold()
    accents = replace(ACCENTS, parts={"bass": shares})
    notes = [Note(Fraction(beat), Fraction(1), Pitch("D", 0, 2), "bass") for beat in beats]
    assert [accent(accents, form, note) for note in notes] == told
