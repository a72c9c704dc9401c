"""The systems' MIDI services by name: light to import, for the words of the command line."""

from typing import Literal

Service = Literal["auto", "alsa", "jack", "core", "windows"]
"""'auto': whichever there is."""
