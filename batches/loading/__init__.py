"""Tables of rows into the same recording: a month of the log, and the plant it was written in."""
