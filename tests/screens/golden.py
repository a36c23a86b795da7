"""Text goldens: what a screen shows, as lines. The one place that leans on a private name of Textual."""

from __future__ import annotations

import os
from pathlib import Path

from textual.app import App
from textual.strip import Strip

GOLDENS = Path(__file__).parent


def strips(app: App[object]) -> list[Strip]:
    """The rows of the screen in front, as they would be written to the terminal."""
    return list(app.screen._compositor.render_strips())


def text(app: App[object]) -> str:
    """The screen in front as text, each line without trailing blanks."""
    return "\n".join(strip.text.rstrip() for strip in strips(app)) + "\n"


def check(app: App[object], name: str) -> None:
    """Compare the screen with the golden ``name`` (a path under tests/screens, without its ending).

    ``KNEESIDE_GOLDENS=write`` writes it anew; the diff is then read by a person.
    """
    path = GOLDENS / f"{name}.txt"
    shown = text(app)
    if os.environ.get("KNEESIDE_GOLDENS") == "write":
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(shown, encoding="utf-8", newline="\n")
    assert path.exists(), f"no golden {path.name}: run with KNEESIDE_GOLDENS=write and read it"
    assert shown == path.read_text(encoding="utf-8")
