"""Curves and drawings on paper."""
