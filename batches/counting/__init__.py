"""Stock takes: what is planned, the counts that arrive for it, and the posting in two names."""
