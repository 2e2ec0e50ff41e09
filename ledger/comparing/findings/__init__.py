"""A finding, its causes, and whether it is accepted, gauged again or enquired into."""
