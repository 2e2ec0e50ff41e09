"""Labels of casks, lots and cases: asked for by number, printed as PDF."""
