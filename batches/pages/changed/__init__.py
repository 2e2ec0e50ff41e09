"""All that was written and changed of one thing on one page, and every entry of a month that was put right."""
