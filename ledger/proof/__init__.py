"""Seals, the proof of the books, digests from paper, and the export an outsider proves."""
