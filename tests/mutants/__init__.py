"""Mutants of protocols: one thing changed in a file that is sound, and what notices it."""
