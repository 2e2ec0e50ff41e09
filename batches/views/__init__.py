"""Pages of the process. They decide nothing: what may be written and what it posts, the services know."""
