"""The units of preferences: types that say what a number counts and between which bounds it makes sense.

Conventions: a bound is where a value stops to be playable or to mean anything, not where it stops to be tasteful.
``description`` is the unit as a fault names it.
"""

import re
from typing import Annotated

from msgspec import Meta

PLACE = re.compile(r"[0-9]{1,3}(/[1-9][0-9]{0,2})?")
"""A place as a whole number or a fraction: "0", "1/2"."""

Share = Annotated[float, Meta(ge=0, le=1, description="a share")]
Factor = Annotated[float, Meta(ge=0, le=10, description="a factor, 1 = unchanged")]
Weight = Annotated[float, Meta(ge=0, le=1000, description="a weight against the others")]
Price = Annotated[float, Meta(ge=-1000, le=1000, description="a price; a liking lies below 0")]
Cost = Annotated[float, Meta(ge=0, le=100, description="a natural logarithm of how rare it is")]

Quarters = Annotated[float, Meta(ge=0, le=64, description="quarters")]
Place = Annotated[float, Meta(ge=-16, le=64, description="quarters from the start of the bar")]
Beats = Annotated[float, Meta(ge=0, le=64, description="beats")]
OfBeat = Annotated[float, Meta(ge=0, le=1, description="a share of a beat")]
Seconds = Annotated[float, Meta(ge=0, le=86400, description="seconds")]
Minutes = Annotated[float, Meta(ge=0, le=600, description="minutes")]
Days = Annotated[float, Meta(ge=0, le=3650, description="days")]
Milliseconds = Annotated[float, Meta(ge=0, le=1000, description="milliseconds")]
Tempo = Annotated[float, Meta(ge=10, le=600, description="quarters a minute")]
SwingRatio = Annotated[float, Meta(ge=0.1, le=10, description="long quaver to short one")]

MidiNumber = Annotated[int, Meta(ge=0, le=127, description="a MIDI number")]
Velocity = Annotated[float, Meta(ge=1, le=127, description="a velocity")]
Controller = Annotated[int, Meta(ge=0, le=127, description="a MIDI controller")]
Channel = Annotated[int, Meta(ge=1, le=16, description="a MIDI channel")]
Program = Annotated[int, Meta(ge=1, le=128, description="a General MIDI program")]
Semitones = Annotated[int, Meta(ge=0, le=48, description="semitones")]
Interval = Annotated[int, Meta(ge=-48, le=48, description="semitones, down below 0")]

Bars = Annotated[int, Meta(ge=0, le=64, description="bars")]
SomeNotes = Annotated[int, Meta(ge=1, le=64, description="notes")]
SomeBars = Annotated[int, Meta(ge=1, le=64, description="bars")]
Count = Annotated[int, Meta(ge=0, le=1000)]
