"""Materials in a step's declaration: what it receives, issues and counts by lot, and what a filled sheet says of it."""
