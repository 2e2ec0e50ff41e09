"""What stands on the site: vessels and casks, their calibration, and the instruments they are read with."""
