"""The page of the board, its lists, pictures and print."""
