"""What the pack can give."""
