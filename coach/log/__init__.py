"""The append-only record of a drill: written, read, verified, and folded back into what happened."""
