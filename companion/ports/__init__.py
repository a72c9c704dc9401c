"""The outside: MIDI ports, sound, echo and set-up."""
