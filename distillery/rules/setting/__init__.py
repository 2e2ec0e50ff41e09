"""How a site sets its own figures: a new dated row with its source, never for a closed day, with who and why."""
