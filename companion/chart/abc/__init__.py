"""ABC notation: its note syntax, read and written, and tunes in it (.abc) read into charts."""
