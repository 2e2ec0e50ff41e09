"""Pages, lists and paper of the plant."""
