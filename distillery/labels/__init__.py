"""Labels of casks, lots and cases: what their codes say, how a scan is read, how they are drawn."""
