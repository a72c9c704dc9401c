"""Charts: the model and its unfolding, keys, checks, and a folder for each format."""
