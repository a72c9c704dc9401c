"""Setting up: a dialogue at the piano that finds out how the instrument is reached, and keeps it."""
