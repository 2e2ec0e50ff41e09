"""Copies that the site's server takes by itself: when, where, which are kept, how old, and whether one comes back."""
