"""Links between records, and the shares of alcohol that passed along them."""
