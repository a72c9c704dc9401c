"""The melody as a part, and what an ending turns it into."""
