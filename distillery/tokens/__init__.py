"""Tokens by which other programs of the site read the books: made, used and ended, each a row that is never changed."""
