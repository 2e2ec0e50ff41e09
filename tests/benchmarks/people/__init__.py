"""Twenty people at browsers, for the benchmark of that name: their plant, what they look at and write."""
