"""Pages on which a site sets itself up: its dated figures, its people, what is due, the first month."""
