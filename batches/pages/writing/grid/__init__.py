"""A sheet on the page as rows of boxes: its layout, what the rows come to, and what stands below them."""
