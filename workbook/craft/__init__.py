"""What flight asks for."""
