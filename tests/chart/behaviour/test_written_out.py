"""Sheets of every format read, shown, transposed and checked: each result written out.

What stands here is what is made of them today. When it changes, read the difference: another text is as good where it
says the same, or says it better.
"""

from __future__ import annotations

from pathlib import Path

from companion.chart.abc.tune import import_abc
from companion.chart.imported import report, write_imported
from companion.chart.musicxml.read import import_musicxml
from companion.chart.show import show
from companion.chart.toml.read import parse_toml
from companion.chart.toml.update import update_toml
from companion.chart.toml.write import write_toml
from companion.chart.transpose import transposed
from companion.errors import ChartError
from companion.load import check_text

DATA = Path(__file__).parents[2] / "data"
ABC = """%abc-2.1
X:1
T:Lid on the Pan
T:Second Name
C:Nobody Yet
M:3/4
L:1/8
Q:"Medium Swing" 1/4=126
P:AABA
K:Dm
V:1 name="Melody"
P:A
"Dm7"A2 d3 e|"Gm7"f2 (3efe d2|"C7"{b}c'3 ^g- g2|1 "Fmaj7".A6:|2 "A7"!fermata!^c4 z2||
P:B
[K:F]|:"Bb6"B2>A2 G2|"Am7"TA3 B/c/ d2|"D7alt"[^Fd]4 z2|"Gm7"G2 "C7"c4 ~d2:|
w:lid on the pan_ is a-
"""
SECOND_ABC = """X:2
T:Steps at Noon
M:6/8
L:1/8
Q:3/8=84
K:E mix
% a road map
!segno!|"E7"B3 e2f|"A7"g3- gfe!coda!|"B7"d2c BAF|"E7"E6!D.S.alcoda!|]
!coda!"A7"c3 B3|"E"E6|]
"""
EVERYTHING = '''
format = 1
title = "Kettle at Six"
composer = "Nobody Yet"
key = "G minor"
metre = "4/4"
tempo = 132.5
feel = "swing"
form = "A A B"
order = [
  { play = "introduction", how = "vamp", bars = 2 },
  { play = "head", choruses = 2 },
  { play = "solos", choruses = 3, treatment = "solos" },
  { play = "ending", how = "tag" },
]

[section.A]
treatment = "walking"
chords = """
| Gm6 . C7/E . | Am7b5 D7alt | N.C. | Gm(maj7) |
"""
melody = """
DF | G3 A (3B2c2d2 | ^c4- c2 =B2 | z8 | G2 z2 z D3 |
"""

[section.B]
chords = "| Ebmaj7#11 | % | D7sus4b9 | D7 |"

[section.C]
bar_metres = { 1 = "2/4" }
chords = "| F7 |"
melody = "| c2 d2 |"
'''
PLAIN = """
format = 1
title = "Lid"
key = "C"
metre = "4/4"
tempo = 120
feel = "swing"
form = "A"
[section.A]
chords = "| C |"
"""
WRONG = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "sving"
form = "A B"
order = [
  { play = "head" },
  { play = "ending", treatment = "walkin" },
  { play = "head" },
]
[section.A]
treatment = "walkin"
chords = "| Gm6 | H7 | Am7b5 . . D7 . | C7 C7 C7 C7 C7 |"
melody = "| G8 | G6 | c4 e4 c | ^^c4 (3GAB | "
[section.B]
chords = "| C7 | F7 |"
melody = "| C8 | C8 | C,,,,8- |"
"""
HARDLY_MEANT = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "sving"
form = "A B A"
order = [
  { play = "head" },
  { play = "introduction" },
  { play = "ending", treatment = "walkin" },
  { play = "head" },
]
[section.A]
treatment = "walkin"
chords = "| Gm6 | C7 | D7 |"
melody = "DF | G8 | c4 e4 | D,,,,,8 |"
[section.B]
melody = "| c8 | c8 | c6 d2 |"
[section.C]
chords = "| C7 | F7 |"
"""

TOPS = [
    'key = "G minr"', 'metre = "4/5"', 'metre = "0/4"', 'tempo = 20000', 'tempo = 9', 'tempo = "fast"',
    'form = "A X"', 'form = ""', 'form = 3', 'colour = "blue"', 'format = 2', 'title = ""',
    'order = [{ play = "solo" }]', 'order = [{ how = "vamp" }]', 'order = [{ play = "introduction", bars = 0 }]',
    'order = [{ play = "head", choruses = 0 }]', 'unit = "1/7"', 'order = [{ play = "head", choruses = 1000 }]',
    'order = [{ play = "introduction", bars = 1000 }]', 'order = "head"',
]  # fmt: skip
"""Lines each of which spoils the top of a chart."""
FROM_XML = """
bar 3 (section A1, bar 2): grace notes: c
format = 1
title = "A Sheet With Everything"
composer = "The companion's authors"
key = "G minor"
metre = "4/4"
tempo = 120
feel = "swing"
form = "A1 A2 B A3"

[section.A1]
# bar 2: grace notes: c
chords = '''
   | Gm          | Ebmaj7 | Am7b5 D7b9 | Gm/F  |
'''
melody = '''
D2 | G4 B2 (3ABc | d6 c2- | c4 ^F3A    | G4 z4 |
'''

[section.A2]
chords = '''
   | Gm          | Ebmaj7 | Am7b5 D7b9 | Gm6   |
'''
melody = '''
D2 | G4 B2 (3ABc | d6 c2- | c4 ^F3A    | G6 z2 |
'''

[section.B]
chords = '''
| Cm7      | F13        | Bb/D Eb7 | D7#5 |
'''
melody = '''
| e2 d2 c4 | d3/2c/2 A6 | B4 G4    | ^F8  |
'''

[section.A3]
chords = '''
| Gm          | Ebmaj7 | Am7b5 D7b9 | Gm6 Gm(add9) . . |
'''
melody = '''
| G4 B2 (3ABc | d6 c2- | c4 ^F3A    | G2 A4 G2         |
'''
"""

LEAPS = """
bar 2 (section A, bar 2): grace notes: A
format = 1
title = "Ties and Triplets"
key = "Bb major"
metre = "4/4"
tempo = 120
feel = "swing"
form = "A"

[section.A]
# bar 2: grace notes: A
chords = '''
| Bbmaj7  | %            | %             | %   |
| %       |
'''
melody = '''
| d4-df3- | f2 (3edc B4- | B2 (3AB=B c4- | c8- |
| c8      |
'''
format = 1
title = "Da Capo"
key = "G minor"
metre = "4/4"
tempo = 120
feel = "swing"
form = "A1 A2"

[section.A1]
chords = '''
| Gm | %  | D7  | %  |
'''
melody = '''
| G8 | A8 | ^F8 | D8 |
'''

[section.A2]
chords = '''
| Gm | %  |
'''
melody = '''
| G8 | A8 |
'''
format = 1
title = "Pickup and Endings"
key = "C major"
metre = "4/4"
tempo = 120
feel = "swing"
form = "A1 A2 B"

[section.A1]
chords = '''
   | C6       | A7     | Dm7 |
'''
melody = '''
G2 | E4 G2 A2 | ^c6 z2 | F8  |
'''

[section.A2]
chords = '''
| C6       | A7     | G7 |
'''
melody = '''
| E4 G2 A2 | ^c6 z2 | B8 |
'''

[section.B]
chords = '''
| C6    |
'''
melody = '''
| c6 z2 |
'''
format = 1
title = "Three Times"
key = "F major"
metre = "3/4"
tempo = 120
feel = "swing"
form = "A1 A1 A2 B"

[section.A1]
chords = '''
| F7       | %   |
'''
melody = '''
| F2 A2 c2 | _e6 |
'''

[section.A2]
chords = '''
| F7       | %  |
'''
melody = '''
| F2 A2 c2 | d6 |
'''

[section.B]
chords = '''
| F7 |
'''
melody = '''
| B6 |
'''
"""

FROM_ABC = """
another title: Second Name
bar 3 (section A1, bar 3): grace notes: {b}
bar 4 (section A1, bar 4): a decoration: staccato
bar 5 (section A2, bar 4): a decoration: fermata
bar 7 (section B, bar 2): a decoration: trill
bar 9 (section B, bar 4): a decoration: roll
bar 6 (section B, bar 1): the key changes: F
bar 6 (section B, bar 1): words to sing: lid on the pan_ is a-
bar 8 (section B, bar 3): notes struck together, the top one is the melody: [^Fd]4
bar 9 (section B, bar 4): lasts 4 quarters where its metre has 3
format = 1
# another title: Second Name
title = "Lid on the Pan"
composer = "Nobody Yet"
key = "D minor"
metre = "3/4"
tempo = 126
feel = "swing"
form = "A1 A2 A1 A2 B B A1 A2"

[section.A1]
# bar 3: grace notes: {b}
# bar 4: a decoration: staccato
chords = '''
| Dm7    | Gm7         | C7     | Fmaj7 |
'''
melody = '''
| A2 d3e | f2 (3efe d2 | c'3^g3 | A6    |
'''

[section.A2]
# bar 4: a decoration: fermata
chords = '''
| Dm7    | Gm7         | C7     | A7     |
'''
melody = '''
| A2 d3e | f2 (3efe d2 | c'3^g3 | ^c4 z2 |
'''

[section.B]
# bar 1: the key changes: F
# bar 1: words to sing: lid on the pan_ is a-
# bar 2: a decoration: trill
# bar 3: notes struck together, the top one is the melody: [^Fd]4
# bar 4: a decoration: roll
# bar 4: lasts 4 quarters where its metre has 3
bar_metres = { 4 = "4/4" }
chords = '''
| Bb6    | Am7         | D7alt | Gm7 C7 . . |
'''
melody = '''
| B3A G2 | A3B/2c/2 d2 | d4 z2 | G2 c4 d2   |
'''
a key that a chart names only by its tonic: E mix
format = 1
# a key that a chart names only by its tonic: E mix
title = "Steps at Noon"
key = "E major"
metre = "6/8"
tempo = 126
feel = "straight"
form = "Lead-in A Lead-in A B"

[section.Lead-in]
chords = '''
| E7     |
'''
melody = '''
| B3 e2f |
'''

[section.A]
chords = '''
| A7   | B7       | E7 |
'''
melody = '''
| g4fe | =d2c BAF | E6 |
'''

[section.B]
chords = '''
| A7    | E  |
'''
melody = '''
| c3 B3 | E6 |
'''
"""

SHOWN = """
Kettle at Six (Nobody Yet)
G minor, 4/4, 132.5 quarters a minute, swing
form: A A B, 12 bars, with a pickup
order: introduction (2 bars, vamp), 2 choruses of head, 3 choruses of solos (solos), ending (tag)

numbers are beats, + is half way; a note is held as far as its line goes; C4 is middle C

A, walking (bars 1-4, 5-8)
4  .  +  | 1   2 +  3   +  .  4  .  +  | 1   2 +  3   +  .  4  .  +  |
       1 | Gm6      C7/E               | Am7b5    D7alt              |
D4--- F4 | G4--- A4 Bb4--- C5--- D5--- | C#5--------------- B4------ |
       3 | N.C.                        | Gm(maj7)                    |
         |                             | G4           D4------------ |

B (bars 9-12)
  9 | Ebmaj7#11 | % | D7sus4b9 | D7 |

C (never played)
    | 1  2  3 4 |
    | F7        |
    | C5 D5     |

over the whole form: Bb major (Bb C D Eb F G A); G minor blues (G Bb C Db D F); G melodic minor (G A Bb C D E F#)
chord by chord:
  Gm6        G melodic minor      G A Bb C D E F#
  C7/E       C mixolydian         C D E F G A Bb
  Am7b5      A locrian            A Bb C D Eb F G
  D7alt      D altered            D Eb F Gb Ab Bb C
  Gm(maj7)   G melodic minor      G A Bb C D E F#
  Ebmaj7#11  Eb lydian            Eb F G A Bb C D
  D7sus4b9   D dorian b2          D Eb F G A B C
  D7         D phrygian dominant  D Eb F# G A Bb C
Kettle at Six (Nobody Yet)
G minor, 4/4, 132.5 quarters a minute, swing
form: A A B, 12 bars, with a pickup
order: introduction (2 bars, vamp), 2 choruses of head, 3 choruses of solos (solos), ending (tag)

numbers are beats, + is half way; a note is
held as far as its line goes; C4 is middle C

A, walking (bars 1-4, 5-8)
4  .  +  | 1   2 +  3   +  .  4  .  +  |
       1 | Gm6      C7/E               |
D4--- F4 | G4--- A4 Bb4--- C5--- D5--- |
       2 | Am7b5    D7alt              |
         | C#5--------------- B4------ |
       3 | N.C.                        |
         |                             |
       4 | Gm(maj7)                    |
         | G4           D4------------ |

B (bars 9-12)
  9 | Ebmaj7#11 | % | D7sus4b9 | D7 |

C (never played)
    | 1  2  3 4 |
    | F7        |
    | C5 D5     |
"""

TRANSPOSED = """
key = "C minor"
   | Cm6 F7/A     | Dm7b5 G7alt | N.C. | Cm(maj7) |
GB | c3d (3e2f2g2 | ^f6 =e2     | z8   | c2 z3G3  |
| Abmaj7#11 | % | G7sus4b9 | G7 |
| Bb7   |
| f2 g2 |
key = "F# minor"
   | F#m6 B7/D#   | G#m7b5 C#7alt | N.C. | F#m(maj7) |
CE | F3G (3A2B2c2 | ^B6 ^A2       | z8   | F2 z3C3   |
| Dmaj7#11 | % | C#7sus4b9 | C#7 |
| E7    |
| B2 c2 |
key = "Eb minor"
    | Ebm6 Ab7/C   | Fm7b5 Bb7alt | N.C. | Ebm(maj7) |
B,D | E3F (3G2A2B2 | =A6 =G2      | z8   | E2 z3B,3  |
| Cbmaj7#11 | % | Bb7sus4b9 | Bb7 |
| Db7   |
| A2 B2 |
key = "F# minor"
   | F#m6 B7/D#   | G#m7b5 C#7alt | N.C. | F#m(maj7) |
CE | F3G (3A2B2c2 | ^B6 ^A2       | z8   | F2 z3C3   |
| Dmaj7#11 | % | C#7sus4b9 | C#7 |
| E7    |
| B2 c2 |
key = "D minor"
    | Dm6 G7/B     | Em7b5 A7alt | N.C. | Dm(maj7) |
A,C | D3E (3F2G2A2 | ^G6 ^F2     | z8   | D2 z3A,3 |
| Bbmaj7#11 | % | A7sus4b9 | A7 |
| C7    |
| G2 A2 |
"""

UPDATED = """
format = 1
title = "Kettle at Six"
composer = "Nobody Yet"
key = "A minor"
metre = "4/4"
tempo = 132.5
# as it was played
feel = "swing"
form = "A A B"
order = [
  { play = "introduction", how = "vamp", bars = 2 },
  { play = "head", choruses = 2 },
  { play = "solos", choruses = 3, treatment = "solos" },
  { play = "ending", how = "tag" },
]

[section.A]
treatment = "walking"
chords = '''
   | Am6 D7/F#    | Bm7b5 E7alt | N.C. | Am(maj7) |
'''
melody = '''
EG | A3B (3c2d2e2 | ^d6 ^c2     | z8   | A2 z3E3  |
'''

[section.B]
chords = '''
| Fmaj7#11 | % | E7sus4b9 | E7 |
'''

[section.C]
bar_metres = { 1 = "2/4" }
chords = '''
| G7    |
'''
melody = '''
| d2 e2 |
'''
"""

FAULTS = """
key = "G minr": key: 'G minr' is not a key with up to seven sharps or flats; write it like "C minor" or "Bb major"
metre = "4/5": metre: '4/5' is not a metre; write it like "4/4"
metre = "0/4": metre: '0/4' is not a metre; write it like "4/4"
tempo = 20000: tempo: 20000 is no tempo; give quarters a minute, from 20 to 400
tempo = 9: tempo: 9 is no tempo; give quarters a minute, from 20 to 400
tempo = "fast": tempo: fast is no tempo; give quarters a minute, from 20 to 400
form = "A X": form: there is no section 'X'; write a [section.X], or name one of A
form = "": form: names no section; write it like "A A B A"
form = 3: form: form should name sections in the order of playing; as in "A A B A"
colour = "blue": the chart: 'colour' has no meaning here; it may hold format, title, composer, key, metre, tempo, feel, form, unit, order, section, arrangement
format = 2: is of format 2, newer than this companion reads (1); bring the companion up to date
order = [{ play = "solo" }]: order, event 1: 'solo' is no event; play one of introduction, head, solos, ending
order = [{ how = "vamp" }]: order, event 1: '' is no event; play one of introduction, head, solos, ending
order = [{ play = "introduction", bars = 0 }]: order, event 1: bars should be a whole number from 1 to 64, not 0
order = [{ play = "head", choruses = 0 }]: order, event 1: choruses should be a whole number from 1 to 100, not 0
unit = "1/7": unit: '1/7' is no length of a plain note; write it like "1/8"
order = [{ play = "head", choruses = 1000 }]: order, event 1: choruses should be a whole number from 1 to 100, not 1000
order = [{ play = "introduction", bars = 1000 }]: order, event 1: bars should be a whole number from 1 to 64, not 1000
order = "head": order: should be a list of events; as in order = [{ play = "head" }]
section A, bar 2: the melody lasts 3 quarters in a bar of 4; count its notes
section A, bar 2: 'H7' is not a chord symbol; the root is a letter from A to G, so write B7
section A, bar 3: the melody lasts 4.5 quarters in a bar of 4; count its notes
section A, bar 3: 5 places don't go into this bar; put a . for each beat on which the chord before goes on, as in Dm7 . . G7
section A, bar 4: the melody lasts 3 quarters in a bar of 4; count its notes
section A, bar 4: 5 places don't go into this bar; put a . for each beat on which the chord before goes on, as in Dm7 . . G7
section B: the melody has 3 bars, the chords have 2; bar 3 of the melody has no chords: write them, or take it out
feel: there is no feel 'sving'; did you mean 'swing'?
section A: there is no treatment 'walkin'; did you mean 'walking'?
order, event 2: there is no treatment 'walkin'; did you mean 'walking'?
order, event 2: an ending comes last; move it to the bottom
feel: there is no feel 'sving'; did you mean 'swing'?
section A: there is no treatment 'walkin'; did you mean 'walking'?
order, event 3: there is no treatment 'walkin'; did you mean 'walking'?
section A, bar 3: D-1 is beyond the piano; write it in another octave
section B: has no chord; write its chords, or there is nothing to accompany with
section C: is never played; name it in the form, or take it out
order, event 2: an introduction comes first; move it to the top
order, event 3: an ending comes last; move it to the bottom
section A: its pickup takes the place of a note that section B ends with; shorten one of them
section C: is never played; name it in the form, or take it out
"""  # noqa: E501


def lines(text: str) -> list[str]:
    return text.strip("\n").splitlines()


def shown(text: str) -> list[str]:
    """With the quotes that can stand in what is kept here."""
    return [line.rstrip().replace('"""', "'''") for line in text.strip("\n").splitlines()]


def test_a_sheet_with_everything_as_musicxml() -> None:
    imported = import_musicxml(DATA / "everything.musicxml")
    assert [*report(imported), *shown(write_imported(imported))] == lines(FROM_XML)


def test_a_sheet_with_ties_and_triplets_and_one_with_a_leap() -> None:
    found = []
    for name in ("ties-and-triplets", "da-capo", "pickup-and-endings", "three-times"):
        imported = import_musicxml(DATA / f"{name}.musicxml")
        found += [*report(imported), *shown(write_imported(imported))]
    assert found == lines(LEAPS)


def test_two_tunes_as_abc(tmp_path: Path) -> None:
    found = []
    for text in (ABC, SECOND_ABC):
        path = tmp_path / "tune.abc"
        path.write_text(text, encoding="utf-8")
        imported = import_abc(path)
        found += [line.replace(str(path), "tune.abc") for line in report(imported)]
        found += shown(write_imported(imported))
    assert found == lines(FROM_ABC)


def test_a_chart_on_a_wide_screen_and_on_a_narrow_one() -> None:
    chart = parse_toml(EVERYTHING)
    assert [*shown(show(chart)), *shown(show(chart, width=44, scales=False))] == lines(SHOWN)


def test_a_chart_in_other_keys() -> None:
    chart = parse_toml(EVERYTHING)
    keys = ("C minor", "F# minor", "Eb minor", 3, -1)
    texts = [shown(write_toml(transposed(chart, key))) for key in keys]
    found = [line for text in texts for line in text if line.startswith("key") or "|" in line]
    assert found == lines(TRANSPOSED)


def test_a_changed_chart_keeps_its_comments_and_its_layout() -> None:
    text = EVERYTHING.replace("feel =", "# as it was played\nfeel =")
    assert shown(update_toml(text, transposed(parse_toml(text), "A minor"))) == lines(UPDATED)


def test_everything_that_is_wrong_with_a_chart() -> None:
    names = {"treatments": ["walking", "solos"], "feels": ["swing", "straight"]}
    found = []
    for top in TOPS:
        kept = "".join(line for line in PLAIN.splitlines(keepends=True) if line.split(" ")[0] != top.split()[0])
        try:
            parse_toml(kept.replace("[section", f"{top}\n[section", 1))
        except ChartError as fault:
            found.append(f"{top}: {fault}")
    found += [str(fault) for text in (WRONG, HARDLY_MEANT, EVERYTHING) for fault in check_text(text, **names)]
    assert found == lines(FAULTS)
