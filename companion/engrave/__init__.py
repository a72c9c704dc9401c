"""The arrangement on paper: note values, MusicXML, pages."""
