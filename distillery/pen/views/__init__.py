"""Pages on which somebody takes the pen, and those on which a manager lets others do so."""
