"""From readings to a gauge: the chain of its steps, what each reading adds, and readings near nothing."""
