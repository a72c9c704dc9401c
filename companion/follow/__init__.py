"""Following the player: the belief over places and tempi, what each role makes likely, and the follower."""
