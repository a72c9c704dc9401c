"""Touch: how a person's hand strikes what is written: when against the beat, how firmly, and for how long."""
