"""Where the player is: the belief (the filter), what each role makes likely, and the follower that asks both."""
