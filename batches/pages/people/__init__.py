"""Pages on which people are made, given roles, ended and brought back, and change their own password."""
