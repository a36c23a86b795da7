"""A protocol as a picture, and as SCXML for other programs."""
