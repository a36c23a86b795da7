"""The protocol language: files that anyone can read, sign and change, read with every error at once."""
