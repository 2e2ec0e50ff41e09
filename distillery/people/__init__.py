"""Who writes: people, their roles and what each role may do."""
