"""Sheets written out: every element of their MusicXML, and every message of the MIDI file that sounds like them.

What stands here is what is written today. When it changes, look at the page (``companion print``) and listen to the
file: another text is as good where the page is. Element names are MusicXML's (4.0, W3C Music Notation Community Group,
2021); written so: ``element(attributes):text[children]``, a row for each bar's element, wrapped.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from xml.etree.ElementTree import Element, fromstring

from companion.chart.musicxml.read import read_musicxml
from companion.chart.toml.read import parse_toml
from companion.engrave.musicxml_out import musicxml
from companion.engrave.programme import arrangement, sounding
from companion.engrave.recording import orders
from companion.engrave.score import lead_sheet
from companion.engrave.sheet import Sheet
from tests.wrapping import lines, wrapped

DATA = Path(__file__).parents[2] / "data"
TUNE = """
format = 1
title = "Kettle at Six"
composer = "Nobody Yet"
key = "G minor"
metre = "4/4"
tempo = 132
feel = "swing"
form = "A"
order = [
  { play = "introduction", how = "vamp", bars = 1 },
  { play = "head" },
  { play = "solos", choruses = 2, treatment = "solos" },
  { play = "head" },
  { play = "ending", how = "held" },
]
[section.A]
treatment = "ballad"
chords = "| Gm6 | C7 D7alt |"
melody = "DF | G3 A (3B2c2d2 | ^c4 ^F4 |"
"""
BOTH = """
work[work-title:Kettle at Six]
identification[creator(type=composer):Nobody Yet encoding[software:companion] miscellaneous[miscellaneous-field(name=form):A miscellaneous-field(name=order):Introduction (vamp) – head – solos (2 choruses) – head – ending (held)]]
part-list[score-part(id=P1)[part-name(print-object=no):Piano]] measure(number=0,implicit=yes)
attributes[divisions:6 key[fifths:-2 mode:minor] time[beats:4 beat-type:4] staves:2 clef(number=1)[sign:G line:2] clef(number=2)[sign:F line:4]]
sound(tempo=132)[swing[first:2 second:1 swing-type:eighth]]
direction(placement=above)[direction-type[words(font-weight=bold,font-style=normal):Swing] direction-type[metronome(parentheses=no)[beat-unit:quarter per-minute:132]] staff:1]
direction(placement=above)[direction-type[metronome(parentheses=yes)[metronome-note[metronome-type:eighth metronome-beam(number=1):begin] metronome-note[metronome-type:eighth metronome-beam(number=1):end] metronome-relation:equals metronome-note[metronome-type:quarter metronome-tuplet(type=start,bracket=yes,show-number=actual)[actual-notes:3 normal-notes:2 normal-type:eighth]] metronome-note[metronome-type:eighth metronome-tuplet(type=stop,bracket=yes,show-number=actual)[actual-notes:3 normal-notes:2 normal-type:eighth]]]] staff:1]
direction(placement=above)[direction-type[rehearsal(font-weight=bold):Introduction] staff:1]
harmony[root[root-step:A] kind(text=m7♭5):half-diminished staff:1]
G4 note[duration:9 voice:1 type:quarter dot stem:up staff:1] note[rest duration:3 voice:1 type:eighth staff:1]
harmony[root[root-step:D] kind(text=7♭9):dominant degree(print-object=no)[degree-value:9 degree-alter:-1 degree-type:add] staff:1]
note[rest duration:6 voice:1 type:quarter staff:1]
D4 note[duration:3 voice:1 type:eighth stem:up staff:1 beam(number=1):begin]
F4 note[duration:3 voice:1 type:eighth accidental:natural stem:up staff:1 beam(number=1):end] backup[duration:24]
note[rest duration:3 voice:2 type:eighth staff:1] G3 note[duration:3 voice:2 type:eighth stem:down staff:1]
C4 note[chord duration:3 voice:2 type:eighth stem:down staff:1]
D4 note[chord duration:3 voice:2 type:eighth stem:down staff:1] note[rest duration:6 voice:2 type:quarter staff:1]
F3(1) note[duration:3 voice:2 type:eighth accidental:sharp stem:down staff:1]
B3(-1) note[chord duration:3 voice:2 type:eighth stem:down staff:1]
C4 note[chord duration:3 voice:2 type:eighth stem:down staff:1]
E4(-1) note[chord duration:3 voice:2 type:eighth stem:down staff:1]
note[rest duration:3 voice:2 type:eighth staff:1] note[rest duration:3 voice:2 type:eighth staff:1]
E3 note[duration:3 voice:2 type:eighth accidental:natural stem:down staff:1]
A3 note[chord duration:3 voice:2 type:eighth stem:down staff:1]
B3(-1) note[chord duration:3 voice:2 type:eighth stem:down staff:1]
D4 note[chord duration:3 voice:2 type:eighth stem:down staff:1] backup[duration:24]
A2 note[duration:6 voice:6 type:quarter staff:2]
E2(-1) note[duration:3 voice:6 type:eighth staff:2 beam(number=1):begin]
D2 note[duration:3 voice:6 type:eighth staff:2 beam(number=1):end]
D2 note[duration:2 voice:6 type:eighth time-modification[actual-notes:3 normal-notes:2] staff:2 beam(number=1):begin notations[tuplet(type=start,number=1,bracket=no)]]
C2 note[duration:2 voice:6 type:eighth time-modification[actual-notes:3 normal-notes:2] staff:2 beam(number=1):continue]
B1(-1) note[duration:2 voice:6 type:eighth time-modification[actual-notes:3 normal-notes:2] staff:2 beam(number=1):end notations[tuplet(type=stop,number=1)]]
A1 note[duration:6 voice:6 type:quarter staff:2] barline(location=right)[bar-style:light-light] measure(number=1)
barline(location=left)[bar-style:heavy-light repeat(direction=forward)]
direction(placement=above)[direction-type[rehearsal(font-weight=bold):A] staff:1]
direction(placement=above)[direction-type[words(font-size=8,font-style=italic,font-weight=normal):late; the top note is right] staff:1]
harmony[root[root-step:G] kind(text=m6):minor-sixth staff:1]
G4 note[duration:9 voice:1 type:quarter dot stem:up staff:1] A4 note[duration:3 voice:1 type:eighth stem:up staff:1]
B4(-1) note[duration:4 voice:1 type:quarter time-modification[actual-notes:3 normal-notes:2] stem:up staff:1 notations[tuplet(type=start,number=1,bracket=yes)]]
C5 note[duration:4 voice:1 type:quarter time-modification[actual-notes:3 normal-notes:2] stem:up staff:1]
D5 note[duration:4 voice:1 type:quarter time-modification[actual-notes:3 normal-notes:2] stem:up staff:1 notations[tuplet(type=stop,number=1)]]
backup[duration:24] note[rest duration:3 voice:2 type:eighth staff:1]
E3 note[duration:9 voice:2 type:quarter dot accidental:natural stem:down staff:1]
A3 note[chord duration:9 voice:2 type:quarter dot stem:down staff:1]
B3(-1) note[chord duration:9 voice:2 type:quarter dot stem:down staff:1]
D4 note[chord duration:9 voice:2 type:quarter dot stem:down staff:1]
note[rest duration:12 voice:2 type:half staff:1] backup[duration:24]
direction(placement=below)[direction-type[pedal(type=start,line=yes,sign=yes)] staff:2]
G1 note[duration:6 voice:6 type:quarter staff:2] E2 note[duration:6 voice:6 type:quarter accidental:natural staff:2]
B2(-1) note[duration:12 voice:6 type:half staff:2]
direction(placement=below)[direction-type[pedal(type=stop,line=yes,sign=no)] staff:2] measure(number=2)
harmony[root[root-step:C] kind(text=7):dominant staff:1]
C5(1) note[duration:12 voice:1 type:half accidental:sharp stem:up staff:1]
harmony[root[root-step:D] kind(text=7alt):dominant degree(print-object=no)[degree-value:5 degree-alter:0 degree-type:subtract] degree(print-object=no)[degree-value:9 degree-alter:-1 degree-type:add] degree(print-object=no)[degree-value:9 degree-alter:1 degree-type:add] degree(print-object=no)[degree-value:11 degree-alter:1 degree-type:add] degree(print-object=no)[degree-value:13 degree-alter:-1 degree-type:add] staff:1]
F4(1) note[duration:6 voice:1 type:quarter accidental:sharp stem:up staff:1]
D4 note[duration:3 voice:1 type(size=cue):eighth stem:up staff:1 beam(number=1):begin]
F4 note[duration:3 voice:1 type(size=cue):eighth accidental:natural stem:up staff:1 beam(number=1):end]
backup[duration:24] note[rest duration:6 voice:2 type:quarter staff:1]
note[rest duration:3 voice:2 type:eighth staff:1]
E3 note[duration:3 voice:2 type:eighth accidental:natural stem:down staff:1]
A3 note[chord duration:3 voice:2 type:eighth stem:down staff:1]
B3(-1) note[chord duration:3 voice:2 type:eighth stem:down staff:1]
C4(1) note[chord duration:3 voice:2 type:eighth accidental:sharp stem:down staff:1]
note[rest duration:12 voice:2 type:half staff:1] backup[duration:24]
direction(placement=below)[direction-type[pedal(type=start,line=yes,sign=no)] staff:2]
C2 note[duration:6 voice:6 type:quarter staff:2] B2(-1) note[duration:6 voice:6 type:quarter staff:2]
direction(placement=below)[direction-type[pedal(type=stop,line=yes,sign=no)] staff:2]
direction(placement=below)[direction-type[pedal(type=start,line=yes,sign=no)] staff:2]
D2 note[duration:3 voice:6 type:eighth staff:2 beam(number=1):begin]
D3 note[duration:3 voice:6 type:eighth staff:2 beam(number=1):end]
F3(1) note[duration:6 voice:6 type:quarter accidental:sharp staff:2]
direction(placement=below)[direction-type[pedal(type=stop,line=yes,sign=no)] staff:2]
direction(placement=above)[direction-type[words(font-weight=bold,font-style=normal):4×] staff:1]
direction(placement=below)[direction-type[words(font-weight=bold,font-style=normal):Head, solos 2×, head; small notes lead back] staff:2]
barline(location=right)[bar-style:light-heavy repeat(direction=backward,times=4)] measure(number=3)
print(new-system=yes) direction(placement=above)[direction-type[rehearsal(font-weight=bold):Ending] staff:1]
harmony[root[root-step:G] kind(text=m(maj7)):major-minor staff:1]
F4(1) note[duration:24 tie(type=start) voice:1 type:whole accidental:sharp staff:1 notations[tied(type=start)]]
backup[duration:24] note[rest duration:12 voice:2 type:half staff:1]
A3 note[duration:12 tie(type=start) voice:2 type:half stem:down staff:1 notations[tied(type=start)]]
D4 note[chord duration:12 tie(type=start) voice:2 type:half stem:down staff:1 notations[tied(type=start)]]
backup[duration:24] note[rest duration:12 voice:5 type:half staff:2]
B2(-1) note[duration:12 tie(type=start) voice:5 type:half stem:up staff:2 notations[tied(type=start)]]
F3(1) note[chord duration:12 tie(type=start) voice:5 type:half accidental:sharp stem:up staff:2 notations[tied(type=start)]]
backup[duration:24] direction(placement=below)[direction-type[pedal(type=start,line=yes,sign=no)] staff:2]
G1 note[duration:24 tie(type=start) voice:6 type:whole staff:2 notations[tied(type=start)]] measure(number=4)
F4(1) note[duration:24 tie(type=stop) voice:1 type:whole staff:1 notations[tied(type=stop) fermata]]
backup[duration:24] A3 note[duration:24 tie(type=stop) voice:2 type:whole staff:1 notations[tied(type=stop)]]
D4 note[chord duration:24 tie(type=stop) voice:2 type:whole staff:1 notations[tied(type=stop)]] backup[duration:24]
B2(-1) note[duration:24 tie(type=stop) voice:5 type:whole staff:2 notations[tied(type=stop) fermata]]
F3(1) note[chord duration:24 tie(type=stop) voice:5 type:whole staff:2 notations[tied(type=stop)]]
backup[duration:24] G1 note[duration:24 tie(type=stop) voice:6 type:whole staff:2 notations[tied(type=stop)]]
direction(placement=below)[direction-type[pedal(type=stop,line=yes,sign=no)] staff:2]
barline(location=right)[bar-style:light-heavy]
"""  # noqa: E501

LEAD = """
work[work-title:A Sheet With Everything]
identification[creator(type=composer):The companion's authors encoding[software:companion] miscellaneous[miscellaneous-field(name=form):A1 A2 B A3]]
part-list[score-part(id=P1)[part-name(print-object=no):Piano]] measure(number=0,implicit=yes)
attributes[divisions:12 key[fifths:-2 mode:minor] time[beats:4 beat-type:4] clef[sign:G line:2]]
direction(placement=above)[direction-type[rehearsal(font-weight=bold):A]]
D4 note(id=bar0voice0head0)[duration:12 voice:1 type:quarter] measure(number=1,implicit=yes)
barline(location=left)[bar-style:heavy-light repeat(direction=forward)]
harmony[root[root-step:G] kind(text=m ):minor] G4 note(id=bar1voice0head0)[duration:24 voice:1 type:half]
B4(-1) note(id=bar1voice0head1)[duration:12 voice:1 type:quarter]
A4 note(id=bar1voice0head2)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):begin notations[tuplet(type=start,number=1,bracket=no)]]
B4(-1) note(id=bar1voice0head3)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):continue]
C5 note(id=bar1voice0head4)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):end notations[tuplet(type=stop,number=1)]]
measure(number=2,implicit=yes) harmony[root[root-step:E root-alter:-1] kind(text=maj7 ):major-seventh]
D5 note(id=bar2voice0head0)[duration:36 voice:1 type:half dot]
C5 note(id=bar2voice0head1)[duration:12 tie(type=start) voice:1 type:quarter notations[tied(type=start)]]
measure(number=3,implicit=yes) harmony[root[root-step:A] kind(text=m7♭5 ):half-diminished]
C5 note(id=bar3voice0head0)[duration:24 tie(type=stop) voice:1 type:half notations[tied(type=stop)]]
harmony[root[root-step:D] kind(text=7♭9 ):dominant]
F4(1) note(id=bar3voice0head1)[duration:18 voice:1 type:quarter dot accidental:sharp]
A4 note(id=bar3voice0head2)[duration:6 voice:1 type:eighth] measure(number=4,implicit=yes)
barline(location=left)[ending(number=1,type=start):1.]
harmony[root[root-step:G] kind(text=m):minor bass[bass-step:F]]
G4 note(id=bar4voice0head0)[duration:24 voice:1 type:half]
note(id=bar4voice0head1)[rest duration:12 voice:1 type:quarter]
D4 note(id=bar4voice0head2)[duration:12 voice:1 type:quarter]
barline(location=right)[bar-style:light-heavy ending(number=1,type=stop) repeat(direction=backward)]
measure(number=8,implicit=yes) barline(location=left)[ending(number=2,type=start):2.]
harmony[root[root-step:G] kind(text=m6 ):minor-sixth] G4 note(id=bar8voice0head0)[duration:36 voice:1 type:half dot]
note(id=bar8voice0head1)[rest duration:12 voice:1 type:quarter]
barline(location=right)[bar-style:light-light ending(number=2,type=discontinue)] measure(number=9,implicit=yes)
print(new-system=yes) direction(placement=above)[direction-type[rehearsal(font-weight=bold):B]]
harmony[root[root-step:C] kind(text=m7 ):minor-seventh]
E5(-1) note(id=bar9voice0head0)[duration:12 voice:1 type:quarter]
D5 note(id=bar9voice0head1)[duration:12 voice:1 type:quarter]
C5 note(id=bar9voice0head2)[duration:24 voice:1 type:half] measure(number=10,implicit=yes)
harmony[root[root-step:F] kind(text=13 ):dominant-13th]
D5 note(id=bar10voice0head0)[duration:9 voice:1 type:eighth dot beam(number=1):begin]
C5 note(id=bar10voice0head1)[duration:3 voice:1 type:16th beam(number=1):end beam(number=2):backward hook]
A4 note(id=bar10voice0head2)[duration:12 tie(type=start) voice:1 type:quarter notations[tied(type=start)]]
A4 note(id=bar10voice0head3)[duration:24 tie(type=stop) voice:1 type:half notations[tied(type=stop)]]
measure(number=11,implicit=yes) harmony[root[root-step:B root-alter:-1] kind(text=):major bass[bass-step:D]]
B4(-1) note(id=bar11voice0head0)[duration:24 voice:1 type:half]
harmony[root[root-step:E root-alter:-1] kind(text=7 ):dominant]
G4 note(id=bar11voice0head1)[duration:24 voice:1 type:half] measure(number=12,implicit=yes)
harmony[root[root-step:D] kind(text=7♯5 ):augmented-seventh]
F4(1) note(id=bar12voice0head0)[duration:48 voice:1 type:whole accidental:sharp]
barline(location=right)[bar-style:light-light] measure(number=13,implicit=yes) print(new-system=yes)
direction(placement=above)[direction-type[rehearsal(font-weight=bold):A3]]
harmony[root[root-step:G] kind(text=m ):minor] G4 note(id=bar13voice0head0)[duration:24 voice:1 type:half]
B4(-1) note(id=bar13voice0head1)[duration:12 voice:1 type:quarter]
A4 note(id=bar13voice0head2)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):begin notations[tuplet(type=start,number=1,bracket=no)]]
B4(-1) note(id=bar13voice0head3)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):continue]
C5 note(id=bar13voice0head4)[duration:4 voice:1 type:eighth time-modification[actual-notes:3 normal-notes:2] beam(number=1):end notations[tuplet(type=stop,number=1)]]
measure(number=14,implicit=yes) harmony[root[root-step:E root-alter:-1] kind(text=maj7 ):major-seventh]
D5 note(id=bar14voice0head0)[duration:36 voice:1 type:half dot]
C5 note(id=bar14voice0head1)[duration:12 tie(type=start) voice:1 type:quarter notations[tied(type=start)]]
measure(number=15,implicit=yes) harmony[root[root-step:A] kind(text=m7♭5 ):half-diminished]
C5 note(id=bar15voice0head0)[duration:24 tie(type=stop) voice:1 type:half notations[tied(type=stop)]]
harmony[root[root-step:D] kind(text=7♭9 ):dominant]
F4(1) note(id=bar15voice0head1)[duration:18 voice:1 type:quarter dot accidental:sharp]
A4 note(id=bar15voice0head2)[duration:6 voice:1 type:eighth] measure(number=16,implicit=yes)
harmony[root[root-step:G] kind(text=m6 ):minor-sixth] G4 note(id=bar16voice0head0)[duration:12 voice:1 type:quarter]
harmony[root[root-step:G] kind(text=m(add9) ):minor] A4 note(id=bar16voice0head1)[duration:24 voice:1 type:half]
G4 note(id=bar16voice0head2)[duration:12 voice:1 type:quarter] barline(location=right)[bar-style:light-heavy]
"""  # noqa: E501

SOUND = """
0.000 melody 0x90 67 69; 0.003 bass 0x90 45 65; 0.309 chords 0x90 62 60; 0.312 chords 0x90 60 51;
0.315 chords 0x90 55 51; 0.389 bass 0x80 45 0; 0.413 chords 0x80 62 0; 0.416 chords 0x80 60 0;
0.419 chords 0x80 55 0; 0.456 bass 0x90 39 72; 0.659 melody 0x80 67 0; 0.840 bass 0x80 39 0; 0.909 bass 0x90 38 64;
0.920 chords 0x90 63 55; 0.922 chords 0x90 60 48; 0.924 chords 0x90 58 48; 0.924 chords 0x90 54 48;
1.156 bass 0x80 38 0; 1.204 chords 0x80 63 0; 1.206 chords 0x80 60 0; 1.208 chords 0x80 58 0;
1.209 chords 0x80 54 0; 1.217 bass 0x90 36 60; 1.336 bass 0x80 36 0; 1.353 melody 0x90 62 65; 1.364 bass 0x90 34 71;
1.612 bass 0x80 34 0; 1.636 melody 0x80 62 0; 1.658 melody 0x90 65 64; 1.672 bass 0x90 32 58;
1.673 chords 0x90 64 58; 1.676 chords 0x90 62 50; 1.679 chords 0x90 58 50; 1.778 chords 0x80 64 0;
1.781 chords 0x80 62 0; 1.784 chords 0x80 58 0; 1.792 bass 0x80 32 0; 1.804 melody 0x80 65 0;
1.808 melody 0x90 67 67; 1.818 bass 0xb0 64 127; 1.819 bass 0x90 31 66; 2.226 bass 0x80 31 0; 2.273 bass 0xb0 64 0;
2.273 bass 0xb0 64 127; 2.275 bass 0x90 38 69; 2.281 chords 0x90 64 55; 2.283 chords 0x90 62 47;
2.285 chords 0x90 58 47; 2.287 chords 0x90 57 47; 2.540 melody 0x80 67 0; 2.564 melody 0x90 69 68;
2.659 bass 0x80 38 0; 2.712 melody 0x80 69 0; 2.717 chords 0x80 64 0; 2.719 chords 0x80 62 0;
2.721 chords 0x80 58 0; 2.723 chords 0x80 57 0; 2.727 bass 0xb0 64 0; 2.727 bass 0xb0 64 127;
2.730 melody 0x90 70 71; 2.730 bass 0x90 46 64; 3.029 melody 0x80 70 0; 3.033 melody 0x90 72 77;
3.328 melody 0x80 72 0; 3.342 melody 0x90 74 75; 3.495 bass 0x80 46 0; 3.628 melody 0x90 73 72;
3.636 bass 0xb0 64 0; 3.636 bass 0xb0 64 127; 3.637 bass 0x90 36 66; 3.638 melody 0x80 74 0; 4.025 bass 0x80 36 0;
4.091 bass 0xb0 64 0; 4.091 bass 0xb0 64 127; 4.092 bass 0x90 52 66; 4.106 chords 0x90 57 48;
4.106 chords 0x90 58 48; 4.106 chords 0x90 61 48; 4.106 chords 0x90 64 56; 4.390 chords 0x80 57 0;
4.390 chords 0x80 58 0; 4.390 chords 0x80 61 0; 4.390 chords 0x80 64 0; 4.398 chords 0x90 67 61;
4.401 chords 0x90 64 53; 4.404 chords 0x90 58 53; 4.479 bass 0x80 52 0; 4.499 melody 0x80 73 0;
4.504 chords 0x80 67 0; 4.507 chords 0x80 64 0; 4.510 chords 0x80 58 0; 4.545 bass 0xb0 64 0;
4.545 bass 0xb0 64 127; 4.546 bass 0x90 38 64; 4.546 melody 0x90 66 61; 4.926 bass 0x80 38 0; 4.998 bass 0x90 48 70;
5.000 bass 0xb0 64 0; 5.000 bass 0xb0 64 127; 5.333 melody 0x80 66 0; 5.412 bass 0x80 48 0; 5.455 bass 0xb0 64 0;
"""


def short(element: Element) -> str:
    """An element and what is in it."""
    attributes = ",".join(f"{name}={value}" for name, value in element.attrib.items())
    text = (element.text or "").strip()
    children = " ".join(short(child) for child in element)
    name = element.tag + (f"({attributes})" if attributes else "")
    return name + (f":{text}" if text else "") + (f"[{children}]" if children else "")


def elements(sheet: Sheet, *, for_engraver: bool = False) -> Iterator[str]:
    for part in fromstring(musicxml(sheet, for_engraver=for_engraver)):
        if part.tag != "part":
            yield short(part)
        for measure in part if part.tag == "part" else ():
            yield short(Element("measure", measure.attrib))
            yield from (note(child) if child.tag == "note" else short(child) for child in measure)


def note(element: Element) -> str:
    """A note with its pitch in one word."""
    pitch = element.find("pitch")
    if pitch is None:
        return short(element)
    element.remove(pitch)
    step, alter, octave = (pitch.findtext(name) or "" for name in ("step", "alter", "octave"))
    return f"{step}{octave}{alter and f'({alter})'} {short(element)}"


def test_an_arrangement_for_two_hands_with_its_order_of_events() -> None:
    assert wrapped(elements(arrangement(parse_toml(TUNE), remarks={1: "late; the top note is right"}))) == lines(BOTH)


def test_a_lead_sheet_with_repeats_endings_and_leaps() -> None:
    chart = read_musicxml(DATA / "everything.musicxml")
    assert wrapped(elements(lead_sheet(chart), for_engraver=True)) == lines(LEAD)


def test_what_sounds_of_it() -> None:
    form, notes = sounding(parse_toml(TUNE), seed=2)
    found = orders(form, [n for n in notes if n.beat < 12], 1)
    words = [f"{o.seconds:.3f} {o.part} {o.status:#x} {o.data1} {o.data2};" for o in found]
    assert wrapped(words) == lines(SOUND)
