"""Pages of casks: one cask with all that is known of it, what lies in a warehouse, and their papers."""
