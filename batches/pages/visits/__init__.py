"""Visit notes on the page: their list, one of them, and the officer's form."""
