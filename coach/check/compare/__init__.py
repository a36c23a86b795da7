"""Two versions of a protocol: what differs in words, and whether any run does."""
