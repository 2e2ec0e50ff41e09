"""What the staff do: one room for each step of the process, each record linked to the next."""
