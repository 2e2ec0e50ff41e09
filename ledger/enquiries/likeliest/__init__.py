"""What an enquiry opens with: the likeliest cause in one sentence, how well it fits, and which other may be the
same event."""
