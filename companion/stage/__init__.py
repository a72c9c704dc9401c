"""Where the playing happens: rehearsal, replay, live, sender, clock, take."""
