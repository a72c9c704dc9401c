"""The chords: where they are struck, how they are voiced, and why."""
