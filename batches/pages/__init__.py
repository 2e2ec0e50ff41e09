"""Pages of the log: what the staff write, what a record shows, and the places of the site."""
