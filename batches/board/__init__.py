"""The board: the site over months in a few pictures, each with its table; nothing of it is kept."""
