"""What is made of played notes and of MIDI files, written out as charts.

What stands here is what is made of them today. When it changes, read the difference beside what was played: another
text is as good where it says the same, or says it better.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import mido

from companion.chart.imported import report, write_imported
from companion.chart.toml.read import parse_toml
from companion.messages import Beat
from companion.music.chords import parse_chord
from companion.music.meter import Metre
from companion.music.played import BeatMap, KeyPress
from companion.pianist.player import simulate
from companion.transcribe.captured import KnownTune, Pass, captured_chart
from companion.transcribe.midi_tune import read_midi
from companion.transcribe.played_bars import PlayedForm, played_bars
from companion.transcribe.played_tune import played_tune
from companion.transcribe.playing import keys_of

TUNE = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 138
feel = "swing"
form = "A"
[section.A]
chords = "| Gm6 | C7 | Am7b5 | D7alt |"
melody = "DF | G3 A (3B2c2d2 | ^c4- c2 =B2 | z2 A2 ^F2 E2 | G2 z2 z D3 |"
"""
WALTZ = [(0, 1, 69), (1, 2, 72), (3, 1.5, 74), (4.5, 0.5, 72), (5, 1, 70), (6, 3, 69), (9, 1, 67), (10, 2, 65)]
COMPED = [(0, 3, (53, 57, 64)), (3, 3, (55, 58, 65)), (6, 3, (52, 58, 60)), (9, 3, (53, 57, 60, 62))]
PER = 480
WALTZED = """
key: F major, found in the notes and the chords: the file says none
format = 1
# key: F major, found in the notes and the chords: the file says none
title = "tune"
key = "F major"
metre = "3/4"
tempo = 126
feel = "swing"
form = "A"

[section.A]
chords = '''
| Fmaj7 | Gm7    | C7 | F6    |
'''
melody = '''
| A2 c4 | d3c B2 | A6 | G2 F4 |
'''
"""

BY_HAND = """
tempo: 105, found in the notes: they don't keep to the file's beats (it says 120)
key: F major, found in the notes: the file says none
rhythm: notes that lie off the beat were written where they were meant
format = 1
# tempo: 105, found in the notes: they don't keep to the file's beats (it says 120)
# key: F major, found in the notes: the file says none
# rhythm: notes that lie off the beat were written where they were meant
title = "tune"
key = "F major"
metre = "4/4"
tempo = 105
feel = "swing"
form = "A"

[section.A]
melody = '''
| A2 c4 d2- | dc B2 A4- | A2 G2 F4 | z8 |
'''
"""

CAPTURED = """
format = 1
title = "Kettle at Six"
key = "G minor"
metre = "4/4"
tempo = 138
feel = "swing"
form = "A"

[section.A]
chords = '''
   | C7 Bbmaj7    | C7      | Bbmaj7 Am7b5 | D7#9    |
'''
melody = '''
Dz | G3A (3B2c2d2 | ^c6 =B2 | z4 _A2 E2    | G2 z3D3 |
'''
format = 1
title = "In A"
key = "A major"
metre = "4/4"
tempo = 138
feel = "straight"
form = "A"

[section.A]
chords = '''
   | Gm6                 | C7    |
'''
melody = '''
Dz | (3=G4-GA (3_B2=c2d2 | c6 z2 |
'''
"""

PLAYED = """
format = 1
title = "melody,chords"
key = "G minor"
metre = "4/4"
tempo = 129
feel = "swing"
form = "A"

[section.A]
chords = '''
   | Gm6          | C7     | Am7b5        | D7alt   |
'''
melody = '''
DF | G3A (3B2c2d2 | z6 =B2 | z2 A2 ^F2 E2 | G2 z3D3 |
'''

# The arrangement, note for note, in ABC note syntax: a table for each place of the form. Change what you like.
# X leaves a bar free; what stands after & sounds together with what is before it, from the same bar line on.
[[arrangement]]  # bars 1-4
section = "A"
chords = '''
| z8 | ^c[=E,!voice1!A,!voice1!B,!voice1!D]6[G,!voice1!A,!voice1!=C!voice1!_E]- | [G,A,CE]2 z6 | z8 |
'''
format = 1
title = "bass"
key = "G minor"
metre = "4/4"
tempo = 129
feel = "swing"
form = "A"

[section.A]
chords = '''
| Gm6 | C7 | Am7b5 | D7alt |
'''

# The arrangement, note for note, in ABC note syntax: a table for each place of the form. Change what you like.
# X leaves a bar free; what stands after & sounds together with what is before it, from the same bar line on.
[[arrangement]]  # bars 1-4
section = "A"
chords = '''
| z8 | z8 | z8 | z8 |
'''
bass = '''
| G,,,2 A,,,2 G,,,G,,, =B,,,2 | C,,2 G,,,2 =E,,,2 =E,,2 | A,,2 C,2 B,,2 ^C,2 | D,2 E,2 D,2 A,,2 |
'''
"""


def lines(text: str) -> list[str]:
    return text.strip("\n").splitlines()


def shown(imported: Any, path: Path | None = None) -> list[str]:
    """Its remarks and its text, with the quotes that can stand in what is kept here."""
    text = [*report(imported), *write_imported(imported).splitlines()]
    return [line.rstrip().replace('"""', "'''").replace(str(path), "tune.mid") for line in text]


def track(name: str, notes: list[tuple[float, float, int]], channel: int = 0) -> mido.MidiTrack:
    """Notes as (beat, length, MIDI number)."""
    timed = [(beat, mido.Message("note_on", note=midi, velocity=70, channel=channel)) for beat, _, midi in notes]
    timed += [(beat + length, mido.Message("note_off", note=midi, channel=channel)) for beat, length, midi in notes]
    made, last = mido.MidiTrack([mido.MetaMessage("track_name", name=name)]), 0
    for beat, message in sorted(timed, key=lambda pair: (pair[0], pair[1].type != "note_off")):
        made.append(message.copy(time=round(beat * PER) - last))
        last = round(beat * PER)
    return made


def saved(path: Path, *tracks: mido.MidiTrack, metre: tuple[int, int] = (4, 4), tempo: float = 120) -> Path:
    head = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo))])
    head.append(mido.MetaMessage("time_signature", numerator=metre[0], denominator=metre[1]))
    midi = mido.MidiFile(type=1, ticks_per_beat=PER)
    midi.tracks.extend([head, *tracks])
    midi.save(path)
    return path


def test_a_written_waltz_with_its_chords_as_notes(tmp_path: Path) -> None:
    chords = [(beat, length, midi) for beat, length, struck in COMPED for midi in struck]
    path = saved(tmp_path / "tune.mid", track("Lead", WALTZ), track("Comp", chords, 1), metre=(3, 4), tempo=126)
    assert shown(read_midi(path), path) == lines(WALTZED)


def test_a_recording_by_hand_without_a_click(tmp_path: Path) -> None:
    """The notes some twenty milliseconds off, at a tempo of 104, in a file that says 120."""
    dice = Random(7)
    notes = [(0.83 + (b + dice.gauss(0, 0.02)) * 120 / 104, n, midi) for b, n, midi in WALTZ]
    path = saved(tmp_path / "tune.mid", track("", notes))
    assert shown(read_midi(path), path) == lines(BY_HAND)


def test_a_melody_captured_to_a_click_and_its_chords_in_a_second_pass() -> None:
    form = parse_toml(TUNE).unfold()
    sung, comped = (simulate(form, part, manner="human", seed=3) for part in ("melody", "chords"))
    passes = [Pass(tuple(keys_of(one.heard)), BeatMap.steady(one.tempo, one.start)) for one in (sung, comped)]
    found = [*shown(captured_chart(*passes, KnownTune("Kettle at Six", Metre(4, 4), (-2, True))))]
    first = Pass(passes[0].keys[:7], passes[0].beats)
    symbols = [(Fraction(4 * n), parse_chord(symbol)) for n, symbol in enumerate(("Gm6", "C7"))]
    found += shown(captured_chart(first, symbols, KnownTune("In A", feel="straight", key=(3, False), bars=2)))
    assert found == lines(CAPTURED)


def test_what_was_played_over_a_chart_is_a_chart() -> None:
    chart = parse_toml(TUNE)
    source = PlayedForm(chart.unfold())
    found = []
    for parts, alone in (("melody,chords", False), ("bass", True)):
        player = simulate(source.form, parts, manner="human", seed=5, tempo=126)
        beats = [Beat(row.chart_beat, row.seconds, 1.0, row.chorus) for row in player.beats]
        went = played_bars(beats, lambda beat: source)
        assert went is not None
        found += shown(played_tune(chart, parts, keys_of(player.heard), parts.split(","), went, alone=alone))  # type: ignore[arg-type]
    assert found == lines(PLAYED)


def test_chords_captured_without_a_key_have_the_names_of_the_key_that_is_found() -> None:
    """G minor; by the chords alone it might be B flat major, whose diminished chords have other names."""
    pulse, keys = 0.5, []
    hand = ["Bbmaj7", "F#dim7", "Gm7", "Cm7", "F7", "C#dim7", "Dm7", "Gm7"]
    for bar, symbol in enumerate(hand):
        chord = parse_chord(symbol)
        assert chord.root is not None
        low = 48 + chord.root.pc
        keys += [KeyPress(1 + 4 * pulse * bar, 2.9 + 4 * pulse * bar, low + t.semitones) for t in chord.tones]
    line = [KeyPress(1 + 4 * pulse * n, 2.8 + 4 * pulse * n, m) for n, m in enumerate((77, 75, 79, 75, 77, 76, 77, 79))]
    beats = BeatMap.steady(120.0, 1.0)
    form = captured_chart(Pass(tuple(line), beats), Pass(tuple(keys), beats)).chart.unfold()
    assert [span.chord.symbol for span in form.chords] == hand
    assert (form.fifths, form.minor) == (-2, True)
