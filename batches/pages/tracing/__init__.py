"""Where something came from and where it went: the page of a trace, its lists, its drawing, its paper."""
