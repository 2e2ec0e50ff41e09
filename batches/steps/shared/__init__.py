"""What several steps need: stock, wash, malt, the books, figures compared with their kind."""
