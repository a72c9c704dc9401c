"""MusicXML lead sheets (.musicxml, .xml, .mxl), read into charts."""
