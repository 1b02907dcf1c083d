"""After the flight: a log or a charger's slip held against the plan, the plan corrected by it; the pack's book."""
