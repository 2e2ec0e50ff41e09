"""What an officer notes at a visit: written by the officer alone, and changed by nobody."""
