"""Pages on which the books prove themselves: digests, seals, the trail, the export."""
