"""After the flight: a log or a charger's slip held against the plan, and the plan corrected by it."""
