"""Which fault explains a set of residuals, how surely, and what it cannot be told from."""
