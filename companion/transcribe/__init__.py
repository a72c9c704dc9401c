"""What was played becomes notation: beats, quantising, rhythms, lengths, spelling, barring.

It serves whoever captures a tune at the keyboard, and MIDI files, which are performances as often as sheets.
"""
