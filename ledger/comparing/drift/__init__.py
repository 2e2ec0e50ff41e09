"""What leans one way for many runs."""
