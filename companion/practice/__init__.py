"""What to work on: judging, alignment, drills, records, repertoire."""
