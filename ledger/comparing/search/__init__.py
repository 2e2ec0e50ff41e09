"""Which reading or loss explains what is left over."""
