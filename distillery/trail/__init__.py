"""The trail: each row of the site's own data as it was written, changed or removed, kept by triggers."""
