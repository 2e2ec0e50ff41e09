"""The language a step is declared in, and the reading of what was typed into it."""
