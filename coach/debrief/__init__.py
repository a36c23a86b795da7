"""The page after a drill, and its forms."""
