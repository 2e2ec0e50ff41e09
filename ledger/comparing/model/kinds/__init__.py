"""Figures beside their kind: what is usual of a kind, and how far off one of them lies."""
