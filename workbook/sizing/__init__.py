"""The decision: the operating point, its limits, margins and choice."""
