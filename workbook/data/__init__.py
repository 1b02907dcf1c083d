"""Demo data (invented) and published constants, each with its source."""
