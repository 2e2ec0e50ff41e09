"""Pages on which something is written: sheets, readings, questions, signatures."""
