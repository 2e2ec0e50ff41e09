"""How the program stands on its database: connections, fixed questions, turns tried again, guards, whose files."""
