"""Standard MIDI Files as music: notes, beats, tempo and texts, without bars."""
