"""Comparing what was measured with what the records say should be there, and judging the gap."""
