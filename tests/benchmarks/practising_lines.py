"""What a practising player plays over a chart, and how they phrase it: the head as people play heads, fills, fumbles.

Conventions: beats, lengths and places in quarters, written (the clock swings them); MIDI numbers. A phrasing takes the
notes at their places and gives them back displaced, changed or with others between; where a note is *written* it keeps.
Everything is drawn from the dice that are handed in. All of it is common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from random import Random

from companion.chart.model import Form
from companion.pianist import lines
from companion.pianist.lines import IntendedNote
from companion.pianist.touch import PlacedNote
from companion.preferences import preferences
from companion.preferences.players import PlayerManner, PlayerPreferences

TIGHT, LOOSE = PlayerManner(behind_ms=(0, 0), outside=0.0), PlayerManner(behind_ms=(15, 40), outside=0.125)
"""Two ways of improvising, in the words of ``configs/players.toml``."""
GAP = 0.4
"""Quarters of rest from which a phrase begins."""
CLOSEST = 0.24
"""Quarters between two notes of a line, at least."""


# What is played: once through the form


def melody(form: Form, dice: Random) -> list[IntendedNote]:
    """The melody as written; a pickup has negative beats."""
    return lines.melody_line(form)


def right_hand(form: Form, dice: Random) -> list[IntendedNote]:
    """The melody, and chords in its gaps."""
    line = lines.melody_line(form)
    return line + lines.answers(form, line, dice)


def both_hands(form: Form, dice: Random) -> list[IntendedNote]:
    """The melody over the player's own left hand: roots and shells, on the chord or a beat and a half after it."""
    line = lines.melody_line(form)
    pulse = float(form.metre.pulse)
    for span in form.chords:
        if span.chord.bass_name is None or span.chord.root is None:
            continue
        beat, end = float(span.start), float(span.end)
        root = 36 + (span.chord.bass_name.pc - 36) % 12
        apart = dice.choice((0.0, 0.0, 1.0, 1.5)) * pulse
        split = 0 < apart < end - beat
        line.append(IntendedNote(beat, (apart if split else end - beat) * 0.9, root, 0.9, hand="left"))
        guides = [t for t in sorted(span.chord.pitch_classes) if (t - span.chord.root.pc) % 12 in (3, 4, 5, 9, 10, 11)]
        at = beat + apart if split else beat
        line += [IntendedNote(at, (end - at) * 0.9, 48 + pc, 0.8, hand="left") for pc in guides[:2]]
    return line


def solo(form: Form, dice: Random) -> list[IntendedNote]:
    """An improvised line, plain or loose."""
    return lines.solo_line(form, dice, dice.choice((TIGHT, LOOSE)))


def comping(form: Form, dice: Random) -> list[IntendedNote]:
    """Rootless chords in syncopated rhythms."""
    return lines.comping_line(form, preferences(PlayerPreferences).comping, dice)


def sustained(form: Form, dice: Random) -> list[IntendedNote]:
    """Chords struck once, on the bar or a quaver before it, and held over a bar line or two."""
    taste = preferences(PlayerPreferences).lines
    line: list[IntendedNote] = []
    hand: list[int] = []
    bars = [float(b) for b in form.bars] + [float(form.length)]
    n = 0
    while n < len(bars) - 1:
        held = min(dice.choice((1, 1, 2, 2, 3)), len(bars) - 1 - n)
        beat = bars[n] - (0.5 if bars[n] and dice.random() < 0.5 else 0.0)
        hand = lines.voicing(taste, form.chord_at(bars[n]).chord, hand, dice) or hand
        line += [IntendedNote(beat, bars[n + held] - beat - 0.6, note, hand="left") for note in hand]
        n += held
    return line


def bass(form: Form, dice: Random) -> list[IntendedNote]:
    """A walking bass."""
    return lines.walking_line(form, dice)


PLAYED: Mapping[str, Callable[[Form, Random], list[IntendedNote]]] = {
    "melody": melody,
    "melody,chords": right_hand,
    "both": both_hands,
    "solo": solo,
    "chords": comping,
    "sustained": sustained,
    "bass": bass,
}
PICKED_UP = ("melody", "melody,chords", "both")
"""Those of them that begin with the melody's pickup."""


# How the melody is phrased


def phrases(notes: Sequence[PlacedNote]) -> list[list[PlacedNote]]:
    """The right hand's notes in phrases: a new one after each rest and at each new leg."""
    found: list[list[PlacedNote]] = []
    for placed in notes:
        if placed.note.hand != "right":
            continue
        before = found[-1][-1] if found else None
        if before is None or before.passage != placed.passage or placed.at - before.until > GAP:
            found.append([])
        found[-1].append(placed)
    return found


def displaced(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """Phrases and single notes a quaver early or late, a few a crotchet late or early; fills in the gaps.

    How much of it a player does differs from one to the next.
    """
    whole, single = dice.uniform(0.15, 0.6), dice.uniform(0.08, 0.35)
    kept: list[PlacedNote] = []
    groups = phrases(notes)
    for phrase, after in zip(groups, [*groups[1:], None], strict=True):
        shift = dice.choices((-0.5, 0.5, 1.0, -1.0), (5, 4, 3, 1))[0] if dice.random() < whole else 0.0
        for placed, following in zip(phrase, [*phrase[1:], after[0] if after else None], strict=True):
            moves = [shift, 0.0, 0.5, 1.0]
            if dice.random() < single:
                moves.insert(0, dice.choices((-0.5, 0.5, 1.0), (6, 3, 2))[0])
            if kept and kept[-1].chart_beat == placed.chart_beat:  # an octave or a grace goes with its note
                kept.append(_moved(placed, kept[-1].at - placed.at))
            else:
                kept.append(_moved(placed, _room_for(moves, placed, kept[-1:], following, shift)))
    kept = _let_go(kept)
    return _with_left(notes, [*kept, *_fills(kept, form, dice)])


def _room_for(
    moves: Sequence[float], placed: PlacedNote, before: Sequence[PlacedNote], following: PlacedNote | None, shift: float
) -> float:
    """The first of the moves that leaves room after the note before, and before the one after."""
    soonest = max((b.at + CLOSEST for b in before if b.passage == placed.passage), default=placed.at - 1.0)
    latest = following.at + max(shift, 0.0) - CLOSEST if following and following.passage == placed.passage else 1e9
    return next((by for by in moves if soonest <= placed.at + by <= latest), max(0.0, soonest - placed.at))


def back_phrased(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """Falls behind through a phrase by up to a beat and more, off any grid, and catches up at its end; some rush it."""
    most = dice.uniform(0.5, 1.4) * float(form.metre.pulse)
    moved: list[PlacedNote] = []
    for phrase in phrases(notes):
        lag = most * dice.uniform(0.4, 1.0) * dice.choices((1, 0, -0.5), (6, 3, 1))[0]
        start, length = phrase[0].at, max(phrase[-1].at - phrase[0].at, 1.0)
        for placed in phrase:
            x = (placed.at - start) / length
            moved.append(_moved(placed, lag * min(1.0, 2.2 * x, 2.2 * (1.15 - x)) if length > 1.5 else 0.4 * lag))
    return _with_left(notes, _in_order(moved))


def lower(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """An octave lower than written, or higher; now and then the octave changes with the phrase."""
    usual = dice.choice((-12, -12, -12, 12))
    found = []
    for phrase in phrases(notes):
        by = usual if dice.random() < 0.85 else 0
        found += [_pitched(placed, by) for placed in phrase]
    return _with_left(notes, found)


def transposed(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """All in another key: the keyboard's transposing is on, or the player tries the tune in it."""
    by = dice.choice((-5, -3, -2, -1, 1, 2, 3, 5))
    return [_pitched(placed, by) for placed in notes]


def trilled(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """Long notes as trills or shakes, short ones now and then with a turn."""
    found: list[PlacedNote] = []
    for placed in notes:
        found.append(placed)
        if placed.note.hand == "right" and placed.until - placed.at >= 1.4 and dice.random() < 0.7:
            pace, step = dice.uniform(0.07, 0.12), dice.choice((1, 2, 3))
            count = min(14, int((placed.until - placed.at) * 4) + 1)
            found[-1] = replace(placed, until=placed.at + 0.2)
            for k in range(1, count):
                midi = placed.note.midi + (step if k % 2 else 0)
                note = replace(placed.note, midi=midi, lag=placed.note.lag + k * pace, kind="extra", weight=0.85)
                found.append(replace(placed, until=placed.at + 0.2, note=note))
    return found


PHRASINGS: Mapping[str, Callable[[Sequence[PlacedNote], Form, Random], list[PlacedNote]]] = {
    "displaced": displaced,
    "back": back_phrased,
    "lower": lower,
    "transposed": transposed,
    "trilled": trilled,
}


def fumbled(
    notes: Sequence[PlacedNote], share: float, dice: Random
) -> tuple[list[PlacedNote], list[tuple[float, float]]]:
    """Notes struck again and again until they are right, the beat halting meanwhile: what is struck, and the halts."""
    found, halts = [], []
    last = -10.0
    for placed in notes:
        if placed.note.hand == "left" or placed.note.kind != "right" or dice.random() >= share or placed.at - last < 2:
            found.append(placed)
            continue
        tries, pace = dice.choice((1, 1, 2, 2, 3, 4)), dice.uniform(0.35, 0.8)
        for k in range(tries):
            off = dice.choice((-2, -1, 1, 2)) if k == 0 or dice.random() < 0.5 else 0
            note = replace(placed.note, midi=placed.note.midi + off, lag=k * pace, kind="extra")
            found.append(replace(placed, until=placed.at + 0.2, note=note))
        found.append(replace(placed, note=replace(placed.note, lag=tries * pace, kind="right")))
        halts.append((placed.at + 0.02, tries * pace))
        last = placed.at
    return found, halts


def _moved(placed: PlacedNote, by: float) -> PlacedNote:
    return replace(placed, at=placed.at + by, until=placed.until + by)


def _pitched(placed: PlacedNote, by: int) -> PlacedNote:
    midi = placed.note.midi + by
    return replace(placed, note=replace(placed.note, midi=midi if 21 <= midi <= 108 else placed.note.midi))


def _in_order(moved: Sequence[PlacedNote]) -> list[PlacedNote]:
    """The same notes with none struck before, or on, the one that was before it."""
    kept: list[PlacedNote] = []
    for placed in moved:
        at = placed.at
        if kept and kept[-1].passage == placed.passage:
            together = kept[-1].chart_beat == placed.chart_beat  # an octave or a grace goes with its note
            at = kept[-1].at if together else max(placed.at, kept[-1].at + CLOSEST)
        kept.append(_moved(placed, at - placed.at))
    return _let_go(kept)


def _let_go(line: Sequence[PlacedNote]) -> list[PlacedNote]:
    """The notes of a line with each let go before the next."""
    ends = [b.at if b.at > a.at and a.passage == b.passage else a.until for a, b in pairwise(line)]
    return [replace(a, until=min(a.until, end)) for a, end in zip(line[:-1], ends, strict=True)] + list(line[-1:])


def _fills(notes: Sequence[PlacedNote], form: Form, dice: Random) -> list[PlacedNote]:
    """Notes of the player's own in long gaps: a few quavers of the scale, now and then."""
    found: list[PlacedNote] = []
    for a, b in pairwise(notes):
        if a.passage != b.passage or b.at - a.at < 3.0 or dice.random() < 0.6:
            continue
        at, midi = round(2 * (a.at + 1.0)) / 2, a.note.midi
        for _ in range(dice.randint(2, 5)):
            if at >= b.at - 0.75:
                break
            scale = lines.scale_at(form.chord_at(a.chart_beat + at - a.at).chord, form)
            midi = min((m for m in range(midi - 4, midi + 5) if m % 12 in scale and m != midi),
                       key=lambda m: abs(m - midi - dice.choice((-2, 2))))  # fmt: skip
            found.append(replace(a, at=at, until=at + 0.45, note=IntendedNote(at, 0.45, midi, 0.85, kind="extra")))
            at += 0.5
    return found


def _with_left(before: Sequence[PlacedNote], right: Sequence[PlacedNote]) -> list[PlacedNote]:
    """The right hand's new notes with the left hand's old ones, in order."""
    left = [placed for placed in before if placed.note.hand != "right"]
    return sorted([*left, *right], key=lambda p: (p.passage, p.at))
