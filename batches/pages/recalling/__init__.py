"""Pages of what was recalled: what it touched, who said so, how it ended; the list, and paper."""
