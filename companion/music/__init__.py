"""The vocabulary: pitch, chords, scales, meter and swing. Pure functions and frozen values; no time, no files."""
