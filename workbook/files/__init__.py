"""Reading, checking and writing files."""
