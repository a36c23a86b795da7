"""Two programs to press keys in: ``python -m tests.bench.key_apps bare`` and ``... drill FOLDER``.

Both show a clock that runs and a number that rises by one with each Space. ``bare`` is a plain Textual app with a 10 Hz
clock; ``drill`` is the drill screen on a real drill whose log goes into FOLDER.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path


def bare() -> None:
    """Run the plain app."""
    from textual.app import App, ComposeResult
    from textual.widgets import Static

    class Bare(App[None]):
        ENABLE_COMMAND_PALETTE = False
        pressed = 0

        def compose(self) -> ComposeResult:
            yield Static("0.0", id="clock")
            yield Static("n=0.", id="number")

        def on_mount(self) -> None:
            start = time.monotonic()
            clock = self.query_one("#clock", Static)
            self.set_interval(0.1, lambda: clock.update(f"{time.monotonic() - start:.1f}"))

        def key_space(self) -> None:
            self.pressed += 1
            self.query_one("#number", Static).update(f"n={self.pressed}.")

    Bare().run()


def drill(folder: Path) -> None:
    """Run the drill screen; every push is tapped, and the drill has begun."""
    from textual import events
    from textual.app import App

    from coach.clock import SystemClock
    from coach.drill.choosing import setup_for
    from coach.drill.opening import open_drill
    from screens.drill import DrillScreen
    from screens.input_bytes import driver_class
    from screens.keyboard import route
    from screens.theme import VARIABLE_DEFAULTS, install

    clock = SystemClock()
    live = open_drill(setup_for("erc-2025/adult-one-rescuer"), clock=clock, folder=folder)
    live.go(clock.mono_ms())

    class OneDrill(App[None]):
        ENABLE_COMMAND_PALETTE = False

        def __init__(self) -> None:
            super().__init__(driver_class=driver_class())
            install(self)

        def get_theme_variable_defaults(self) -> dict[str, str]:
            return VARIABLE_DEFAULTS

        def on_mount(self) -> None:
            self.push_screen(DrillScreen(live))

        async def on_event(self, event: events.Event) -> None:
            if not route(self, event):
                await super().on_event(event)

    OneDrill().run()


if __name__ == "__main__":
    if sys.argv[1] == "bare":
        bare()
    else:
        drill(Path(sys.argv[2]))
