"""What every command makes of the words after it: what it takes for granted, what it takes, and what it refuses.

What is taken for granted is what players have learnt to rely on: change it knowingly, and say so where it is told.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from companion.cli import words
from companion.cli.commands import build_parser
from companion.errors import UseError
from tests.wrapping import lines

COMMANDS = [
    "demo", "demo ferry-without-lights --you chords --tempo 90 --seed 3", "play ferry-without-lights",
    "play tune.toml --you melody,chords --tempo 120 --count-in 2 --time steady --choruses 3 --trade 4",
    "drill ferry-without-lights", "drill ferry-without-lights --bars 5-8 --from 60 --to 90 --step 4 --kind hands",
    "replay tune.toml take.mid", "review", "review 2 --json r.json", "history",
    "history ferry-without-lights --csv h.csv", "today", "today --minutes 20", "print ferry-without-lights",
    "print tune.toml --out tune.pdf", "stand", "chart capture",
    "chart capture --metre 3/4 --tempo 100 --bars 16 --out tune.toml", "chart ear",
    "chart show ferry-without-lights", "chart check tune.toml", "chart import tune.abc --tune 2 --melody Lead",
    "chart arrange tune.toml", "chart explain tune.toml --bars 1-4", "chart audit tune.toml --seeds 2",
    "chart list", "chart treatments", "signals", "setup", "ports", "take list", "take show", "take play",
    "take delete 1", "lesson pack a.lesson", "lesson open a.lesson", "lesson list", "lessons",
]  # fmt: skip

WORDS: list[tuple[Callable[[str], Any], str]] = [
    (words.bar_range, "5-8 5 8-5 0-3 1-1 a -3 5-8-9"),
    (words.tempo, "9.9 10 40 400 600 601 0 fast nan inf"),
    (words.seconds, "-0.1 0 2.5 x inf"),
    (words.milliseconds, "-1 0 20 1000 1001 x"),
    (words.count, "0 1 2 1000 1.5 -1 x"),
    (words.turns, "0 1 4 64 65 x -1 chorus"),
    (words.your_parts, "melody melody,chords bass,chords,melody solo drums none , melody,melody"),
    (words.our_parts, "bass chords,bass none melody,click drums , bass,bass"),
]
TAKEN = """
demo: chart='ferry-without-lights' player='evening'
demo ferry-without-lights --you chords --tempo 90 --seed 3: chart='ferry-without-lights' player='evening' seed=3 tempo=90.0 you=chords
play ferry-without-lights: chart='ferry-without-lights' opens=True
play tune.toml --you melody,chords --tempo 120 --count-in 2 --time steady --choruses 3 --trade 4: chart='tune.toml' choruses=3 count_in=2 opens=True tempo=120.0 time='steady' trade=4 you=chords,melody
drill ferry-without-lights: chart='ferry-without-lights' kind='usual' opens=True seed=0
drill ferry-without-lights --bars 5-8 --from 60 --to 90 --step 4 --kind hands: bars=(5, 8) chart='ferry-without-lights' goal=90.0 kind='hands' opens=True seed=0 start=60.0 step=4.0
replay tune.toml take.mid: chart='tune.toml' performance=take.mid
review: what='last'
review 2 --json r.json: json=r.json what='2'
history:
history ferry-without-lights --csv h.csv: chart='ferry-without-lights' csv=h.csv
today:
today --minutes 20: minutes=20
print ferry-without-lights: refused, say also --out; see companion print --help
print tune.toml --out tune.pdf: chart='tune.toml' out=tune.pdf seed=0
stand: opens=True
chart capture: count_in=2 metre='4/4' title='Untitled'
chart capture --metre 3/4 --tempo 100 --bars 16 --out tune.toml: bars=16 count_in=2 metre='3/4' out=tune.toml tempo=100.0 title='Untitled'
chart ear: refused, say also CHART; see companion chart ear --help
chart show ferry-without-lights: chart='ferry-without-lights'
chart check tune.toml: charts=['tune.toml']
chart import tune.abc --tune 2 --melody Lead: file='tune.abc' melody='Lead' tune=2
chart arrange tune.toml: chart='tune.toml' seed=0
chart explain tune.toml --bars 1-4: bars=(1, 4) chart='tune.toml' chorus=1 seed=0
chart audit tune.toml --seeds 2: charts=['tune.toml'] seeds=2
chart list:
chart treatments:
signals:
setup:
ports:
take list: most=20
take show: refused, say also TAKE; see companion take show --help
take play: refused, say also TAKE; see companion take play --help
take delete 1: take='1'
lesson pack a.lesson: remark=[] what='a.lesson'
lesson open a.lesson: file=a.lesson
lesson list:
lessons: refused, there is no command 'lessons'; did you mean 'lesson'?
"""  # noqa: E501

READ = """
bar_range 5-8: (5, 8)
bar_range 5: (5, 5)
bar_range 8-5: refused, '8-5' names no bars; say for example 5-8, or 5
bar_range 0-3: refused, '0-3' names no bars; say for example 5-8, or 5
bar_range 1-1: (1, 1)
bar_range a: refused, 'a' names no bars; say for example 5-8, or 5
bar_range -3: refused, '-3' names no bars; say for example 5-8, or 5
bar_range 5-8-9: refused, '5-8-9' names no bars; say for example 5-8, or 5
tempo 9.9: refused, '9.9' is not a tempo; give quarters a minute, 10 to 600
tempo 10: 10.0
tempo 40: 40.0
tempo 400: 400.0
tempo 600: 600.0
tempo 601: refused, '601' is not a tempo; give quarters a minute, 10 to 600
tempo 0: refused, '0' is not a tempo; give quarters a minute, 10 to 600
tempo fast: refused, 'fast' is not a tempo; give quarters a minute, 10 to 600
tempo nan: refused, 'nan' is not a tempo; give quarters a minute, 10 to 600
tempo inf: refused, 'inf' is not a tempo; give quarters a minute, 10 to 600
seconds -0.1: -0.1
seconds 0: 0.0
seconds 2.5: 2.5
seconds x: refused, 'x' is not a moment; give seconds
seconds inf: refused, 'inf' is not a moment; give seconds
milliseconds -1: refused, '-1' is not a latency; give milliseconds, 0 to 1000
milliseconds 0: 0.0
milliseconds 20: 20.0
milliseconds 1000: 1000.0
milliseconds 1001: refused, '1001' is not a latency; give milliseconds, 0 to 1000
milliseconds x: refused, 'x' is not a latency; give milliseconds, 0 to 1000
count 0: refused, '0' is not a number of times; give a whole number from 1
count 1: 1
count 2: 2
count 1000: 1000
count 1.5: refused, '1.5' is not a number of times; give a whole number from 1
count -1: refused, '-1' is not a number of times; give a whole number from 1
count x: refused, 'x' is not a number of times; give a whole number from 1
turns 0: 0
turns 1: 1
turns 4: 4
turns 64: 64
turns 65: refused, '65' is no length of a turn; give bars, such as 4 or 8, or chorus
turns x: refused, 'x' is no length of a turn; give bars, such as 4 or 8, or chorus
turns -1: refused, '-1' is no length of a turn; give bars, such as 4 or 8, or chorus
turns chorus: 9999
your_parts melody: melody
your_parts melody,chords: chords,melody
your_parts bass,chords,melody: bass,chords,melody
your_parts solo: solo
your_parts drums: refused, 'drums' is not a part; there are melody, chords, bass, solo
your_parts none: refused, 'none' is not a part; there are melody, chords, bass, solo
your_parts ,: refused, '' is not a part; there are melody, chords, bass, solo
your_parts melody,melody: melody
our_parts bass: ('bass',)
our_parts chords,bass: ('chords', 'bass')
our_parts none: refused, 'none' is not a part; there are melody, chords, bass, solo, click
our_parts melody,click: ('melody', 'click')
our_parts drums: refused, 'drums' is not a part; there are melody, chords, bass, solo, click
our_parts ,: refused, '' is not a part; there are melody, chords, bass, solo, click
our_parts bass,bass: ('bass',)
"""


def lines_of(parser: argparse.ArgumentParser, command: str) -> str:
    """What comes of a command line, but for switches that are off; refused ones say so."""
    try:
        args = vars(parser.parse_args(command.split()))
    except UseError as refused:
        return f"{command}: refused, {refused}"
    said = {
        name: value
        for name, value in args.items()
        if value is not None and value is not False and name not in ("run", "parser")
    }
    return f"{command}:" + "".join(f" {name}={shown(value)}" for name, value in sorted(said.items()))


def shown(value: Any) -> str:
    if isinstance(value, frozenset):
        return ",".join(sorted(value))
    return value.name if isinstance(value, Path) else repr(value)


def test_what_each_command_takes_for_granted() -> None:
    parser = build_parser()
    assert [lines_of(parser, command) for command in COMMANDS] == lines(TAKEN)


def test_numbers_and_names_up_to_where_they_mean_nothing() -> None:
    found = []
    for read, texts in WORDS:
        for text in texts.split():
            try:
                found.append(f"{read.__name__} {text}: {shown(read(text))}")
            except (argparse.ArgumentTypeError, ValueError) as refused:
                found.append(f"{read.__name__} {text}: refused, {refused}")
    assert found == lines(READ)
