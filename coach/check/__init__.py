"""The protocol checker: every reachable behaviour of a file, and a proof or a story for each of its rules."""
