"""The bass: its line over the whole form, what its notes cost, and the part that comes of it."""
