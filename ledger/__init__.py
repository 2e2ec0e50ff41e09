"""What the alcohol does: accounts in pure alcohol that nobody can quietly change."""
