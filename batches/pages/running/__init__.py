"""Pages of what is on: the page a run is worked from, and the lines of running records on This shift."""
