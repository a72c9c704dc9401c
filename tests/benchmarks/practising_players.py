"""Players who practise as people do, over any chart: what their keyboard sends, where their beats were, what was told.

A *kind* is something that people do when they practise: phrasing the head, looping four bars, coming in a bar late. It
draws its numbers (how often, how far, how fast) from a wide range, so that no two players of a kind are alike. The same
kind, chart and seed give the same performance.

``KINDS`` are those that the follower may be tuned on. ``SET_ASIDE`` are not: they tell how well it follows what nobody
had in mind, and are no longer worth anything once somebody has tuned on them.

Conventions: seconds from the start of the performance; chart beats in quarters from the first downbeat of the form.
Beats are the player's own, as someone would tap them who knew their mind; in a pause there are none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from beat_scores import TrueBeat
from practising_lines import PHRASINGS, PICKED_UP, PLAYED, fumbled
from practising_way import HaltingClock, Leg, Plan, begins_of, timed

from companion.chart.model import Form
from companion.messages import Heard
from companion.music.swing import swing_ratio
from companion.pianist.lines import with_slips
from companion.pianist.touch import PlacedNote, TrueNote, key_movements
from companion.preferences.players import PlayerManner

USUAL_SLIPS = PlayerManner(wrong=0.02, left_out=0.02, ornaments=0.02, octaves=0.03)
TOUCH = PlayerManner(spread_ms=(15, 30), lead_ms=0)
"""How far notes lie beside their beats: standard deviation, drawn from this range."""
TEMPI = (0.8, 1.1)
"""A player's usual tempo over the chart's."""
LONG_ENOUGH = 96.0
"""Quarters from which once through the form is enough."""
AFTER_STOP = 0.3
"""Quarters that a note sounds on when its player breaks off."""


@dataclass(frozen=True)
class Practised:
    """A performance and the truth about it."""

    heard: tuple[Heard, ...]
    """In order of time, every key released."""
    truth: tuple[TrueBeat, ...]
    you: str
    """The parts that the companion was told the player plays."""
    tempo: float
    """Quarters a minute, as counted in."""
    start: float
    """The moment promised by the count-in for the first beat."""
    until: float
    """The end, seconds."""
    notes: tuple[TrueNote, ...]
    """What became of each note, by its chart beat; only of those that are written can more be said."""
    legs: tuple[Leg, ...]


Kind = Callable[[Form, Random], Plan]
"""What a player of this kind sets out to do in a form."""


def perform(form: Form, kind: str, seed: int | str) -> Practised:
    """Let a player of a kind practise a form.

    Parameters
    ----------
    form : Form
        With a melody, and chords where the kind improvises or comps.
    kind : str
        One of :data:`KINDS` or :data:`SET_ASIDE`.
    seed : int or str

    Returns
    -------
    Practised
    """
    dice = {name: Random(f"{seed} {kind} {name}") for name in ("plan", "time", "lines", "slips", "phrasing", "touch")}
    plan = {**KINDS, **SET_ASIDE}[kind](form, dice["plan"])
    usual = max(40.0, min(260.0, form.tempo * dice["plan"].uniform(*TEMPI)))
    placed = _placed(form, plan.legs, dice["lines"], replace(USUAL_SLIPS, **plan.slips), dice["slips"])
    if plan.phrasing:
        placed = PHRASINGS[plan.phrasing](placed, form, dice["phrasing"])
    if plan.fumbles:
        placed, halts = fumbled(placed, plan.fumbles, dice["phrasing"])
        plan = replace(plan, halts=tuple(halts))
    clock, truth, tempo, start = timed(form, plan, usual, dice["time"])
    if form.feel == "swing" and not form.metre.compound:
        clock.swing = max(1.0, swing_ratio(usual) + dice["touch"].gauss(0.0, 0.15))
    heard, notes = key_movements(placed, clock, TOUCH, dice["touch"])
    cats = [key for leg in plan.cats for key in _cat(clock, plan.legs, leg, dice["touch"])]
    heard = sorted([*heard, *cats], key=lambda h: (h.seconds, h.status))
    end = clock.seconds(len(plan.legs) - 1, begins_of(plan.legs)[-1])
    return Practised(tuple(heard), tuple(truth), plan.you, tempo, start, end, tuple(notes), plan.legs)


def _placed(
    form: Form, legs: Sequence[Leg], making: Random, manner: PlayerManner, slipping: Random
) -> list[PlacedNote]:
    """The notes of all legs, at their places on the way."""
    found: list[PlacedNote] = []
    for n, (leg, begun) in enumerate(zip(legs, begins_of(legs), strict=False)):
        after = legs[n + 1] if n + 1 < len(legs) else None
        end = leg.end - (float(form.pickup) if after and not after.pause and _picked_up(after) else 0.0)
        lowest = -float(form.pickup) if _picked_up(leg) else leg.start
        line = sorted(PLAYED[leg.plays](form, making), key=lambda s: (s.beat, s.hand == "right", s.midi))
        own = [s for s in line if lowest - 1e-6 <= s.beat < (end if s.hand == "right" else leg.end) - 1e-6]
        breaks_off = after is not None and after.pause > 0
        for note in with_slips(own, slipping, manner):
            at = begun + note.beat - leg.start
            until = at + note.length
            if breaks_off:
                until = min(until, begun + leg.length + AFTER_STOP)
            found.append(PlacedNote(n, at, until, note, note.beat, leg.chorus))
    return found


def _picked_up(leg: Leg) -> bool:
    return leg.start == 0 and leg.plays in PICKED_UP


def _cat(clock: HaltingClock, legs: Sequence[Leg], leg: int, dice: Random) -> Iterator[Heard]:
    """Paws on the keys in the pause before a leg: neighbouring keys together, here and there."""
    until = clock.seconds(leg, begins_of(legs)[leg]) - 0.8
    at, key = until - legs[leg].pause + 1.6, dice.randint(30, 90)
    while at < until:
        key = max(22, min(104, key + dice.randint(-7, 7)))
        for paw in range(dice.choice((1, 2, 2, 3))):
            yield Heard(at, 0x90, key + paw, dice.randint(20, 100))
            yield Heard(at + 0.09, 0x80, key + paw, 0)
        at += dice.uniform(0.1, 0.45)


# Places to go to


def _bars(form: Form) -> list[float]:
    return [float(bar) for bar in form.bars]


def _choruses(form: Form) -> int:
    return 1 if float(form.length) >= LONG_ENOUGH else 2


def _through(form: Form, plays: str = "melody", choruses: int | None = None) -> tuple[Leg, ...]:
    """The form from beginning to end."""
    times = range(1, (choruses or _choruses(form)) + 1)
    return tuple(Leg(0.0, float(form.length), n, plays=plays) for n in times)


def _breath(form: Form, dice: Random, low: float = 0.8, high: float = 6.0) -> float:
    """Seconds of a stop; long enough for the pickup that follows it."""
    return dice.uniform(low, high) + (1.0 + float(form.pickup)) * 60.0 / form.tempo / TEMPI[0]


def _phrase_start(form: Form, beat: float) -> float:
    """The four bars that a beat lies in begin here."""
    section = form.section_at(beat)
    bars = [b for b in _bars(form) if section.start <= b < section.end][::4]
    return max((b for b in bars if b <= beat), default=0.0)


def _some_beat(form: Form, dice: Random, low: float, high: float) -> float:
    """A beat of the metre between two chart beats."""
    pulse = float(form.metre.pulse)
    return pulse * dice.randint(round(low / pulse), max(round(low / pulse), round(high / pulse)))


# Kinds that may be tuned on


def _phrased(form: Form, dice: Random) -> Plan:
    """The head as jazz players play it, the beat going on under it."""
    slips = {"wrong": dice.uniform(0, 0.03), "ornaments": dice.uniform(0.0, 0.12)}
    return Plan(_through(form), phrasing="displaced", slips=slips)


def _octave(form: Form, dice: Random) -> Plan:
    """An octave lower than written, some phrases doubled."""
    return Plan(_through(form), phrasing="lower", slips={"octaves": dice.uniform(0.0, 0.3)})


def _both_hands(form: Form, dice: Random) -> Plan:
    """Roots and shells of their own under the melody, though the companion was told the melody alone."""
    return Plan(_through(form, "both"))


def _again(form: Form, dice: Random) -> Plan:
    """Stops after some bars, anywhere in a phrase, and begins again from the top, twice to four times."""
    bars = _bars(form)
    legs = []
    for n in range(dice.randint(2, 4)):
        stop = _some_beat(form, dice, bars[min(2, len(bars) - 1)], bars[min(12, len(bars) - 1)])
        legs.append(_restart(form, dice, 0.0, stop, n))
    return Plan((*legs, _restart(form, dice, 0.0, float(form.length), 1)))


def _restart(form: Form, dice: Random, start: float, end: float, n: int) -> Leg:
    return Leg(start, end, 1, "resume", _breath(form, dice)) if n else Leg(start, end)


def _stops(form: Form, dice: Random) -> Plan:
    """Stops in mid-phrase and goes on from the top, the section, the phrase, the bar or where they were."""
    legs, at, length = [], 0.0, float(form.length)
    for n in range(dice.randint(2, 4)):
        stop = _some_beat(form, dice, at + 2 * float(form.metre.bar), min(at + length / 3, length - 8))
        if stop <= at:
            break
        legs.append(_restart(form, dice, at, stop, n))
        bar = max(b for b in _bars(form) if b <= stop)
        section = float(form.section_at(stop).start)
        at = dice.choices((0.0, section, _phrase_start(form, stop), bar, stop), (1, 3, 4, 2, 2))[0]
    return Plan((*legs, _restart(form, dice, at, length, len(legs))))


def _loop(form: Form, dice: Random) -> Plan:
    """One to eight bars again and again, entered on any beat, with or without a breath between; then goes on."""
    bars = _bars(form)
    first = dice.randrange(1, max(2, len(bars) // 2))
    count = min(dice.choice((1, 2, 2, 3, 4, 4, 4, 5, 6, 8)), len(bars) - first - 1)
    pulse = float(form.metre.pulse)
    aside = dice.choice((0, 0, 0, 1, 2)) * pulse if count > 1 else 0.0
    start, end = bars[first] + aside, bars[first + count] + aside
    breath = dice.random() < 0.35
    legs = [Leg(0.0, end)]
    for _ in range(dice.randint(3, 6)):
        pause = dice.uniform(0.4, 3.0) if breath else 0.0
        legs.append(Leg(start, end, 1, "resume" if breath else "jump", pause))
    return Plan((*legs, Leg(end, float(form.length))))


def _reading(form: Form, dice: Random) -> Plan:
    """Sight-reads at some half of the tempo told, with a pause before some of the beats."""
    pulse = float(form.metre.pulse)
    share = dice.uniform(0.04, 0.14)
    count = round(float(form.length) / pulse)
    halts = tuple((k * pulse, dice.uniform(0.3, 2.0)) for k in range(2, count) if dice.random() < share)
    pace = dice.uniform(0.42, 0.65)
    return Plan((Leg(0.0, float(form.length), pace=pace),), told=1.0, halts=halts, slips={"wrong": 0.05})


def _slower(form: Form, dice: Random) -> Plan:
    """Plays at 0.55 to 0.8 of the tempo that was counted in."""
    pace = dice.uniform(0.55, 0.8)
    return Plan(tuple(replace(leg, pace=pace) for leg in _through(form, choruses=1)))


def _tempo_off(form: Form, dice: Random) -> Plan:
    """Was counted in a tenth to three tenths too slow or too fast."""
    off = dice.uniform(0.1, 0.3)
    return Plan(*_any_role(form, dice), told=1 + dice.choice((-1, 1)) * off)


def _improvised(form: Form, dice: Random) -> Plan:
    """Improvises from the first bar, though the companion was told the melody."""
    return Plan(_through(form, "solo"))


def _half_head(form: Form, dice: Random) -> Plan:
    """Plays the head up to a section or so, and improvises over the rest, without a word."""
    turn, length = _some_section(form, dice), float(form.length)
    legs = [Leg(0.0, turn), Leg(turn, length, plays="solo")]
    return Plan((*legs, *(replace(leg, chorus=2) for leg in _through(form, "solo", 1) if _choruses(form) > 1)))


def _some_section(form: Form, dice: Random) -> float:
    """Where a section begins, from a quarter to three quarters through the form, or eight bars there."""
    length, bars = float(form.length), _bars(form)
    starts = {float(s.start) for s in form.sections} | {bars[n] for n in range(0, len(bars), 8)}
    middle = [b for b in sorted(starts) if length / 4 <= b <= 3 * length / 4]
    return dice.choice(middle or [bars[len(bars) // 2]])


def _free_start(form: Form, dice: Random) -> Plan:
    """The first four to sixteen bars freely, and in time from there."""
    beats = dice.choice((4, 8, 8, 12, 16)) * round(float(form.metre.bar) / float(form.metre.pulse))
    return Plan(_through(form), freely=min(beats, round(float(form.length) / float(form.metre.pulse) / 2)))


def _any_role(form: Form, dice: Random) -> tuple[tuple[Leg, ...], str]:
    """The melody mostly, or chords, a solo, a bass: the legs, and the parts told."""
    plays = dice.choices(("melody", "melody,chords", "chords", "solo", "bass"), (4, 1, 2, 1, 1))[0]
    return _through(form, plays), plays


def _entering(beats: float, of: str = "beat") -> Kind:
    """Comes in so many beats, or bars, after the count-in promised; before it, where less than 0."""

    def plan(form: Form, dice: Random) -> Plan:
        unit = float(form.metre.bar) / float(form.metre.pulse) if of == "bar" else 1.0
        legs, you = _any_role(form, dice)
        return Plan(legs, you, entrance=beats * unit + dice.gauss(0.0, 0.03))

    return plan


def _there_and_back(form: Form, dice: Random) -> Plan:
    """The head, a chorus or a half improvised, and the head again, without a word."""
    length = float(form.length)
    if _choruses(form) > 1:
        return Plan((Leg(0.0, length), Leg(0.0, length, 2, plays="solo"), Leg(0.0, length, 3)))
    turn = _some_section(form, dice)
    later = [float(s.start) for s in form.sections if s.start > turn] or [(turn + length) / 2 // 4 * 4]
    back = dice.choice(later)
    return Plan((Leg(0.0, turn), Leg(turn, back, plays="solo"), Leg(back, length)))


KINDS: Mapping[str, Kind] = {
    "phrased": _phrased,
    "improvised": _improvised,
    "half-head": _half_head,
    "there-and-back": _there_and_back,
    "again": _again,
    "stops": _stops,
    "loop": _loop,
    "reading": _reading,
    "slower": _slower,
    "tempo-off": _tempo_off,
    "half-late": _entering(0.5),
    "beat-late": _entering(1),
    "bar-late": _entering(1, "bar"),
    "beat-early": _entering(-1),
    "free-start": _free_start,
    "octave": _octave,
    "both-hands": _both_hands,
}
UNCOUNTED = (
    "phrased", "improvised", "half-head", "again", "loop", "reading", "slower", "free-start", "octave", "both-hands",
)  # fmt: skip
"""Kinds that are played without a count-in, too: the companion is told neither tempo nor start."""


# Kinds set aside


def _back_phrased(form: Form, dice: Random) -> Plan:
    """Lags off any grid, up to a beat and more through a phrase, and catches up."""
    return Plan(_through(form), phrasing="back")


def _fumbling(form: Form, dice: Random) -> Plan:
    """Repeats a note until it is right, and goes on from there."""
    return Plan(_through(form, choruses=1), fumbles=dice.uniform(0.03, 0.12), slips={"wrong": 0.01})


def _skipping(form: Form, dice: Random) -> Plan:
    """Leaves out a bar or two here and there, or takes one twice, without losing the beat."""
    bars, legs, at = _bars(form), [], 0
    while at < len(bars):
        end = at + dice.randint(4, 10)
        step = dice.choice((1, 1, 2, -1))
        if end + max(step, 0) + 2 >= len(bars):
            break
        legs.append(Leg(bars[at], bars[end], 1, "jump" if legs else ""))
        at = end + step
    return Plan((*legs, Leg(bars[at], float(form.length), 1, "jump" if legs else "")))


def _crooked(form: Form, dice: Random) -> Plan:
    """Drops a beat here and there, or waits one too many: bars that are a beat short or long."""
    pulse, legs, at, length = float(form.metre.pulse), [], 0.0, float(form.length)
    while True:
        end = _some_beat(form, dice, at + 10 * pulse, at + 30 * pulse)
        step = dice.choice((1, 1, -1, 2)) * pulse
        if end + step >= length - 8 * pulse:
            break
        legs.append(Leg(at, end, 1, "jump" if legs else ""))
        at = end + step
    return Plan((*legs, Leg(at, length, 1, "jump" if legs else "")))


def _swapping(form: Form, dice: Random) -> Plan:
    """Melody for some bars, chords for some: whatever the companion was told."""
    bars = [*_bars(form), float(form.length)]
    span = dice.choice((2, 4, 4, 8))
    names = ("melody", "chords") if dice.random() < 0.7 else ("chords", "melody")
    turns = range(0, len(bars) - 1, span)
    legs = [Leg(bars[n], bars[min(n + span, len(bars) - 1)], plays=names[n // span % 2]) for n in turns]
    return Plan(tuple(legs), you=names[0])


def _trills(form: Form, dice: Random) -> Plan:
    """Long notes as trills and shakes, graces before the others."""
    return Plan(_through(form), phrasing="trilled", slips={"ornaments": 0.15})


def _cat_visits(form: Form, dice: Random) -> Plan:
    """A cat walks over the keys; the player begins the phrase again."""
    stops = _stops(form, dice)
    legs = tuple(replace(leg, pause=leg.pause + 2.5) if leg.pause else leg for leg in stops.legs)
    return replace(stops, legs=legs, cats=tuple(n for n, leg in enumerate(legs) if leg.pause))


def _sustained(form: Form, dice: Random) -> Plan:
    """Chords struck once and held over the bar lines."""
    return Plan(_through(form, "sustained"), "chords")


def _transposed(form: Form, dice: Random) -> Plan:
    """All in another key than the chart's."""
    return Plan(_through(form), phrasing="transposed")


def _from_the_end(form: Form, dice: Random) -> Plan:
    """Learns it backwards: the last bars, then those before and the last again, and so on to the whole."""
    bars, length = _bars(form), float(form.length)
    starts, at = [], len(bars)
    while at > 0:
        at = max(0, at - dice.choice((4, 4, 8)))
        starts.append(bars[at])
    starts = [*starts[:3], 0.0] if starts[2:] else starts
    return Plan(tuple(_restart(form, dice, start, length, n) for n, start in enumerate(starts)))


def _sagging(form: Form, dice: Random) -> Plan:
    """Gets slower and slower, to seven or six tenths of the tempo."""
    return Plan(_through(form, choruses=1), sagging=dice.uniform(0.25, 0.42))


def _odd_entrance(form: Form, dice: Random) -> Plan:
    """Comes in at any odd moment, up to a bar early and three late, and at another tempo than told."""
    legs, you = _any_role(form, dice)
    beats = float(form.metre.bar) / float(form.metre.pulse)
    return Plan(legs, you, told=dice.uniform(0.8, 1.25), entrance=dice.uniform(-beats, 3 * beats))


SET_ASIDE: Mapping[str, Kind] = {
    "back-phrased": _back_phrased,
    "fumbling": _fumbling,
    "skipping": _skipping,
    "crooked": _crooked,
    "swapping": _swapping,
    "trills": _trills,
    "cat": _cat_visits,
    "sustained": _sustained,
    "transposed": _transposed,
    "from-the-end": _from_the_end,
    "sagging": _sagging,
    "odd-entrance": _odd_entrance,
}
