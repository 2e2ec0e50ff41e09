"""Pages of findings and enquiries."""
