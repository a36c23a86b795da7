"""The tape on a page: one minute a row, with marks every ten seconds and a legend of what it holds."""

from __future__ import annotations

from coach.measure.tape import RAREST_FIRST

WORDS = {
    "#": "hands on",
    "·": "hands off",
    "o": "breath",
    "A": "analysis",
    "V": "verdict",
    "C": "clear called",
    "S": "shock",
    "T": "touch",
    "P": "pad",
    "U": "unit on",
    "E": "call",
    "|": "pause",
}
"""What a cell means, in words."""

ROW = 60
"""Cells in a row: one minute."""


def rows(cells: str) -> list[str]:
    """The tape in rows of a minute, a ruler of ten-second marks above them; nothing for an empty tape."""
    if not cells:
        return []
    ruler = " " * 6 + "".join(f"{second:<10}" for second in range(0, ROW, 10)).rstrip()
    lines = [ruler]
    for start in range(0, len(cells), ROW):
        lines.append(f"{start // ROW:>3}:00 {cells[start : start + ROW]}".rstrip())
    return lines


def legend(cells: str) -> list[str]:
    """What each sign of this tape means, in the order in which the rarer wins a second."""
    return [f"{sign} {WORDS[sign]}" for sign in RAREST_FIRST if sign in cells and sign in WORDS]
