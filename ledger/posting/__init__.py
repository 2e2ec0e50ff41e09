"""From readings to sealed movements: the only writer of the books."""
