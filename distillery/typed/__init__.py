"""What people type: what a figure means, how a number may be spelt, and what is given back where none is taken."""
