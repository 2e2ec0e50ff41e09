"""What the records say of casks besides their alcohol: where each lies, whose it is, what was seen of it, its life."""
