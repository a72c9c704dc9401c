"""Interplay: the reactions and the trading applied to the band, note by note, as each is struck.

Notes are left out or moved, sounding notes end early, answers and the companion's own line are added
(:mod:`companion.stage.reactions`, :mod:`companion.stage.trading`).

Conventions: seconds on the rehearsal's clock; ``now`` is the moment of deciding; beats in quarters through the
choruses; ``place`` is where the player is now, in beats; speed in quarters a second.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from companion.arrange.events import Stretch
from companion.chart.model import Form
from companion.messages import Part, WhoseTurn
from companion.stage.band import Band, Cue
from companion.stage.order import OrderOfEvents, parts
from companion.stage.reactions import Reactions
from companion.stage.settings import Settings
from companion.stage.trading import Trading

OWN: tuple[Part, ...] = ("chords", "solo", "melody")
"""Parts whose notes end when they clash with the player; a bass note moves instead."""


class Interplay:
    """What the companion does because of how the player plays.

    Parameters
    ----------
    form : Form
    settings : Settings
    tune : OrderOfEvents
    band : Band
    """

    def __init__(self, form: Form, settings: Settings, tune: OrderOfEvents, band: Band) -> None:
        self.settings, self.tune, self.band = settings, tune, band
        self.pulse = float(form.metre.pulse)
        self.reactions = Reactions(settings, tune.at(tune.begins))
        self.trading = Trading(settings, tune)

    # What the player does

    def key_down(self, now: float, place: float, speed: float, midi: int) -> None:
        """A key went down.

        Parameters
        ----------
        now : float
            The moment of deciding, in seconds.
        place : float
            Where the player is now, in beats through the choruses.
        speed : float
            Quarters a second.
        midi : int
        """
        self.reactions.key_down(now, place, midi)
        self.trading.key_down(now, self.band.written(place, speed * 60), midi)

    def key_up(self, midi: int) -> None:
        """A key came up."""
        self.reactions.key_up(midi)

    def next_moment(self, now: float, speed: float) -> float | None:
        """When there may be something to do of itself, in seconds."""
        moments = self.reactions.next_moment(now, speed), self.trading.next_moment(now)
        return min((moment for moment in moments if moment is not None), default=None)

    # What the companion does

    def enter(self, stretch: Stretch) -> None:
        """A stretch of the tune begins."""
        self.reactions.enter(stretch, improvised=self.band.behind_a_solo)

    def accompany(self, stretch: Stretch, improvised: bool) -> None:
        """Comp as behind a soloist from now on, or around the melody again."""
        if improvised != self.band.behind_a_solo:
            self.band.accompany(improvised=improvised)
            self.enter(stretch)

    def ours(self, beat: float) -> bool:
        """Whether it is the companion's turn to improvise."""
        return self.trading.ours(beat)

    def turn(self, beat: float) -> WhoseTurn | Literal[""]:
        """Whose turn it is, as in :class:`companion.messages.Beat`."""
        turn = self.trading.turn(beat)
        return "" if turn is None else "ours" if turn.ours else "yours"

    def give_way(self, now: float, place: float, speed: float, coming: list[Cue]) -> list[Cue]:
        """End what clashes with the player or speaks over them; the notes that are still to come.

        Parameters
        ----------
        now : float
            The moment of deciding, in seconds.
        place : float
            Where the player is now, in beats through the choruses.
        speed : float
            Quarters a second.
        coming : list of Cue
            Notes that are still to be struck in this beat.
        """
        sounds = now + self.settings.latency
        own = [(part, midi) for part in OWN for midi in self.band.sounding(part)]
        for part, midi in self.reactions.yields(place + self.reactions.ahead, own) if own else ():
            if part == "melody":
                self._let_go(midi, sounds, speed)
            else:
                self.band.silence(part, midi, sounds)
        self.trading.think(now)
        if not self.trading.comes_in(now):
            return coming
        self.reactions.beside(0.0)
        for midi in self.band.sounding("solo"):
            self.band.silence("solo", midi, sounds)
        return [cue for cue in coming if cue.note.part != "solo"]

    def strike(self, cue: Cue, seconds: float, now: float, place: float, speed: float) -> None:
        """Strike a note at a moment, as it is now that the player is heard, or leave it out.

        Parameters
        ----------
        cue : Cue
        seconds : float
            The moment at which it is to sound.
        now : float
            The moment of deciding, in seconds.
        place : float
            Where the player is now, in beats through the choruses.
        speed : float
            Quarters a second.
        """
        if cue.note.part == "solo" and self.settings.trade and self.trading.holds_back(now):
            return
        note = self.reactions.judged(now, cue, place, speed, self.band.sounding(cue.note.part))
        if note is None:
            return
        self.band.strike(replace(cue, note=note), seconds, speed)
        if note.part == "melody" and self.reactions.yields(cue.beat, [("melody", note.midi)]):
            self._let_go(note.midi, seconds, speed)

    def _let_go(self, midi: int, seconds: float, speed: float) -> None:
        """A melody note that clashes from a moment on: the tune is the tune, but needn't be dwelt on."""
        self.band.shorten("melody", midi, seconds + self.reactions.likes.agree.melody / speed)

    def beat(
        self, beat: float, seconds: float, now: float, speed: float, sure: float, cues: Sequence[Cue], answers: bool
    ) -> list[Cue]:
        """As a beat is sounded: its notes, with those that the player calls forth.

        Parameters
        ----------
        beat : float
            Through the choruses.
        seconds : float
            The moment at which it sounds.
        now : float
            The moment of deciding, in seconds.
        speed : float
            Quarters a second.
        sure : float
            Probability of the player's place.
        cues : sequence of Cue
            The notes planned for this beat.
        answers : bool
            Whether chords may answer now.
        """
        self.band.beat_sounded(seconds)
        self.reactions.believe(sure)
        self._redirect_bass(beat, seconds, speed)
        line, zero = self.trading.line(now, beat, speed)
        self.reactions.beside(self.trading.manners.thin if line else 0.0)
        added = self.band.laid(beat, beat + self.pulse, speed * 60, line, zero)
        if answers and not self.ours(beat):
            added += self._answers(beat, now, speed)
        return sorted([*cues, *added])

    def _redirect_bass(self, beat: float, seconds: float, speed: float) -> None:
        """A held bass note that clashes with the player's chord goes elsewhere."""
        for part, midi in self.reactions.yields(beat, [("bass", midi) for midi in self.band.sounding("bass")]):
            rest = (self.band.until(part, midi) - seconds) * speed
            new = self.reactions.moved(beat, midi)
            if rest > self.pulse / 2 and new is not None:
                self.band.silence(part, midi, seconds)
                self.band.sound(part, new, seconds, rest, speed)

    def _answers(self, beat: float, now: float, speed: float) -> list[Cue]:
        """A chord in the player's silence, where it is the companion's to play chords."""
        if not self.reactions.may_answer(now, beat, speed):
            return []
        stretch, tempo = self.tune.at(beat), speed * 60
        if beat < stretch.start or stretch.kind == "ending" or "chords" not in parts(stretch, self.settings):
            return []
        coming = self.band.cues(beat, beat + self.reactions.likes.answer.apart, tempo, ("chords",))
        found = self.reactions.answers(now, beat, coming, self.band.planned("chords", beat))
        return self.band.by_hand(found, tempo)
