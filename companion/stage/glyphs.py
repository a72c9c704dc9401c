"""Large letters for a terminal: chord symbols, section names and counts, to be read from two metres away.

Each letter is drawn on a grid seven dots high. Dots are blocks: half a row high and one column wide at the smallest, so
that they are about square, and whole multiples of that.

Conventions: sizes in rows and columns of the terminal.
"""

from __future__ import annotations

from functools import lru_cache

DOTS = 7
"""Height of a letter."""
SIZES = (4, 2, 1)
"""Columns of a dot, the largest first."""
_DRAWN = """
A .###. #...# #...# ##### #...# #...# #...#
B ####. #...# #...# ####. #...# #...# ####.
C .#### #.... #.... #.... #.... #.... .####
D ####. #...# #...# #...# #...# #...# ####.
E ##### #.... #.... ####. #.... #.... #####
F ##### #.... #.... ####. #.... #.... #....
G .#### #.... #.... #..## #...# #...# .###.
H #...# #...# #...# ##### #...# #...# #...#
I ### .#. .#. .#. .#. .#. ###
J ..### ...#. ...#. ...#. ...#. #..#. .##..
K #...# #..#. #.#.. ##... #.#.. #..#. #...#
L #.... #.... #.... #.... #.... #.... #####
M #...# ##.## #.#.# #.#.# #...# #...# #...#
N #...# ##..# ##..# #.#.# #..## #..## #...#
O .###. #...# #...# #...# #...# #...# .###.
P ####. #...# #...# ####. #.... #.... #....
Q .###. #...# #...# #...# #.#.# #..#. .##.#
R ####. #...# #...# ####. #.#.. #..#. #...#
S .#### #.... #.... .###. ....# ....# ####.
T ##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..
U #...# #...# #...# #...# #...# #...# .###.
V #...# #...# #...# #...# .#.#. .#.#. ..#..
W #...# #...# #...# #.#.# #.#.# ##.## #...#
X #...# .#.#. .#.#. ..#.. .#.#. .#.#. #...#
Y #...# #...# .#.#. ..#.. ..#.. ..#.. ..#..
Z ##### ....# ...#. ..#.. .#... #.... #####
a ..... ..... .##.. ...#. .###. #..#. .####
b #... #... ###. #..# #..# #..# ###.
c .... .... .### #... #... #... .###
d ...# ...# .### #..# #..# #..# .###
e .... .... .##. #..# #### #... .###
f .## #.. ### #.. #.. #.. #..
g .... .### #..# #..# .### ...# ###.
h #... #... ###. #..# #..# #..# #..#
i # . # # # # #
j .# .. .# .# .# .# #.
k #... #... #.#. ##.. ##.. #.#. #..#
l # # # # # # #
m ..... ..... ##.#. #.#.# #.#.# #.#.# #.#.#
n .... .... ###. #..# #..# #..# #..#
o .... .... .##. #..# #..# #..# .##.
p .... ###. #..# #..# ###. #... #...
q .... .### #..# #..# .### ...# ...#
r ... ... #.# ##. #.. #.. #..
s .... .... .### #... .##. ...# ###.
t .#. .#. ### .#. .#. .#. ..#
u .... .... #..# #..# #..# #..# .###
v ..... ..... #...# #...# .#.#. .#.#. ..#..
w ..... ..... #...# #.#.# #.#.# #.#.# .#.#.
x .... .... #..# #..# .##. #..# #..#
y .... #..# #..# #..# .### ...# ###.
z .... .... #### ..#. .#.. #... ####
0 .##. #..# #..# #..# #..# #..# .##.
1 ..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.
2 .###. #...# ....# ...#. ..#.. .#... #####
3 ####. ....# ....# .###. ....# ....# ####.
4 ...#. ..##. .#.#. #..#. ##### ...#. ...#.
5 ##### #.... ####. ....# ....# #...# .###.
6 .###. #.... #.... ####. #...# #...# .###.
7 ##### ....# ...#. ...#. ..#.. ..#.. ..#..
8 .###. #...# #...# .###. #...# #...# .###.
9 .###. #...# #...# .#### ....# ....# .###.
♭ #... #... #... #.#. ##.# #..# ###.
♯ .#.#. .#.## ##.#. .#.## ##.#. .#.#. .....
° .#. #.# .#. ... ... ... ...
ø ..... ....# .###. #.#.# #.#.# .###. #....
Δ ..... ..#.. ..#.. .#.#. .#.#. #...# #####
+ ..... ..... ..#.. .###. ..#.. ..... .....
- .... .... .... #### .... .... ....
/ ....# ....# ...#. ..#.. .#... #.... #....
( .# #. #. #. #. #. .#
) #. .# .# .# .# .# #.
. . . . . . . #
, .. .. .. .. .. .# #.
' # # . . . . .
: . . # . . # .
% ##..# ##..# ...#. ..#.. .#... #..## #..##
? .###. #...# ....# ...#. ..#.. ..... ..#..
"""
_SPACE = ("..",) * DOTS


@lru_cache(maxsize=1)
def _letters() -> dict[str, tuple[str, ...]]:
    rows = (line.split() for line in _DRAWN.splitlines() if line)
    return {letter: tuple(dots) for letter, *dots in rows}


def drawable(text: str) -> str:
    """A text with what can't be drawn left out.

    >>> drawable("E♭maj7♯11 – ß")
    'E♭maj7♯11  '
    """
    return "".join(letter for letter in text if letter == " " or letter in _letters())


def large(text: str, size: int) -> list[str]:
    """A text in large letters.

    Parameters
    ----------
    text : str
        What can't be drawn is left out.
    size : int
        1: dots half a row high, letters of four rows; 2: a row, seven rows; 4: two rows, fourteen.

    Returns
    -------
    list of str
        Rows of equal length.
    """
    letters = [_SPACE if letter == " " else _letters()[letter] for letter in drawable(text)]
    dots = [".".join(letter[row] for letter in letters) for row in range(DOTS)]
    if size > 1:
        wide = ["".join((" " if dot == "." else "█") * size for dot in row) for row in dots]
        return [row for row in wide for _ in range(size // 2)]
    dots.append("." * len(dots[0]))
    marks = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}
    return ["".join(marks[a + b] for a, b in zip(dots[k], dots[k + 1], strict=True)) for k in range(0, DOTS + 1, 2)]


def width(text: str, size: int) -> int:
    """Columns that a text takes.

    >>> width("A", 2), len(large("A7", 1)[0]) == width("A7", 1)
    (10, True)
    """
    letters = [2 if letter == " " else len(_letters()[letter][0]) for letter in drawable(text)]
    return (sum(letters) + max(0, len(letters) - 1)) * size


def largest(text: str, columns: int, rows: int) -> list[str]:
    """A text as large as it fits into so many columns and rows; as it is where it fits in no size."""
    for size in SIZES:
        if width(text, size) <= columns and len(large(text, size)) <= rows:
            return large(text, size)
    return [text[:columns]]
