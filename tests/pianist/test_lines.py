"""Lines of the built-in player: which notes go with which chord, and each kind of line written out to the last note.

Scales, voicings and approaches are common practice. What is written out is what is played today with these dice: where
nothing of the player was changed on purpose, another text means that demo, trials and tests rest on other playing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from companion.chart.model import Form
from companion.chart.toml.read import parse_toml
from companion.music.chords import parse_chord
from companion.pianist import lines as made
from companion.pianist.lines import IntendedNote
from companion.pianist.player import manners
from companion.preferences import preferences
from companion.preferences.players import PlayerManner, PlayerPreferences
from tests.wrapping import lines, wrapped

TUNE = """
format = 1
title = "Thirteen Umbrellas"
key = "Eb"
metre = "4/4"
tempo = 150
feel = "swing"
form = "A B"
[section.A]
chords = "| Ebmaj7 C7 | Fm7 Bb7 | Gm7b5 C7 | Fm6 N.C. |"
melody = "| G2 B2 e3 d | c8 | z4 =A2 c2 | _A4 z4 |"
[section.B]
chords = "| Ab6 Abm6 | Eb/G C7#5 | F13 Bb7b9 | Ebmaj7 |"
melody = "| e2 f2 g4 | B8- | B2 d2 f2 a2 | g6 z2 |"
"""
FIVE = """
format = 1
title = "Short of a Dime"
key = "D minor"
metre = "5/4"
tempo = 120
feel = "straight"
form = "A"
[section.A]
chords = "| Dm7 | Em7b5 A7 | Bb7#11 | A7sus4 Dm6 |"
melody = "| A4 d6 | e10 | f4 e6 | d10 |"
"""
JIG = """
format = 1
title = "Wet Boots"
key = "G"
metre = "6/8"
tempo = 140
feel = "straight"
form = "A"
[section.A]
chords = "| G | Am7 D7 | G E7 | Am7 D7 |"
melody = "| G3 B3 | c3 A3 | B3 e3 | d6 |"
"""


@pytest.fixture(scope="module")
def form() -> Form:
    return parse_toml(TUNE).unfold()


def written(notes: Sequence[IntendedNote]) -> list[str]:
    """Each as ``beat midi/length*weight``, with what else there is to say of it."""
    words = []
    for n in notes:
        more = f"+{1000 * n.lag:.0f}ms" if n.lag else ""
        more += f"~{n.swing:.3f}" if n.swing is not None else ""
        more += f" {n.kind}" if n.kind != "right" else ""
        more += f"({n.meant})" if n.meant is not None else ""
        words.append(f"{n.beat:.5g} {n.midi}{'L' if n.hand == 'left' else ''}/{n.length:.4g}*{n.weight:.4g}{more}")
    return wrapped(words)


KEPT = {
    "comping": """
0 55L/1.081*1 0 58L/1.081*0.9462 0 62L/1.081*0.9909 0 65L/1.081*0.991 1.5 52L/0.4719*0.959 1.5 58L/0.4719*1.008
1.5 63L/0.4719*1.049 4 51L/1.733*1.031 4 55L/1.733*0.9546 4 56L/1.733*1.04 6.5 50L/1.148*0.9247 6.5 55L/1.148*0.9266
8.5 53L/0.4898*0.954 8.5 55L/0.4898*0.9771 8.5 58L/0.4898*0.984 8.5 61L/0.4898*1.049 10.5 52L/0.9864*1.036
10.5 56L/0.9864*0.9546 10.5 58L/0.9864*0.989 10.5 63L/0.9864*0.9543 12.5 50L/0.9576*0.9796 12.5 55L/0.9576*0.9735
12.5 56L/0.9576*1.039 12.5 60L/0.9576*0.9751 17.5 53L/0.4787*0.9852 17.5 58L/0.4787*1.038 17.5 59L/0.4787*1.009
19.5 55L/1.117*1.025 19.5 60L/1.117*1.032 19.5 65L/1.117*0.9925 20.5 55L/0.8435*0.9768 20.5 58L/0.8435*1.04
20.5 60L/0.8435*0.9935 20.5 65L/0.8435*0.9113 22 52L/1.254*1.012 22 58L/1.254*0.9088 25 51L/0.5286*1.037
25 55L/0.5286*1.013 25 57L/0.5286*0.9205 25 62L/0.5286*0.9399 25.5 50L/0.3886*1.035 25.5 55L/0.3886*1.014
27 50L/0.4311*0.9035 27 55L/0.4311*0.9173 27 56L/0.4311*0.9101 27 59L/0.4311*0.9061 28 50L/0.8207*0.9276
28 53L/0.8207*1.004 28 55L/0.8207*0.9578 28 58L/0.8207*0.9065 29.5 50L/0.3759*1.041 29.5 55L/0.3759*0.9942
""",
    "comping in five": """
0 53L/2.554*0.9939 0 60L/2.554*0.9098 0 64L/2.554*0.902 7.5 55L/1.498*0.9705 7.5 59L/1.498*1.025
7.5 61L/1.498*0.9715 7.5 66L/1.498*0.9959 10 56L/2.917*0.9585 10 60L/2.917*0.9023 10 62L/2.917*1.017
10 67L/2.917*0.9239 15.5 55L/0.8712*0.9892 15.5 59L/0.8712*1.038 15.5 62L/0.8712*0.9581 15.5 64L/0.8712*1.018
""",
    "answers": """
8 53L/1.9*0.92 8 55L/1.9*0.92 8 58L/1.9*0.92 8 61L/1.9*0.92 18.5 53L/1.4*0.92 18.5 59L/1.4*0.92 20.5 48L/1.5*0.92
20.5 55L/1.5*0.92 23 52L/1*0.92 23 56L/1*0.92 23 58L/1*0.92 23 62L/1*0.92 29 50L/2.9*0.92 29 55L/2.9*0.92
31.5 50L/0.4*0.92 31.5 55L/0.4*0.92
""",
    "more answers": """
3 53L/1.9*0.92 3 57L/1.9*0.92 3 60L/1.9*0.92 4 64L/0.9*0.92 5.5 55L/2*0.92 5.5 62L/2*0.92 7.5 55L/2.4*0.92
7.5 61L/2.4*0.92 13 50L/1.9*0.92 13 55L/1.9*0.92 13 56L/1.9*0.92 15.5 50L/2*0.92 15.5 54L/2*0.92 15.5 55L/2*0.92
16.5 59L/1*0.92 17 50L/0.5*0.92 17 54L/0.5*0.92
""",
    "walking": """
0 39L/1*0.97 1 35L/1*1.04 2 36L/1*0.97 3 48L/1*1.04 4 41L/1*0.97 5 39L/1*1.04 6 34L/1*0.97 7 32L/1*1.04 8 31L/1*0.97
9 43L/1*1.04 10 48L/1*0.97 11 42L/1*1.04 12 41L/1*0.97 13 44L/1*1.04 16 44L/1*0.97 17 42L/1*1.04 18 44L/1*0.97
19 42L/1*1.04 20 43L/1*0.97 21 46L/1*1.04 22 48L/1*0.97 23 40L/1*1.04 24 41L/1*0.97 25 47L/1*1.04 26 46L/1*0.97
27 52L/1*1.04 28 51L/1*0.97 29 50L/1*1.04 30 51L/1*0.97 31 52L/1*1.04
""",
    "walking in six eight": """
0 31L/1.5*0.97 1.5 33L/1.5*1.04 3 33L/1.5*0.97 4.5 38L/1.5*1.04 6 43L/1.5*0.97 7.5 40L/1.5*1.04 9 45L/1.5*0.97
10.5 50L/1.5*1.04
""",
    "a solo": """
0 82/0.5*0.9983 0.5 80/0.5*1.025 1 82/0.5*1.047 1.5 84/0.5*0.971 2 82/0.5*0.9901 2.5 79/0.5*1.016 3 76/0.5*1.018
3.5 74/0.5*1.036 4 72/0.5*1.012 4.5 70/0.5*1.001 5 68/0.5*1.006 5.5 67/0.5*1.025 6.5 68/0.5*0.9787 7 74/0.5*1.013
7.5 72/0.5*0.9735 8 70/0.5*0.9964 8.5 65/0.5*1.002 9 58/0.5*1.025 9.5 61/0.5*0.9803 10 64/0.5*1.071
10.5 67/0.5*0.979 11 70/0.5*1.004 11.5 72/0.5*0.9519 12 77/0.5*1.059 12.5 82/1*0.9932 13.5 80/0.5*0.9936
14 77/0.5*1.019 14.5 75/0.5*0.9374 15 74/0.5*1.035 15.5 75/0.5*1.028 16 77/0.5*0.97 16.5 80/1*0.9742
17.5 82/0.5*1.029 18 83/0.5*1.045 18.5 80/0.5*1.037 19 77/0.5*0.9936 19.5 71/0.3333*0.9303 19.833 68/0.3333*0.9239
20.167 70/0.3333*1.039 20.5 74/0.5*0.9293 21 70/0.5*1.019 21.5 72/0.5*0.9237 22 70/0.5*1.028 23.5 72/0.5*0.9887
24 74/0.5*1.006 24.5 79/0.5*0.9994 25 82/0.5*1.04 25.5 81/0.3333*0.9273 25.833 84/0.3333*1.005
26.167 83/0.3333*0.9239 26.5 80/0.5*0.9878 27 79/0.5*1.064 27.5 77/0.5*1.038 28 74/0.5*1.048 28.5 72/1*1.023
29.5 70/0.5*0.9506 30 63/0.5*1.042 30.5 62/0.5*0.9239 31 67/0.5*1.071
""",
    "a loose solo": """
0 70/0.5*1.044+30ms~1.187 0.5 68/0.5*1.034+9ms~1.187 1 70/0.5*1.079+30ms~1.187 1.5 68/0.5*1.026+9ms~1.187
2 64/0.75*1.053+30ms~1.187 2.75 62/0.75*0.9252+9ms~1.187 3.5 64/0.5*1.021+9ms~1.187 4 68/0.5*1.076+30ms~1.187
4.5 65/0.5*1.022+9ms~1.187 5 63/0.5*1.02+30ms~1.187 9 65/0.5*1.046+27ms~1.645 9.5 63/0.5*1.022+8ms~1.645
10 60/0.5*1.008+27ms~1.645 10.5 64/0.5*0.9806+8ms~1.645 11 67/0.5*1.043+27ms~1.645 11.5 68/0.5*0.9639+8ms~1.645
12 72/0.5*1.033+27ms~1.645 12.5 70/0.5*0.9524+8ms~1.645 13 69/0.25*1.054+27ms~1.645 13.25 68/0.25*0.9498+8ms~1.645
13.5 67/0.25*1.036+8ms~1.645 13.75 65/0.25*0.9643+8ms~1.645 14 68/0.5*0.9661+27ms~1.645 14.5 70/0.5*1.038+8ms~1.645
15 71/0.5*1.054+27ms~1.645 15.5 72/0.5*0.9542+8ms~1.645 18 75/0.5*1.006+29ms~1.096 18.5 77/0.5*1.013+9ms~1.096
19 79/0.5*0.9808+29ms~1.096 19.5 80/0.5*0.9467+9ms~1.096 20 82/0.5*0.9808+29ms~1.096 20.5 86/0.5*1.033+9ms~1.096
21 82/0.5*1.023+29ms~1.096 21.5 80/0.5*0.9277+9ms~1.096 23 81/0.5*1.065+33ms~1.072 23.5 84/0.5*0.995+10ms~1.072
24 82/0.25*1.041+33ms~1.072 24.25 81/0.25*0.993+10ms~1.072 24.5 82/0.25*0.9764+10ms~1.072
24.75 84/0.25*0.9601+10ms~1.072 25 79/0.3333*1.077+33ms~1.072 25.333 76/0.3333*1.001+10ms~1.072
25.667 75/0.3333*0.9331+10ms~1.072 26 73/0.5*1.016+33ms~1.072 26.5 71/0.5*0.9483+10ms~1.072
27 74/0.5*0.9627+33ms~1.072 27.5 72/0.5*0.9771+10ms~1.072 28 70/0.5*0.9647+33ms~1.072 28.5 72/0.5*0.9684+10ms~1.072
29 76/0.5*0.9897+33ms~1.072 29.5 77/0.5*1.02+10ms~1.072 30 79/0.5*1.028+33ms~1.072 30.5 80/0.5*0.959+10ms~1.072
""",
    "a loose solo in six eight": """
0 66/0.5*0.983+30ms 0.5 64/0.5*0.9677+9ms 1 62/0.5*1.007+30ms 1.5 65/0.5*0.9562+9ms 2 71/0.5*1.046+30ms
2.5 72/0.5*0.9734+9ms 3 70/0.75*1.053+30ms 3.75 69/0.75*0.9889+9ms 8 74/0.5*0.9796+30ms 8.5 80/0.5*0.9883+9ms
9 76/0.5*0.9942+30ms 9.5 79/0.5*0.9306+9ms 10 76/0.25*1.065+30ms 10.25 79/0.25*0.9861+9ms 10.5 80/0.25*0.9572+9ms
10.75 78/0.25*1.037+9ms 11 73/0.5*1.075+30ms 11.5 72/0.5*0.9824+9ms
""",
    "slips": """
0 67/2*1 0 55/2*0.92 extra 2 68/0.15*0.85+-81ms extra 2 70/2*1 4 77/0.15*0.85+-265ms extra
4 75/0.15*0.85+-177ms extra 4 73/0.15*0.85+-88ms extra 4 75/3*1 4 63/3*0.92 extra 7 73/0.15*0.85+-105ms extra
7 74/1*1 8 72/8*1 missing 20 69/2*1 22 73/0.15*0.85+-252ms extra 22 72/0.15*0.85+-168ms extra
22 70/0.15*0.85+-84ms extra 22 72/2*1 22 60/2*0.92 extra 24 69/0.15*0.85+-277ms extra 24 68/0.15*0.85+-184ms extra
24 66/0.15*0.85+-92ms extra 24 68/4*1 32 75/2*1 34 77/2*1 34 65/2*0.92 extra 36 80/4*1 wrong(79)
40 71/0.15*0.85+-72ms extra 40 70/10*1 40 58/10*0.92 extra 50 74/2*1 52 79/0.15*0.85+-205ms extra
52 77/0.15*0.85+-137ms extra 52 76/0.15*0.85+-68ms extra 52 77/2*1 54 81/2*1 wrong(80) 54 69/2*0.92 extra 56 79/6*1
56 67/6*0.92 extra
""",
    "slips of two hands": """
0 68/0.15*0.85+-228ms extra 0 67/0.15*0.85+-152ms extra 0 65/0.15*0.85+-76ms extra 0 67/1*1 1 72/1*1 wrong(70)
2 74/0.15*0.85+-91ms extra 2 75/1.5*1 3.5 73/0.5*1 wrong(74) 4 71L/4*1 wrong(72) 10 69L/1*1 missing 11 72L/1*1
12 68L/2*1 missing 16 75L/1*1
""",
    "last chords": """
30 39L/6*1 30 55L/6*0.95 30 58L/6*0.95 30 62L/6*0.95 30 65L/6*0.95 24 51L/6*0.95 24 55L/6*0.95 24 57L/6*0.95
24 62L/6*0.95 24 65/6*1 19 74/6*1
""",
}


def manner(name: str, **more: float) -> PlayerManner:
    return replace(manners()[name], **more)  # type: ignore[arg-type]


def line(name: str) -> list[IntendedNote]:
    """One of the lines that are written out below."""
    tune, five, jig = (parse_toml(text).unfold() for text in (TUNE, FIVE, JIG))
    rhythms = preferences(PlayerPreferences).comping
    melody = made.melody_line(tune)
    slow = [replace(note, beat=2 * note.beat, length=2 * note.length) for note in melody]
    match name:
        case "comping":
            return made.comping_line(tune, rhythms, Random(2))
        case "comping in five":
            return made.comping_line(five, rhythms, Random(3))
        case "answers":
            return made.answers(tune, melody, Random(4))
        case "more answers":
            return made.answers(parse_toml(FIVE).unfold(), made.melody_line(five), Random(6))
        case "walking":
            return made.walking_line(tune, Random(5))
        case "walking in six eight":
            return made.walking_line(jig, Random(1))
        case "a solo":
            return made.solo_line(tune, Random(6), manner("clean"))
        case "a loose solo":
            return made.solo_line(tune, Random(9), manner("loose"))
        case "a loose solo in six eight":
            return made.solo_line(jig, Random(3), manner("loose", outside=0.4))
        case "slips":
            return made.with_slips(slow, Random(1), manner("messy", ornaments=0.4, octaves=0.5))
        case "slips of two hands":
            both = [*melody[:4], *(replace(note, hand="left") for note in melody[4:9])]
            return made.with_slips(both, Random(12), manner("messy", left_out=0.2, wrong=0.3, ornaments=0.3))
    ends = (30.0, {"bass", "chords"}), (14.0, {"melody"}), (24.0, {"solo", "chords"})
    found = [made.last_chord(tune, beat, frozenset(parts), melody[:2], Random(8)) for beat, parts in ends]
    return [
        *(note for end in found for note in end),
        *made.last_chord(five, 19.0, frozenset({"melody"}), (), Random(1)),
    ]


@pytest.mark.parametrize("name", KEPT)
def test_each_line_is_written_out(name: str) -> None:
    assert written(line(name)) == lines(KEPT[name])


@pytest.mark.parametrize(
    ("symbol", "scale"),
    [
        ("Ebmaj7", (0, 2, 3, 5, 7, 8, 10)),  # the key itself
        ("Fm7", (0, 2, 3, 5, 7, 8, 10)),
        ("Bb7", (0, 2, 3, 5, 7, 8, 10)),
        ("C7", (0, 2, 4, 7, 8, 10)),  # E in place of its neighbours E flat and F
        ("F7", (0, 2, 3, 5, 7, 9)),  # A in place of A flat and B flat
        ("Abm6", (2, 3, 5, 7, 8, 11)),  # C flat in place of C and B flat
        ("Bb7b9", (2, 3, 5, 7, 8, 10, 11)),  # C flat in place of C; B flat is the chord's own
        ("Cm6", (0, 2, 3, 5, 7, 9)),
    ],
)
def test_the_scale_over_a_chord_is_the_keys_bent_to_hold_its_notes(
    form: Form, symbol: str, scale: tuple[int, ...]
) -> None:
    assert made.scale_at(parse_chord(symbol), form) == scale


@pytest.mark.parametrize(("symbol", "scale"), [("C6", (0, 2, 4, 5, 7, 9, 10)), ("Edim7", (1, 4, 5, 7, 9, 10))])
def test_in_a_minor_key_the_scale_is_the_natural_minor(symbol: str, scale: tuple[int, ...]) -> None:
    assert made.scale_at(parse_chord(symbol), parse_toml(FIVE).unfold()) == scale


@pytest.mark.parametrize(
    ("semitones", "of_chord", "bent"),
    [
        (14, {0, 4, 7, 10, 2}, 14),  # the ninth that is there
        (14, {0, 4, 7, 10, 1}, 13),  # b9
        (14, {0, 3, 4, 7, 10}, 15),  # #9
        (14, {0, 4, 7, 10}, 14),
        (14, {0, 3, 7, 10}, 14),  # a minor chord's own third is no #9
        (21, {0, 4, 8, 10}, 20),  # b13 for 13
        (7, {0, 4, 8, 10}, 8),  # #5
        (9, {0, 4, 7, 9, 10, 8}, 9),
        (7, {0, 3, 6, 10}, 6),  # b5
        (7, {0, 3, 7, 10}, 7),
        (9, {0, 3, 6, 9}, 9),
        (10, {0, 4, 7, 11}, 10),
    ],
)
def test_a_colour_is_bent_to_what_the_symbol_says(semitones: int, of_chord: set[int], bent: int) -> None:
    assert made._bent(semitones, of_chord) == bent


def test_on_the_last_quaver_before_a_new_chord_the_new_one_is_meant(form: Form) -> None:
    meant = {beat: made._meant(form, beat).chord.symbol for beat in (0.0, 1.0, 1.5, 2.0, 3.0, 3.5, 5.5, 31.5)}
    assert meant == {0.0: "Ebmaj7", 1.0: "Ebmaj7", 1.5: "C7", 2.0: "C7", 3.0: "C7", 3.5: "Fm7", 5.5: "Bb7",
                     31.5: "Ebmaj7"}  # fmt: skip


def test_a_dominant_goes_to_the_minor_chord_a_fifth_below_it(form: Form) -> None:
    spans = {float(span.start): made._to_minor(form, span) for span in form.chords}
    assert [start for start, to_minor in spans.items() if to_minor] == [2.0, 10.0], "C7 to Fm7, C7 to Fm6"


def test_the_pulses_of_a_chord_are_those_on_which_it_rules() -> None:
    jig = parse_toml(JIG).unfold()
    assert [made._pulses(jig, span) for span in jig.chords[:3]] == [[0.0, 1.5], [3.0], [4.5]]


@pytest.mark.parametrize(("beat", "end"), [(0.0, 2.0), (1.5, 4.0), (31.5, 34.0)])
def test_a_chord_that_anticipates_the_next_time_through_ends_in_it(form: Form, beat: float, end: float) -> None:
    assert made._end_of(form, made._meant(form, beat), beat) == end


# by hand


class Scripted(Random):
    """Dice that always show the same; of several things it takes the one at a place, and keeps what it was offered."""

    def __init__(self, fallen: float = 0.5, place: int = 0):
        super().__init__(0)
        self.fallen, self.place = fallen, place
        self.offered: list[tuple[list[Any], list[float]]] = []

    def random(self) -> float:
        return self.fallen

    def uniform(self, a: float, b: float) -> float:
        return a + (b - a) * self.fallen

    def choice(self, seq: Sequence[Any]) -> Any:
        return seq[min(self.place, len(seq) - 1)]

    def choices(self, population: Sequence[Any], weights: Sequence[float] | None = None, **_: Any) -> list[Any]:
        self.offered.append((list(population), list(weights or ())))
        return [population[min(self.place, len(population) - 1)]]

    def shuffle(self, x: Any) -> None:
        pass


LINES = preferences(PlayerPreferences).lines


@pytest.mark.parametrize(
    ("symbol", "before", "told", "size", "notes"),
    [
        ("C7", (), {}, 0, [52, 57, 58, 62]),  # nearest to A sharp under middle C
        ("C7", (), {}, 1, [52, 57, 58]),  # third, sixth and seventh first
        ("C7", (), {}, 2, [52, 57]),
        ("C7", (65,), {}, 0, [58, 62, 64, 69]),  # nearest to the hand
        ("C7", (65,), {}, 1, [58, 64, 69]),
        ("C7", (60, 60), {}, 0, [52, 57, 58, 62]),
        ("C7", (), {"below": 62}, 0, [52, 57, 58]),  # under the melody
        ("C7", (), {"below": 63}, 0, [52, 57, 58, 62]),
        ("C7", (), {"below": 53}, 0, []),
        ("C7", (), {"to_minor": True}, 0, [52, 56, 58, 63]),  # flat thirteenth, sharp ninth
        ("Cmaj7", (), {"to_minor": True}, 0, [52, 55, 59, 62]),
        ("Abmaj7", (50,), {}, 0, [48, 51, 55, 58]),  # C3 is the lowest of a lowest note ...
        ("Abmaj7", (68,), {}, 0, [60, 63, 67, 70]),  # ... and C4 the highest
        ("C5", (), {}, 0, [60, 67]),  # no usual voicing: its own notes
        ("N.C.", (), {}, 0, []),
    ],
)
def test_a_rootless_voicing_lies_near_the_hand_and_has_third_and_seventh_first(
    symbol: str, before: tuple[int, ...], told: dict[str, Any], size: int, notes: list[int]
) -> None:
    assert made.voicing(LINES, parse_chord(symbol), before, Scripted(place=size), **told) == notes


WAITING = replace(
    LINES.answers, wait=(1.0, 0.5), room=0.875, left_out=0.1, gap=3.0, again=0.7, apart=(1.5,)
)  # fmt: skip


@pytest.mark.parametrize(
    ("note", "after", "told", "beats"),
    [
        ((0.0, 1.0), 4.0, {}, [1.0, 2.5]),  # where it rests, and once more in a gap of three beats
        ((0.0, 1.0), 3.75, {}, [1.0]),
        ((0.0, 1.0), 4.0, {"fallen": 0.7}, [1.0]),
        ((0.0, 1.0), 4.0, {"fallen": 0.09}, []),  # left out now and then
        ((0.0, 1.0), 4.0, {"fallen": 0.1}, [1.0, 2.5]),
        ((0.0, 1.875), 1.875, {}, [1.0]),  # where a long note has begun
        ((0.0, 1.75), 1.75, {}, []),  # too soon another comes
        ((0.0, 1.25), 1.625, {"place": 1}, []),  # short, and hardly a rest
        ((0.0, 1.25), 1.75, {"place": 1}, [0.5]),
        ((0.0, 1.5), 1.625, {"place": 1}, [0.5]),
        ((0.0, 1.0), 2.5, {"place": 1}, [1.5]),  # half a beat into a rest of a beat and a half
        ((0.0, 1.0), 2.375, {"place": 1}, [0.5]),  # less is no rest
        ((0.75, 4.0), 4.75, {}, [2.0]),  # to the nearest quaver
        ((-3.0, 1.0), 4.0, {}, [1.0, 2.5]),  # nothing before the first beat
        ((-1.0, 1.0), 2.75, {}, [0.0]),
        ((-0.75, 1.0), 2.75, {}, [0.0]),
        ((0.0, 1.0), 2.875, {"place": 1}, [1.5]),
    ],
)
def test_a_chord_answers_where_the_melody_rests_or_has_begun_a_long_note(
    note: tuple[float, float], after: float, told: dict[str, Any], beats: list[float]
) -> None:
    assert made._openings(WAITING, IntendedNote(*note, 72), after, Scripted(**told)) == beats


def bass_note(form: Form, symbols: str, k: int, n: int, last: int, lead: int = 1) -> tuple[int, Scripted]:
    """The k-th of n notes over the first of two chords, where an approach is so many semitones from its goal."""
    here, onward = (parse_chord(symbol) for symbol in symbols.split())
    dice = Scripted()
    taste = replace(LINES.bass, leads={lead: 1.0})
    return made._bass_note(taste, form, here, onward, k, n, last, dice), dice


def test_a_walking_note_is_the_nearest_root_or_leads_to_the_next_within_the_range(form: Form) -> None:
    assert bass_note(form, "C7 F7", 0, 4, 40)[0] == 36 and bass_note(form, "C7 F7", 0, 4, 43)[0] == 48
    assert bass_note(form, "C/E F7", 0, 4, 40)[0] == 40
    assert bass_note(form, "C7 F7", 3, 4, 40)[0] == 42 and bass_note(form, "C7 F7", 3, 4, 43, -1)[0] == 40
    assert bass_note(form, "Bb7 F7", 1, 2, 30, -1)[0] == 28, "the lowest"
    assert bass_note(form, "Bb7 Eb7", 1, 2, 50, 1)[0] == 52, "the highest"
    for symbols, last, lead in (("Bb7 E7", 30, -1), ("Bb7 E7", 50, 1), ("C7 F7", 42, 1)):
        found, dice = bass_note(form, symbols, 1, 2, last, lead)
        assert len(dice.offered) == 2 and found in dice.offered[1][0], "out of range, or the same again: it walks on"
    alone, dice = bass_note(form, "C7 F7", 0, 1, 40)
    assert alone == 36 and not dice.offered, "one alone is the root"


def test_between_its_chords_a_walk_takes_chord_notes_rather_and_steps_rather(form: Form) -> None:
    """Within a fourth either way, in the scale that goes with the chord: C E G B flat, and D, A flat."""
    _, dice = bass_note(form, "C7 F7", 1, 4, 36)
    (notes, weights) = dice.offered[0]
    assert notes == [31, 32, 34, 38, 40]
    chordal = LINES.bass.chord_tone
    assert weights == pytest.approx([chordal / 4, 1 / 3, chordal / 1, 1 / 1, chordal / 3])
    assert bass_note(form, "C7 F7", 1, 4, 30)[1].offered[0][0] == [28, 31, 32, 34]
    assert bass_note(form, "C7 F7", 1, 4, 50)[1].offered[0][0] == [46, 48, 52]


def test_a_player_who_lies_behind_at_all_is_a_loose_one(form: Form) -> None:
    """Behind by so many milliseconds on the beat, by three tenths of it between; a swing of their own a phrase."""
    for behind, loose in ((0.0, False), (0.5, True), (20.0, True)):
        how = replace(manner("clean"), behind_ms=(behind, behind))
        phrase = made._phrase(LINES.solo, form, 0.0, 70, Scripted(), how)
        assert (phrase[0].swing is not None) == loose
        lags = {note.beat % 1: note.lag for note in phrase if note.beat % 1 in (0, 0.5)}
        assert lags == {0.0: pytest.approx(behind / 1000), 0.5: pytest.approx(0.3 * behind / 1000)}
        assert phrase[0].weight - phrase[1].weight == pytest.approx(LINES.solo.on_beat)


def test_where_there_was_no_melody_the_last_note_is_the_tonic_nearest_to_c5() -> None:
    for symbol, midi in (("F#7", 66), ("C6", 72), ("F7", 77), ("G7", 67), ("B7", 71), ("Db7", 73)):
        text = FIVE.replace(
            "| Dm7 | Em7b5 A7 | Bb7#11 | A7sus4 Dm6 |", f"| {symbol} | {symbol} | {symbol} | {symbol} |"
        )
        (note,) = made.last_chord(parse_toml(text).unfold(), 15.0, frozenset({"melody"}), (), Scripted())
        assert (note.midi, note.beat, note.length, note.weight, note.hand) == (midi, 15.0, 6.0, 1.0, "right"), symbol


def test_a_chord_that_ends_where_it_is_struck_is_the_next_time_throughs(form: Form) -> None:
    assert made._end_of(form, form.chords[0], 2.0) == 34.0 and made._end_of(form, form.chords[0], 1.875) == 2.0


def test_a_chord_is_held_for_three_tenths_of_a_beat_at_least_and_no_longer_than_it_rules(form: Form) -> None:
    def held(*rhythm: tuple[float, float]) -> list[float]:
        found = made.comping_line(form, {4.0: [rhythm]}, Scripted())
        return sorted({round(note.length, 6) for note in found if note.beat < 4})

    assert held((0.0, 0.1)) == [0.3]
    assert held((0.0, 1.0)) == [0.975], "between three quarters and one and a fifth of its length"
    assert held((0.0, 3.0)) == [2.0], "until C7"
