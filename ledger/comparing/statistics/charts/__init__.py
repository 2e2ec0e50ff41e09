"""Control charts on whitened values: since when, how long, how much."""
