"""The stores: lots of materials, and the book of each in whole grams or whole pieces."""
