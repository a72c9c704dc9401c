"""Rehearsing: the rehearsal and its beat clock, order of events, reactions, replay, live playing, sender, takes."""
