"""What comparing the figures of a period came to, kept until something it was made from moves on.

A kept comparison is a derived thing like a balance, never the truth itself: it may be thrown away at any time and comes
back the same to the last digit.
"""
