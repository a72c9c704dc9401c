"""Standard MIDI Files as music, before anybody knows their bars."""
