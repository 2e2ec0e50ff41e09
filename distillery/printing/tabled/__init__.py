"""Tables on paper: cells, columns, heads on every page, sums carried and brought forward."""
