"""The least app there is: one line. ``python bare_app.py MODULE ...`` imports the modules named, then paints it."""

from __future__ import annotations

import importlib
import os
import sys

os.environ.setdefault("TEXTUAL_FPS", "240")

for name in sys.argv[1:]:
    importlib.import_module(name)

from textual.app import App, ComposeResult  # noqa: E402
from textual.widgets import Static  # noqa: E402


class BareApp(App[None]):
    """One line."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Static("bare and ready")


if __name__ == "__main__":
    BareApp().run()
