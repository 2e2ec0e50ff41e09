"""How the server fares: what is asked of it from outside, its log, pages that were slow and a clock that was set."""
