"""All reading of the books: balances, accounts, the month, casks as they mature."""
