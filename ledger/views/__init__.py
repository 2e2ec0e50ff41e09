"""Pages of the books: what stands where, each vessel's account, movements, findings, the month."""
