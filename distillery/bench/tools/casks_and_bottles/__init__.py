"""The sums of casks and bottles: weights, years, packers' rules, losses of a line, duty."""
