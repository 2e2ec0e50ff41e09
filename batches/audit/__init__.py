"""What records prove, export, check, and have to say before a period closes."""
