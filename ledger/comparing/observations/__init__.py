"""What was measured, read from the ledger."""
