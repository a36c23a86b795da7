"""``python -m coach`` is the command ``kneeside``."""

from __future__ import annotations

import sys

from coach.commands import main

if __name__ == "__main__":
    sys.exit(main())
