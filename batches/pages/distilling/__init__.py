"""Pages of distillation periods: their list, one of them with its runs and mashes, the same on paper and as data."""
