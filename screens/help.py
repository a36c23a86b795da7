"""Every key and what it does, from the key map of the drill itself. It covers the screen and takes no key away."""

from __future__ import annotations

from screens.keyboard import Caps
from screens.widgets.ink import Glyphs, Line, fill, width_of

COLUMN = 38
"""Cells that one entry needs: a cap and the longest name in the vocabulary."""


def help_rows(caps: Caps, width: int, height: int, marks: Glyphs) -> list[Line]:
    """``height`` lines: a title, then the entries in columns. What finds no place is counted, never dropped unsaid."""
    entries = caps.all()
    columns = max(1, width // COLUMN)
    size = width // columns
    rows = max(1, height - 1)
    shown = entries[: rows * columns]
    title: Line = [("Keys", "strong"), ("  any key goes on to the drill", "quiet")]
    if len(shown) < len(entries):
        title.append((f"  {len(entries) - len(shown)} more in a larger window", "sand"))
    per_column = -(-len(shown) // columns)
    lines: list[Line] = [fill(title, width, more=marks.more)]
    for row in range(rows):
        line: Line = []
        for place in range(columns):
            index = place * per_column + row
            if row < per_column and index < len(shown):
                cap, label = shown[index]
                line += fill([(f" {cap} ", "cap"), (f" {label}", "")], size - 1, more=marks.more)
                line.append((" ", ""))
        lines.append(fill(line, width) if width_of(line) <= width else line)
    return lines
