"""The page on the music stand: where am I, what comes next, which notes; and between takes, what to play."""
