"""Lists: one declared table class for each, which says how every column is shown, exported and printed."""
