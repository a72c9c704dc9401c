"""What readings of played notes cost, and how far each note lay from its place, in numbers.

What stands here is what it costs today. Other numbers are no fault where ``capture.toml`` or the reading was changed on
purpose; where they weren't, something has moved what is taken for likely.

Of each performance: the costs of its first readings, the best first; the costs of the habits that the best one shows
(``told``, grace note, divisions, patterns); the ratio of its quavers; of each note its written beat (``-`` for a grace
note), how many milliseconds it was off, and how doubtful it is.
"""

from __future__ import annotations

from itertools import cycle

import pytest

from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.music.swing import to_sounding
from companion.preferences import preferences
from companion.preferences.capture import CapturePreferences
from companion.transcribe.quantise import _first, _reading, _Search, _second, cost_of
from companion.transcribe.rhythms import divisions_of, habit_of

UNEVEN = (0.006, -0.011, 0.013, 0.019, -0.004, 0.009, -0.015, 0.002)
"""Seconds by which onsets are beside their moment."""
Notes = list[tuple[float, int]]


def struck(notes: Notes, tempo: float, ratio: float = 1.0, gain: float = 0.0) -> list[KeyPress]:
    """Keys at beats (written; swung here), the tempo rising by so much a beat."""
    found = []
    for (beat, midi), beside in zip(notes, cycle(UNEVEN), strict=False):
        on = 1.0 + to_sounding(beat, ratio) * (1 - gain * beat) * 60 / tempo + beside
        found.append(KeyPress(on, on + 0.2, midi))
    return found


QUAVERS = [(n / 2, 60 + (5, 7, 9, 4, 2, 0, 7, 5, 12)[n % 9]) for n in (0, 1, 2, 3, 4, 6, 7, 9, 10, 12)]
MIXED = [*((n / 3, 60 + n) for n in range(4)), (1.5, 72), (2.0, 70), (2.25, 69), (2.5, 67), (2.75, 65), (3.0, 64),
         (4.0, 62), (4 + 2 / 3, 60), (4 + 4 / 3, 59), (6.0, 60), (7.5, 62), (8.75, 67), (9.0, 69), (9 + 1 / 6, 71),
         (9.5, 72), (11.0, 60)]  # fmt: skip
JIG = [(-0.5, 69), (0.0, 74), (1.0, 77), (1.5, 81), (2.0, 79), (2.5, 77), (3.0, 76), (4.0, 74), (4.5, 73), (5.25, 72),
       (5.5, 71), (6.0, 74)]  # fmt: skip
AGAIN = [(beat + 4 * bar, midi) for bar in range(3) for beat, midi in ((0, 60), (1, 64), (1.5, 67), (2, 65), (3.5, 62))]
GRACED = [(0.0, 60), (1.0, 64), (1.9, 66), (2.0, 67), (3.0, 65), (3.82, 62), (3.91, 63), (4.0, 64), (6.0, 60)]

PERFORMANCES = {
    "quavers": (struck(QUAVERS, 120), 120, (4, 4), None),
    "swung": (struck(QUAVERS, 132, 1.8), 132, (4, 4), None),
    "told to swing": (struck(QUAVERS, 96, 1.6), 96, (4, 4), "swing"),
    "gaining": (struck(QUAVERS, 112, 1.7, 0.006), 112, (4, 4), None),
    "triplets and semiquavers": (struck(MIXED, 84), 84, (4, 4), "straight"),
    "triplets among swung quavers": (struck(MIXED, 90, 1.5), 90, (3, 4), None),
    "in six eight": (struck(JIG, 150), 150, (6, 8), None),
    "a phrase that comes again": (struck(AGAIN, 126, 1.9), 126, (4, 4), None),
    "graced": (struck(GRACED, 100), 100, (4, 4), None),
}


KEPT = {
    "quavers": """
22.15393 14.93116 17.06629 19.93116 20.33116 22.06629 22.15393 22.46629 27.15393 27.55393
0.2141847 0.09531018 0.4706697 1.043216 4.409721 9.209721 4.409721 8.209721
0 0.5 2.5 2.830628 0.8 2.2 0.5 0 0.5 -0.0412603 1.6 0 3.530628 1.8 1.5 0.4649019 1.8 2.5
1 0 0.9979609 6 3.998771
0 0.5 1 1.5 2 3 3.5 4.5 5 6
6 -15.13193 14.97789 15.95408 -10.8415 5.13215 -20.25029 1.075552 4.849977 -13.33375
0.1663582 0.5786239 0.6067341 0.6860189 0.4624044 0.2179821 0.8931201 0.04650605 0.2074607 0.5671744
""",
    "swung": """
18.65352 11.57708 11.57708 13.5512 16.57708 16.57708 16.97708 16.97708 18.5512 18.65352 18.9512 23.65352 24.05352
0.2141847 0.09531018 0.4706697 1.043216 4.409721 9.209721 4.409721 8.209721
0 0.5 2.5 2.830628 0.8 2.2 0.5 0 0.5 -0.0412603 1.6 0 3.530628 1.8 1.5 0.4649019 1.8 2.5
1.845157 0 0.9958101 6 3.725346
0 0.5 1 1.5 2 3 3.5 4.5 5 6
6 -25.95444 17.06425 13.21695 -8.261397 7.216218 -25.07519 -0.4056665 6.053564 -12.66012
0.1663582 0.8800109 0.6786287 0.5319207 0.3451172 0.3033906 1.03812 0.01692837 0.2531819 0.5325651
""",
    "told to swing": """
20.31131 12.73083 15.23287 17.73083 18.13083 20.23287 20.31131 20.63287 25.31131 25.71131
0.2141847 0.09531018 0.4706697 1.043216 4.409721 9.209721 4.409721 8.209721
0 0.5 2.5 2.830628 0.8 2.2 0.5 0 0.5 -0.0412603 1.6 0 3.530628 1.8 1.5 0.4649019 1.8 2.5
1.679321 0 0.991423 6 4.746844
0 0.5 1 1.5 2 3 3.5 4.5 5 6
6 -47.18322 21.31966 6.372462 -4.514363 9.841328 -31.27166 -3.746791 8.562951 -11.01693
0.1663582 1.466288 0.8389807 0.2480658 0.1868645 0.4119794 1.26377 0.1545113 0.3556538 0.4619218
""",
    "gaining": """
20.61881 16.09522 20.61881 21.09522 21.49522 21.88437 23.88437 25.61881 26.01881 26.28437
0.2141847 0.09531018 0.4706697 1.043216 4.409721 9.209721 4.409721 8.209721
0 0.5 2.5 2.830628 0.8 2.2 0.5 0 0.5 -0.0412603 1.6 0 3.530628 1.8 1.5 0.4649019 1.8 2.5
1.800984 0 0.992959 6 4.106356
0 0.5 1 1.5 2 3 3.5 4.5 5 6
6 -37.26334 21.22066 2.261221 -18.57757 -7.886263 -48.05426 -20.15356 -7.602517 -40.65477
0.09347886 1.127169 0.699859 0.07787871 0.6091883 0.2444274 1.642825 0.6663748 0.2510168 1.373189
""",
    "triplets and semiquavers": """
58.49177 46.18915 46.18915 46.35796 46.35796 48.95796 48.95796 50.2145 50.66081 53.26081 55.52153 55.89177 58.49177
2.207822 0.1823216 0.7986369 1.575047 1.396065 7.336472 2.437172 7.336472
0 0.5 2.639762 1.699952 0.7024581 2.339762 0.5 0.07572178 0.5 0.01509887 1.739762 2.294597 0.1397619 3.188552
1.939762 2.294597 1.639762 0.3778906 1.939762 1.737137
1 0 1.002317 11 8.86348
0 0.3333333 0.6666667 1 1.5 2 2.25 2.5 2.75 3 4 4.666667 5.333333 6 7.5 8.75 9 9.166667 9.5 11
6 -15.13193 15.03906 16.7521 -10.9788 4.575739 -20.5549 0.5177725 4.432148 -13.13089 13.51702 16.30362 -9.652966
5.68684 -19.61054 2.555191 5.869599 -12.73098 13.99679 17.61405
0.1663582 0.5786239 0.6298264 0.7051492 0.481742 0.1972894 0.9146147 0.0235049 0.2040115 0.5825462 0.586419
0.7281884 0.4204137 0.2441982 0.8358241 0.10849 0.2487373 0.5607549 0.6311676 0.7420991
""",
    "triplets among swung quavers": """
62.75046 50.21628 52.23224 52.41628 54.83224 53.94713 53.94713 54.69335 56.89335 57.05159 60.55046 62.51839 62.75046
1.764778 -0.2617057 0.6712762 1.575047 3.299757 9.336472 1.66337 3.665942
0.04879016 0.5487902 1.69253 2.54879 2.34879 0.6114863 2.24879 0.5487902 0.07572178 0.5487902 0.01509887 1.64879
2.294597 0.04879016 3.04879 1.84879 2.294597 1.639762 0.3778906 1.84879 2.54879
1.455632 0 1.028067 11 8.343503
0 0.3333333 0.6666667 1 1.5 2 2.25 2.5 2.75 3 4 4.666667 5.333333 6 7.5 -1 9 9.166667 9.5 11
6 29.31251 41.35849 -8.224614 -73.34638 -6.30398 -35.20106 -13.91899 -3.032143 -17.27224 10.87283 58.53913 24.13026
-12.39733 -33.38794 0 -4.44555 -18.03052 14.57871 12.73698
0.1663582 1.120869 1.732067 0.3462003 2.418981 0.2692369 1.528201 0.5630909 0.1390561 0.7500978 0.4661696 2.596022
1.046621 0.5311779 1.284398 0 0.1804605 0.7787699 0.609355 0.5269817
""",
    "in six eight": """
19.30765 12.1471 12.1471 13.9471 13.9471 14.3896 16.1896 19.30765 21.10765
0.4058254 0.1133287 0.9107596 0.6444862 3.145607 5.182322 6.682322
0 -0.003666898 -0.1604286 0 0.6823216 0.4823216 0.2386522
1 -1.5 0.4041379 6 3.405317
-0.5 0 1 1.5 2 2.5 3 4 4.5 5.25 5.5 6
6 -15.01379 15.51708 16.87896 -10.99679 4.467851 -20.18966 1.388509 5.157897 -13.01678 13.3978 17.35237
0.166091 0.5607774 0.6436618 0.7072842 0.4813209 0.2006589 0.882184 0.06229337 0.2252298 0.5837438 0.6114426
0.7656589
""",
    "a phrase that comes again": """
26.0942 17.70545 20.61946 23.90545 24.60545 26.0942 26.81946 27.51946 32.2942 32.9942
0.2641317 0.1397619 0.4753665 1.027234 4.536472 9.336472 4.536472 8.336472
0 0.5 2.5 3.088457 0.8 2.2 0.5 0 0.5 0.0387824 1.6 0 3.788457 1.8 1.5 0.3448028 1.8 2.5
1.799907 0 1.008512 11 6.242064
0 1 1.5 2 3.5 4 5 5.5 6 7.5 8 9 9.5 10 11.5
10.02835 -14.03434 -4.008057 12.8128 -15.4382 9.002421 -9.713073 2.672178 6.418649 -14.251 8.556437 0.5442242
9.997222 8.005357 -12.28227
0.3086955 0.7656727 0.1894883 0.7760167 0.8438945 0.528323 0.5844747 0.1605659 0.396591 0.8261602 0.5091023
0.03288539 0.6229148 0.4973921 0.7248058
""",
    "graced": """
27.40901 15.66114 23.4701 19.58164 23.58164 20.26114 27.6701 22.27663 23.64944 26.82864 27.40901 28.76937 31.95022
1.477127 -0.9117311 0.31103 1.409721 4.409721 9.209721 4.409721 8.209721
0 0.5 2.5 2.770004 0.8 2.2 0.5 0 0.5 0 1.6 0 3.470004 1.8 1.5 0.4 1.8 2.5
2 0 1.004132 6 4.603261
0 1 -1 2 3 -1 -1 4 6
6 -15.00798 0 21.44038 -8.836976 0 0 -0.04423398 4.088716
0.1663582 0.5607091 0 0.8613128 0.3650519 0 0 0.001849999 0.1662779
""",
}


def told(name: str) -> list[float]:
    keys, tempo, metre, feel = PERFORMANCES[name]
    costs, bar = preferences(CapturePreferences), Metre(*metre)
    beats = BeatMap.steady(tempo, 1.0)
    scale = float(bar.pulse)
    times = [beats.beat(key.on) / scale for key in keys]
    spans = [60.0 / tempo * scale] * len(keys)
    search = _Search(keys, times, spans, bar, feel, False, costs)
    runs = _first(search, divisions_of(costs, bar.compound), costs)
    path = runs[0].path
    places = [(state.pulse, state.place) for state in path]
    habit = habit_of(places, len(keys) - len(path), runs[0].usual, costs, bar.compound)
    best = _second(search, runs, costs, bar.compound)
    reading = _reading(keys, times, spans, best, beats, scale)
    notes = [(-1.0 if n.beat is None else float(n.beat), 1000 * n.off, n.doubt) for n in reading.notes]
    found = [cost_of(keys, beats, bar), *(run.cost for run in runs), habit.told, habit.grace]
    found += [*habit.divisions.values(), *(cost for _, cost in sorted(habit.patterns.items()))]
    found += [reading.ratio, *reading.pulses[0], *reading.pulses[-1]]
    return found + [number for column in zip(*notes, strict=True) for number in column]


@pytest.mark.parametrize("name", PERFORMANCES)
def test_what_a_performance_is_read_as_and_what_that_costs(name: str) -> None:
    assert told(name) == pytest.approx([float(word) for word in KEPT[name].split()], rel=1e-5, abs=1e-6)


@pytest.mark.parametrize("name", ["swung", "triplets and semiquavers", "a phrase that comes again", "graced"])
def test_a_bound_on_the_cost_ends_what_is_dearer_and_leaves_what_is_not(name: str) -> None:
    keys, tempo, metre, _ = PERFORMANCES[name]
    beats, bar = BeatMap.steady(tempo, 1.0), Metre(*metre)
    cost = float(KEPT[name].split()[0])
    assert cost_of(keys, beats, bar, most=cost + 1e-3) == pytest.approx(cost)
    assert cost_of(keys, beats, bar, most=cost / 3) == float("inf")
    assert cost_of(keys, beats, bar, beam=1) >= cost - 1e-3, "one reading at a time finds none that is better"
