"""What the companion plays and reports in short takes, written out to the last note.

What stands here is what it does today, not what alone is right. It is kept because the follower, the pace, the
reactions and the band all have their part in it. When a change to one of them changes it, look at what is different
(and listen to it), and keep the new text if it goes with the player as well; when something else changes it, that has
changed the playing without meaning to.

Written so: ``second state beat tempo``, ``beat@second sure``, and of each part ``second midi.velocity/length``: moments
in seconds, lengths in milliseconds, beats in quarters from the first downbeat, the surety in hundredths.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from companion.chart.model import Chart
from companion.chart.toml.read import parse_toml
from companion.messages import Beat, Belief, Order, Report, State, Wish
from companion.pianist.player import simulate
from companion.stage.replay import Recording, replay
from companion.stage.settings import Settings
from tests.wrapping import lines, wrapped

TUNE = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 144
feel = "swing"
form = "A"
order = [
  { play = "introduction", how = "vamp", bars = 1 },
  { play = "head" },
  { play = "solos", choruses = 1, treatment = "solos" },
  { play = "ending", how = "held" },
]
[section.A]
treatment = "walking"
chords = "| Gm6 | C7 | Am7b5 | D7alt |"
melody = "DF | G6 z2 | c4 e4 | c4 A4 | ^F8 |"
"""
SKIPPED = """
0.000 counting 60.00 120.0; 0.000 counting 60.00 120.0; 0.500 counting 61.00 120.0; 1.000 counting 62.00 120.0;
1.500 counting 63.00 120.0; 2.000 playing 0.00 120.0; 0@2.000 84 1; (60 2.00: 0.00 120.0 ±0.033 1.00 0.11 0.00);
(64 2.50: 1.00 120.0 ±0.031 1.00 0.06 0.00); 1@2.510 100 1; 2@3.000 99 1;
(67 3.00: 2.00 120.0 ±0.030 1.00 0.03 0.00); 3@3.500 100 1; (69 3.84: 3.68 120.0 ±0.033 1.00 0.01 0.00);
4@4.000 100 1; (71 4.00: 4.00 120.0 ±0.028 1.00 0.01 0.00); 5@4.500 100 1;
(69 4.50: 5.00 120.0 ±0.028 1.00 0.00 0.00); 6@5.000 100 1; 7@5.500 78 1;
(65 5.60: 7.20 120.0 ±0.048 0.78 0.01 0.33); 8@6.000 64 1; (69 6.14: 9.03 118.3 ±0.039 0.83 0.02 0.00);
9@6.146 89 1; 10@6.636 88 1; (72 6.67: 10.04 116.0 ±0.038 0.84 0.02 0.00); 11@7.170 88 1;
(74 7.58: 11.72 113.7 ±0.044 1.00 0.02 0.00); 12@7.724 99 1; 13@8.251 87 1; 14@8.778 83 1;
9.834 thinning 16.00 113.7; (60 10.50: 0.02 111.3 ±0.049 0.71 0.02 0.00); 10.500 playing 0.00 111.3; 0@10.510 81 1;
(64 11.00: 0.98 112.1 ±0.036 0.99 0.01 0.00); 1@11.012 99 1; (67 11.50: 1.96 114.3 ±0.038 1.00 0.02 0.00);
2@11.522 100 1; 3@12.046 96 1; (69 12.34: 3.66 118.6 ±0.046 1.00 0.02 0.00);
(71 12.50: 3.99 119.1 ±0.035 1.00 0.02 0.00); 4@12.510 100 1; 5@13.010 99 1; 6@13.514 86 1; 15.000 ended 9.00 119.1;
click
0.000 76.80/50 0.500 77.70/50 1.000 77.70/50 1.500 77.70/50
bass
2.000 48.64/421 2.511 47.70/423 3.000 43.64/416 3.500 41.74/427 4.000 40.67/423 4.500 35.71/416 5.000 33.67/427
5.500 40.73/422 6.000 38.71/422 6.146 33.74/433 6.637 36.70/280 7.000 36.29/99 7.170 38.75/440 7.725 43.69/446
8.252 40.76/441 8.780 43.72/141 8.953 45.66/140 9.129 46.66/141 9.306 47.78/445 9.834 45.74/451 10.361 44.78/450
10.510 48.64/454 11.013 47.70/454 11.522 43.64/437 12.046 41.74/448 12.510 40.67/426 13.010 35.71/419
13.514 33.67/430 14.018 40.73/425 14.521 38.71/425
chords
3.348 55.54/471 3.348 59.54/471 3.348 64.63/471 5.506 55.48/314 5.506 60.48/314 5.506 61.48/314 5.506 65.55/314
7.007 60.54/476 7.007 65.54/476 7.007 69.63/476 9.312 71.59/342 9.312 62.51/342 9.312 65.51/342 11.887 55.54/495
11.887 59.54/495 11.887 64.63/495 14.024 55.48/317 14.024 60.48/317 14.024 61.48/317 14.024 65.55/317
"""

STEADY = """
0.667 counting -8.00 144.0 introduction 1/1; 0.667 counting -8.00 144.0 introduction 1/1;
1.083 counting -7.00 144.0 introduction 1/1; 1.500 counting -6.00 144.0 introduction 1/1;
1.917 counting -5.00 144.0 introduction 1/1; 2.333 playing -4.00 144.0 introduction 1/1;
-4@2.333 100 introduction 1; -3@2.750 100 introduction 1; -2@3.167 100 introduction 1; -1@3.583 100 introduction 1;
4.000 playing 0.00 144.0 head 1/1; 0@4.000 100 head 1; 1@4.417 100 head 1; 2@4.833 100 head 1; 3@5.250 100 head 1;
4@5.667 100 head 1; 5@6.083 100 head 1; 6@6.500 100 head 1; 7@6.917 100 head 1; 8@7.333 100 head 1;
9@7.750 100 head 1; 10@8.167 100 head 1; 11@8.583 100 head 1; 12@9.000 100 head 1; 13@9.417 100 head 1;
14@9.833 100 head 1; 15@10.250 100 head 1; 10.667 playing 0.00 144.0 solos 1/1; 0@10.667 100 solos 2;
1@11.083 100 solos 2; 2@11.500 100 solos 2; 3@11.917 100 solos 2; 4@12.333 100 solos 2; 5@12.750 100 solos 2;
6@13.167 100 solos 2; 7@13.583 100 solos 2; 8@14.000 100 solos 2; 9@14.417 100 solos 2; 10@14.833 100 solos 2;
11@15.250 100 solos 2; 12@15.667 100 solos 2; 13@16.083 100 solos 2; 14@16.500 100 solos 2; 15@16.917 100 solos 2;
17.333 playing 16.00 144.0 ending 1/1; 16@17.333 100 ending 2; 20.657 ended 24.00 144.0 ending 1/1;
click
0.667 76.80/50 0.875 77.42/40 1.083 77.70/50 1.292 77.42/40 1.500 77.70/50 1.708 77.42/40 1.917 77.70/50
2.125 77.42/40 2.333 76.80/50 2.542 77.42/40 2.750 77.70/50 2.958 77.42/40 3.167 77.70/50 3.375 77.42/40
3.583 77.70/50 3.792 77.42/40 4.417 77.70/50 4.625 77.42/40 5.250 77.70/50 5.458 77.44/40 6.083 77.70/50
6.292 77.44/40 6.917 77.70/50 7.125 77.44/40 7.750 77.70/50 7.958 77.44/40 8.583 77.70/50 8.792 77.44/40
9.417 77.70/50 9.625 77.44/40 10.250 77.70/50 10.458 77.44/40 11.083 77.70/50 11.292 77.44/40 11.917 77.70/50
12.125 77.44/40 12.750 77.70/50 12.958 77.44/40 13.583 77.70/50 13.792 77.44/40 14.417 77.70/50 14.625 77.44/40
15.250 77.70/50 15.458 77.44/40 16.083 77.70/50 16.292 77.44/40 16.917 77.70/50 17.125 77.44/40
bass
2.335 45.66/349 2.751 39.73/230 3.029 38.26/82 3.167 38.66/227 3.448 34.59/109 3.583 32.70/349 4.000 31.64/346
4.418 43.65/348 4.833 40.60/349 5.250 38.78/350 5.667 36.75/355 6.083 34.78/355 6.500 33.73/349 6.917 31.79/355
7.333 33.76/353 7.750 36.82/225 8.032 36.31/83 8.167 40.77/354 8.583 37.85/349 9.001 38.85/355 9.418 41.84/353
9.835 42.76/225 10.112 39.72/110 10.250 38.83/350 10.667 43.75/354 11.083 42.80/350 11.500 46.72/349
11.917 43.79/351 12.333 36.75/351 12.750 40.79/346 13.167 43.76/355 13.583 40.84/347 14.000 45.74/350
14.417 44.82/353 14.833 43.76/350 15.250 39.83/345 15.667 38.79/354 16.083 36.87/350 16.500 34.78/349
16.917 32.84/353 17.333 31.75/2967
melody
2.337 67.70/719 3.583 62.71/261 3.859 65.79/140 4.006 67.80/1111 5.668 72.74/776 6.506 75.90/785 7.339 72.90/786
8.173 69.87/806 9.006 66.83/312 17.333 66.77/2970
solo
10.673 67.68/259 10.938 66.76/142 11.089 64.71/410 11.500 62.75/405 11.917 60.79/250 12.170 64.86/142
12.339 67.82/239 12.598 70.92/99 14.006 75.65/252 14.271 74.74/144 14.423 72.72/377 14.839 69.79/254
15.099 71.80/145 15.256 72.77/258 15.517 74.95/144 15.669 72.82/249 15.926 71.89/145 16.083 70.86/120
16.208 82.92/137 16.362 84.97/450
"""

TRADED = """
1.583 playing 15.00 144.0; 0@2.000 100 yours 1; 1@2.417 100 yours 1; 2@2.833 100 yours 1; 3@3.250 100 yours 1;
4@3.667 100 ours 1; 5@4.083 100 ours 1; 6@4.500 100 ours 1; 7@4.917 100 ours 1; 8@5.333 100 yours 1;
9@5.750 100 yours 1; 10@6.167 100 yours 1; 11@6.583 100 yours 1; 12@7.000 100 ours 1; 13@7.417 100 ours 1;
14@7.833 100 ours 1; 15@8.250 100 ours 1; 0@8.667 100 yours 2; 9.000 ended 1.00 144.0;
bass
2.000 43.64/349 2.417 42.67/352 2.833 46.63/347 3.250 43.67/346 3.667 36.65/353 4.084 38.66/353 4.500 34.62/355
4.917 31.71/353 5.333 33.67/348 5.750 36.71/354 6.167 43.67/349 6.583 36.76/351 7.003 38.72/355 7.418 41.77/228
7.697 41.29/81 7.833 42.71/350 8.250 46.76/226 8.531 44.66/112 8.669 43.66/341
solo
2.006 76.75/644 2.834 67.62/250 3.099 69.65/148 3.256 70.59/551 3.930 72.74/130 5.338 84.60/626 6.167 75.67/244
6.419 79.75/140 6.583 84.84/256 6.847 82.84/142 7.000 84.78/250 7.006 68.62/239 7.259 85.92/135 7.264 77.89/129
7.419 84.65/562 8.943 67.61/67
chords
2.280 70.57/396 2.283 64.49/396 2.286 62.49/396 3.250 58.48/259 3.250 62.48/259 3.250 64.48/259 3.250 69.55/259
4.355 64.60/96 4.357 62.52/96 4.359 58.52/96 4.361 55.52/96 5.612 62.63/389 5.615 60.55/389 5.618 55.55/389
6.583 63.58/263 6.585 60.50/263 6.587 57.50/263 6.589 55.50/263 7.833 58.51/267 7.833 60.51/267 7.833 63.59/267
7.835 54.51/267 8.522 62.64/97 8.524 58.55/97 8.526 57.55/97 8.528 52.55/97 8.952 64.60/58 8.953 57.52/57
8.953 58.52/57 8.953 62.52/57
"""

PATIENT = """
0.182 counting 12.00 132.0; 0.182 counting 12.00 132.0; 0.636 counting 13.00 132.0; 1.091 counting 14.00 132.0;
1.545 counting 15.00 132.0; 2.010 playing 0.00 132.0; 0@2.010 100 1; 1@2.460 99 1; 2@2.910 99 1; 3@3.910 64 1;
4@5.010 88 1; 5@5.510 86 1; 6@6.010 62 1; 7@6.510 56 1; 10.000 ended 8.00 122.3;
click
0.182 76.80/50 0.636 77.70/50 1.091 77.70/50 1.545 77.70/50
melody
1.545 62.71/286 1.849 65.79/151 2.016 67.80/1212 5.011 72.65/845 6.016 75.82/908
chords
2.466 58.49/879 2.466 62.49/879 2.466 64.56/879 5.516 58.49/292 5.516 64.49/292 5.516 67.57/292 5.808 69.62/113
5.809 58.54/113 5.809 64.54/113
"""

FREE = """
7.534 playing 4.00 112.0; 4@7.544 96 1; 5@8.075 89 1; 6@8.577 99 1; 7@9.105 92 1; 8@9.624 100 1; 9@10.151 96 1;
10@10.672 100 1; 11@11.198 98 1; 12@11.702 100 1; 13@12.224 98 1; 14@12.746 94 1; 15@13.268 88 1;
15.357 thinning 3.00 114.9; 16.000 ended 5.00 114.9;
bass
7.544 36.74/456 8.075 40.80/455 8.577 36.73/442 9.105 34.77/448 9.624 33.72/446 10.151 38.76/282 10.529 38.29/107
10.672 36.73/447 11.198 37.80/440 11.703 38.76/444 12.226 41.79/442 12.748 42.72/279 13.092 39.68/141
13.268 38.78/438 14.130 43.71/440 14.313 42.76/438 14.835 46.68/437 15.357 47.75/439 15.880 48.71/130
chords
8.081 58.61/336 8.081 64.61/336 8.081 67.70/336 8.496 69.76/129 8.496 58.66/129 8.496 64.66/129 10.525 67.72/126
10.528 63.62/126 10.531 60.62/126 11.022 63.72/499 11.024 60.62/499 11.026 57.62/499 11.028 55.62/499
11.554 62.75/124 11.557 60.65/124 11.560 55.65/124 12.746 63.69/494 12.749 60.59/494 12.752 54.59/494
14.318 64.63/989 14.319 58.55/989 14.319 62.55/989
"""

WISHED = """
1.625 playing -1.00 160.0; 0@2.000 100 1; 1@2.375 100 1; 2@2.750 100 1; 3.000 playing 3.00 152.4; 3@3.131 100 1;
4@3.525 100 1; 5@3.919 100 1; 6@4.312 100 1; 7@4.706 100 1; 5.000 playing 8.00 160.0; 8@5.095 100 1;
5.100 playing 9.00 168.0; 9@5.453 100 1; 10@5.810 100 1; 6.000 playing 11.00 168.0; 11@6.167 100 1; 12@6.524 100 1;
13@6.881 100 1; 14@7.238 100 1; 15@7.595 100 1; 7.953 playing 16.00 168.0 ending 1/1; 16@7.953 100 ending 1;
10.500 playing -1.00 160.0; 0@10.875 100 1; 1@11.250 100 1; 2@11.625 100 1; 3@12.000 100 1; 4@12.375 100 1;
5@12.750 100 1; 6@13.125 100 1; 7@13.500 100 1; 8@13.875 100 1; 9@14.250 100 1; 10@14.625 100 1; 11@15.000 100 1;
12@15.375 100 1; 13@15.750 100 1; 14@16.125 100 1; 15@16.500 100 1; 0@16.875 100 2; 1@17.250 100 2; 2@17.625 100 2;
3@18.000 100 2; 4@18.375 100 2; 5@18.750 100 2; 6@19.125 100 2; 7@19.500 100 2; 8@19.875 100 2;
20.000 ended 9.00 160.0;
melody
1.625 62.71/232 1.871 65.79/129 2.006 67.80/1000 3.526 72.65/733 4.319 75.82/742 5.101 72.79/708 5.816 69.76/691
6.530 66.71/1243 7.959 66.73/1051 10.500 62.71/232 10.746 65.79/129 10.881 67.80/1000 12.376 72.65/698
13.131 75.82/707 13.881 72.79/708 14.631 69.76/726 15.381 66.71/1305 16.506 62.70/230 16.752 65.78/128
16.881 67.78/994 18.381 72.65/718 19.127 75.76/712 19.881 72.71/129
bass
2.000 43.64/311 2.376 40.65/312 2.750 38.60/314 3.131 37.67/330 3.525 36.64/335 3.919 40.69/335 4.312 36.64/330
4.706 34.67/335 5.095 33.64/317 5.453 38.69/191 5.692 38.26/72 5.810 36.65/303 6.167 33.71/299 6.525 38.70/304
6.883 39.72/302 7.240 42.66/191 7.474 43.62/96 7.595 44.71/299 7.953 43.69/1057 10.875 43.64/311 11.251 40.65/312
11.625 38.60/314 12.000 37.67/314 12.375 36.64/319 12.750 40.69/319 13.125 36.64/314 13.500 34.67/319
13.875 33.64/317 14.250 38.69/201 14.501 38.26/76 14.625 36.65/318 15.000 37.71/314 15.376 38.70/319
15.752 41.72/317 16.127 42.66/200 16.373 39.62/101 16.500 38.71/314 16.875 43.65/318 17.250 42.69/314
17.625 46.62/314 18.000 47.68/315 18.375 48.65/315 18.750 50.68/311 19.125 46.65/319 19.500 43.73/311
19.875 45.64/135
chords
2.381 58.49/726 2.381 62.49/726 2.381 64.56/726 3.137 58.50/371 3.137 62.50/371 3.137 64.50/371 3.137 69.58/371
3.925 58.49/244 3.925 64.49/244 3.925 67.57/244 4.188 69.62/94 4.189 58.54/94 4.189 64.54/94 5.688 67.62/85
5.691 63.53/85 5.694 60.53/85 6.047 63.62/335 6.049 60.53/335 6.051 57.53/335 6.053 55.53/335 6.881 63.61/220
6.883 60.53/220 6.885 58.53/220 6.887 54.53/220 7.596 60.62/222 7.599 58.54/222 7.601 54.54/222 8.551 62.62/459
8.554 54.53/456 8.554 58.53/456 11.256 58.49/726 11.256 62.49/726 11.256 64.56/726 12.006 58.50/353 12.006 62.50/353
12.006 64.50/353 12.006 69.58/353 12.756 58.49/231 12.756 64.49/231 12.756 67.57/231 13.005 69.62/90 13.006 58.54/90
13.006 64.54/90 14.498 67.62/90 14.501 63.53/90 14.504 60.53/90 14.874 63.62/351 14.876 60.53/351 14.878 57.53/351
14.880 55.53/351 15.247 62.64/88 15.250 60.55/88 15.253 55.55/88 16.125 63.61/355 16.128 60.52/355 16.131 54.52/355
17.255 64.56/710 17.256 58.48/710 17.256 62.48/710 18.002 69.61/354 18.004 64.53/354 18.006 58.53/354
18.006 62.53/354 18.997 70.62/91 19.000 64.53/91 19.003 62.53/91 19.375 70.67/474 19.378 64.58/474 19.381 63.58/474
"""


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
            length = round(1000 * (order.seconds - begun.seconds))
            part.append((begun.seconds, f"{begun.seconds:.3f} {begun.data1}.{begun.data2}/{length}"))
        else:
            part.append((order.seconds, f"{order.seconds:.3f} {order.status:#x} {order.data1} {order.data2}"))
    assert not down, "every key that goes down comes up"
    return [line for name, part in found.items() for line in (name, *wrapped(text for _, text in sorted(part)))]


def written(recording: Recording) -> list[str]:
    reports = (r for r in recording.reports if not isinstance(r, Belief) or r.event == "note")
    return [*wrapped(map(told, reports)), *played(recording.orders)]


@pytest.fixture(scope="module")
def kettle() -> Chart:
    return parse_toml(TUNE)


def test_a_melody_with_a_skipped_bar_a_stop_and_a_new_beginning(stand: Any) -> None:
    chart = stand.tune()
    heard = stand.melody(chart, (2.0, 0, 6, 120), (5.6, 8, 12, 112), (10.5, 0, 5, 120))
    told = Settings(tempo=120, start=2.0, count_in=1, trace=True)
    assert written(replay(chart, heard, told, until=15)) == lines(SKIPPED)


def test_an_order_of_events_in_steady_time_with_a_click(kettle: Chart) -> None:
    player = simulate(kettle.unfold(), "chords", manner="human", seed=4, tempo=144)
    settings = Settings(
        you=frozenset({"chords"}), parts=("melody", "bass", "click"), time="steady", tempo=144, start=4.0,
        count_in=1, order="chart", click="2,4", divide=2,
    )  # fmt: skip
    assert written(replay(kettle, player.heard, settings, until=26)) == lines(STEADY)


def test_turns_of_one_bar_that_are_traded_over_the_chords(kettle: Chart, stand: Any) -> None:
    heard = [key for n in range(10) for key in stand.strike(4 + n * 60 / 144, (67, 70, 74, 72)[n % 4]) if n % 8 < 4]
    settings = Settings(
        you=frozenset({"solo"}), parts=("solo", "chords", "bass"), trade=1, tempo=144, start=2.0, seed=3, time="steady"
    )
    assert written(replay(kettle, heard, settings, until=9)) == lines(TRADED)


def test_a_patient_companion_waits_for_the_left_hand(kettle: Chart, stand: Any) -> None:
    keys = [(0.0, 43), (0.45, 45), (0.9, 46), (1.9, 47), (3.0, 48), (3.5, 47), (4.0, 45), (4.5, 43)]
    heard = [key for late, midi in keys for key in stand.strike(2 + late, midi, 0.3)]
    settings = Settings(
        you=frozenset({"bass"}), parts=("melody", "chords"), time="patient", tempo=132, start=2.0, count_in=1
    )
    assert written(replay(kettle, heard, settings, until=10)) == lines(PATIENT)


def test_somebody_who_comes_in_unannounced_and_plays_freely(kettle: Chart) -> None:
    player = simulate(kettle.unfold(), "melody", manner="free", seed=2, tempo=108)
    recording = replay(kettle, player.heard, Settings(trace=False), until=16)
    assert written(recording) == lines(FREE)


def test_what_is_wished_while_it_plays(kettle: Chart) -> None:
    """Slower, the last time, and once more from the top."""
    wishes = [
        Wish(3.0, "slower"),
        Wish(5.0, "faster"),
        Wish(5.1, "faster"),
        Wish(6.0, "last time"),
        Wish(9.0, "again"),
    ]
    settings = Settings(
        you=frozenset(), parts=("melody", "chords", "bass"), time="steady", tempo=160, start=2.0, order="open"
    )
    assert written(replay(kettle, wishes, settings, until=20)) == lines(WISHED)
