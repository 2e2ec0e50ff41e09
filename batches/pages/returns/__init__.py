"""Pages of the return figures of a month or quarter, of the duty account, and of the movements behind each figure."""
