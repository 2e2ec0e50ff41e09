"""Pages of the stores: lots of materials in stock, and one lot with its book."""
