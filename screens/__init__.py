"""Everything that is seen: the Textual app, one module a screen, and what stands between the keyboard and a drill."""
