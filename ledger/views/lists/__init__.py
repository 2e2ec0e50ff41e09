"""The lists of the ledger: a table class for each, beside what it can be filtered by."""
