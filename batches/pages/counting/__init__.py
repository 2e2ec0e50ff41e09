"""The pages of stock takes."""
