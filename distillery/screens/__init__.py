"""How this PC's screen shows pages: by day or night, and how large in each area. Kept in cookies, not per person."""
