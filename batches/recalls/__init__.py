"""Lots and other things called back: who said so and why, what they touched, and how that is ended by two people."""
