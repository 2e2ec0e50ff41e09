"""Linear algebra of reconciliation, and the distributions its tests lean on."""
