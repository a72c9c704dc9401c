"""The built-in player: a simulated pianist with human timing, for the demo and for trials of how well one is followed.

Conventions: seconds from the start of the performance; chart beats in quarters from the first downbeat of the form. The
player counts two bars in, the first click at 1.000 s; the true beats that come with the performance are one a beat of
the metre, as a listener who knows the player's mind would tap them. The same arguments give the same performance.

How a player plays (slips, leaps, stops, drift ...) is a manner, named in ``configs/players.toml``. What is played is
made in :mod:`companion.pianist.lines`, the beat in :mod:`companion.pianist.pulse`, the route through the form in
:mod:`companion.pianist.route`, and fingers press the keys in :mod:`companion.pianist.touch`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from companion.chart.model import Form
from companion.errors import UseError
from companion.messages import Heard
from companion.music.swing import swing_ratio
from companion.pianist import lines
from companion.pianist.lines import IntendedNote, with_slips
from companion.pianist.route import Clock, Passage, TrueBeat, beats_along, plan_route, tune_route
from companion.pianist.touch import PlacedNote, TrueNote, bar_pedal, key_movements
from companion.preferences import preferences
from companion.preferences.players import PlayerManner, PlayerPreferences

LEANING = 0.25
"""Share of the drift that is left to a player who takes turns, and so goes by what they hear meanwhile."""
SOFT = 67
"""The soft pedal's controller (MIDI 1.0)."""
ROLES = ("melody", "chords", "bass", "solo")


@dataclass(frozen=True)
class SimulatedPerformance:
    """A performance, and the truth about it."""

    heard: tuple[Heard, ...]
    truth: tuple[TrueBeat, ...]
    tempo: float
    """Quarters a minute, of the count-in."""
    start: float
    """Seconds: chart beat 0 as the count-in promises it."""
    notes: tuple[TrueNote, ...] = ()
    """What became of each written note, and what was added, in the order of the chart."""
    route: tuple[Passage, ...] = ()
    """The passages of the chart that were played, in order."""

    @property
    def beats(self) -> tuple[TrueBeat, ...]:
        """The true beats after the count-in."""
        return tuple(row for row in self.truth if row.mark != "count_in")

    def truth_csv(self) -> str:
        """The true beats as comma-separated rows: ``chart_beat,seconds,pass,mark``."""
        rows = [f"{r.chart_beat:g},{r.seconds:.4f},{r.chorus},{r.mark}" for r in self.truth]
        return "\n".join(["chart_beat,seconds,pass,mark", *rows, ""])


def manners() -> Mapping[str, PlayerManner]:
    """Every manner of playing by name. Raises ConfigError when ``players.toml`` holds something that can't be."""
    return preferences(PlayerPreferences).player


def simulate(
    form: Form,
    role: str | Iterable[str] = "melody",
    *,
    manner: str | PlayerManner = "human",
    tempo: float | None = None,
    seed: int = 0,
    choruses: int = 1,
    begin: float = 0.0,
    tune: Sequence[Passage] | None = None,
    silent: Callable[[int, float], bool] | None = None,
) -> SimulatedPerformance:
    """Let the built-in player play a form.

    Parameters
    ----------
    form : Form
    role : str or iterable of str
        What the player plays: 'melody', 'chords', 'bass', 'solo', or several ('melody,chords': the right hand's job).
    manner : str or PlayerManner
        How: a name from ``configs/players.toml``, or a manner of one's own.
    tempo : float, optional
        Quarters a minute; the form's own if not given.
    seed : int
        Another seed, another performance.
    choruses : int
        Times through the form.
    begin : float
        Chart beat at which the player begins the first time through, a multiple of the metre's pulse.
    tune : sequence of Passage, optional
        The events of a whole tune, instead of choruses and a place to begin.
    silent : callable, optional
        Told a chorus and a chart beat: whether a player who improvises there leaves it to somebody else, on whose time
        they then lean.

    Returns
    -------
    Played
        Notes in order of time, every one of them released, and the true beats.

    Raises
    ------
    UseError
        An unknown role or manner, nothing to play for that role, or a place to begin that isn't a beat of the form.
    """
    parts, how = _parts(role), _manner(manner)
    tempo = tempo or form.tempo
    if choruses < 1 or not 0 <= begin < form.length or begin % float(form.metre.pulse):
        raise UseError(f"nobody can play {choruses} times from beat {begin:g}", mend="begin on a beat of the form")
    dice = {name: Random(f"{seed} {name}") for name in ("way", "pulse", "lines", "slips", "touch")}
    if silent:
        how = replace(how, drift=how.drift * LEANING, hesitations=0, stops=0, moves=0)
    route = tune_route(form, tune, how, dice["way"]) if tune else plan_route(form, choruses, begin, how, dice["way"])
    clock, truth = beats_along(form, route, tempo, how, dice["pulse"])
    if form.feel == "swing" and not form.metre.compound:
        clock.swing = max(1.0, swing_ratio(tempo) + dice["touch"].gauss(0.0, 0.08))
    notes = _notes_on_route(form, parts, route, how, dice["lines"], dice["slips"])
    if silent:
        improvised = ["solo" in (parts if passage.parts is None else passage.parts) for passage in route]
        notes = [n for n in notes if not (improvised[n.passage] and silent(n.chorus, n.chart_beat))]
    if not notes:
        raise UseError(f"there is nothing for {' and '.join(sorted(parts))} to play in this chart")
    heard, told = key_movements(notes, clock, how, dice["touch"])
    if how.pedal:
        bars = [row.seconds for row in truth if row.mark != "count_in" and row.chart_beat in form.bars]
        heard = sorted([*heard, *bar_pedal([*bars, truth[-1].seconds + 1.0])], key=lambda m: m.seconds)
    heard = sorted([*heard, *_last_time_pedal(route, clock, float(form.metre.pulse))], key=lambda m: m.seconds)
    slope, start = _line([(row.chart_beat, row.seconds) for row in truth if row.mark == "count_in"])
    return SimulatedPerformance(tuple(heard), tuple(truth), 60.0 / slope, start, tuple(told), tuple(route))


def _parts(role: str | Iterable[str]) -> frozenset[str]:
    parts = frozenset(role.split(",") if isinstance(role, str) else role)
    if not parts or parts - set(ROLES):
        raise UseError(f"nobody plays '{','.join(sorted(parts))}'", mend=f"choose among {', '.join(ROLES)}")
    return parts


def _manner(manner: str | PlayerManner) -> PlayerManner:
    if not isinstance(manner, str):
        return manner
    known = manners()
    if manner not in known:
        raise UseError(f"there is no player '{manner}'", mend=f"there are: {', '.join(known)}")
    return known[manner]


def _line(points: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Slope and height at 0 of the straight line through points, by least squares."""
    n = len(points)
    mx, my = sum(x for x, _ in points) / n, sum(y for _, y in points) / n
    slope = sum((x - mx) * (y - my) for x, y in points) / sum((x - mx) ** 2 for x, _ in points)
    return slope, my - slope * mx


def _notes_on_route(
    form: Form, parts: frozenset[str], route: Sequence[Passage], how: PlayerManner, making: Random, slipping: Random
) -> list[PlacedNote]:
    made: dict[tuple[int, float, bool], list[IntendedNote]] = {}
    placed: list[PlacedNote] = []
    begun, length = 0.0, float(form.length)
    for index, passage in enumerate(route):
        key = passage.chorus, passage.start if passage.form else 0.0, passage.form is None
        if key not in made:
            made[key] = _played(form, passage, parts, how, making)
        from_top = passage.start == 0 and not passage.mark
        end = passage.end - _room_for_pickup(form, parts, route[index + 1 : index + 2])
        lowest = float("-inf") if from_top else passage.start
        own = [n for n in made[key] if lowest <= n.beat < (end if n.hand == "right" else passage.end)]
        breaks_off = index + 1 < len(route) and bool(route[index + 1].pause)
        for note in with_slips(own, slipping, how):
            at = begun + note.beat - passage.start
            until = at + note.length
            if breaks_off:
                until = min(until, begun + passage.end - passage.start + 0.3)
            beat, chorus = note.beat, passage.chorus
            if beat < 0 and chorus > 1:  # a pickup lies in the last bar of the chorus before
                beat, chorus = beat + length, chorus - 1
            placed.append(PlacedNote(index, at, until, note, beat, chorus))
        begun += passage.end - passage.start
    return placed


def _room_for_pickup(form: Form, parts: frozenset[str], after: Sequence[Passage]) -> float:
    """Quarters at the end of a passage that belong to the pickup of the melody after it."""
    if not after or after[0].mark or after[0].form is not None:
        return 0.0
    return float(form.pickup) if "melody" in (parts if after[0].parts is None else after[0].parts) else 0.0


def _played(form: Form, passage: Passage, parts: frozenset[str], how: PlayerManner, dice: Random) -> list[IntendedNote]:
    """What is played in a passage, at chart beats; the last beat of a tune is a chord, held."""
    usual, parts = parts, parts if passage.parts is None else passage.parts
    if passage.form is None:
        return _chorus(form, parts, how, dice)
    line = _chorus(passage.form, parts, how, dice) if parts else []
    if passage.rests:
        last = passage.end - passage.start - float(form.metre.pulse)
        line = [n for n in line if n.beat < last - 0.01] + lines.last_chord(passage.form, last, usual, line, dice)
    return [replace(n, beat=n.beat + passage.start) for n in line]


def _last_time_pedal(route: Sequence[Passage], clock: Clock, pulse: float) -> list[Heard]:
    """The soft pedal where the player tells the last time: down before a bar line, up after it."""
    moves, begun = [], 0.0
    for index, passage in enumerate(route):
        if passage.tells is not None:
            at = begun + passage.tells - passage.start
            moves += [
                Heard(clock.seconds(index, at + by * pulse), 0xB0, SOFT, value) for by, value in ((-1.5, 127), (1.3, 0))
            ]
        begun += passage.end - passage.start
    return moves


def _chorus(form: Form, parts: frozenset[str], how: PlayerManner, dice: Random) -> list[IntendedNote]:
    """One chorus of everything that the player plays, in order."""
    line: list[IntendedNote] = []
    if "melody" in parts:
        line = lines.melody_line(form)
        if "chords" in parts:
            line += lines.answers(form, line, dice)
    elif "chords" in parts:
        line = lines.comping_line(form, preferences(PlayerPreferences).comping, dice)
    if "solo" in parts:
        line += lines.solo_line(form, dice, how)
    if "bass" in parts:
        line += lines.walking_line(form, dice)
    return sorted(line, key=lambda n: (n.beat, n.hand == "right", n.midi))
