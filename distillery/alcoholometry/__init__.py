"""Strength, volume, mass and pure alcohol of spirit, low wines and wash: the arithmetic of gauging.

Pure functions on the standard library. Floating point lives here only; it becomes whole microlitres and grams in
one place (``quantity``). Nothing here reads a clock, a setting or a database, and nothing rounds a stored figure.
"""
