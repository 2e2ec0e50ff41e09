"""Digests from paper: what they belong to, whether it stands, and slips of the hand."""
