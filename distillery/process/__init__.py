"""Sums of the process from the malt to the still: pure functions, each with its unit, valid range and source."""
