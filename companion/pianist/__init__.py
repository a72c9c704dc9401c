"""The built-in pianist: what they play, their beat, their route through the form, their slips and their fingers."""
