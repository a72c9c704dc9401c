"""The built-in pianist: what they play, their beat, their way through the form, their slips and their fingers."""
