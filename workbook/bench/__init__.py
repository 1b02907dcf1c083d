"""How to make the pack."""
