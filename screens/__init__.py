"""Everything that is seen: the Textual app, one module a screen, and what stands between the keyboard and a drill."""

import os

# Textual reads this once, when it is first imported. At its default a clock on screen keeps a quarter of all keys
# waiting for the next frame (up to 33 ms); at 240 none, at the same load.
os.environ.setdefault("TEXTUAL_FPS", "240")
