"""What a record shows, on page and on paper."""
