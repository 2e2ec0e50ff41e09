"""Drafts: what stands in the boxes of a form that is not saved yet, kept for the PC it was typed at."""
