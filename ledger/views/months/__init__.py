"""Pages of months: the account, closing, what crossed a close, losses, stock periods."""
