"""The shift, the warehouse, bottling, the site, and finding things."""
