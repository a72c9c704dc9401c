"""The vocabulary: pitch, chords, scales, metre, swing, what was played.

Pure functions and frozen values; no clock, no files.
"""
