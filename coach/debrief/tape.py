"""The tape on a page: one minute a row, with marks every ten seconds and a legend of what it holds."""

from __future__ import annotations

from coach.debrief.wording import words
from coach.measure.tape import RAREST_FIRST

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


def legend(cells: str, language: str) -> list[str]:
    """What each sign of this tape means, in the order in which the rarer wins a second."""
    return [f"{sign} {words(language, f'tape:{sign}')}" for sign in RAREST_FIRST if sign in cells and sign != " "]
