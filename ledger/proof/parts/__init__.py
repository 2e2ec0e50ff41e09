"""The parts of the proof of the books: the chain stretch by stretch, sums, running balances, and how they are run."""
