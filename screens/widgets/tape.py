"""The tape: one cell a second since go. It stands still and moves on by a quarter of a minute, so nothing scrolls."""

from __future__ import annotations

from functools import lru_cache

from screens.widgets.ink import Glyphs, Line, clock, fill

STEP = 15
"""Cells (seconds) by which the tape moves on when it has reached the right edge."""

_LEGEND = (
    ("#", "on"),
    ("·", "off"),
    ("o", "breath"),
    ("S", "shock"),
    ("V", "advice"),
    ("A", "analysis"),
    ("C", "clear"),
    ("T", "touch"),
    ("P", "pad"),
    ("U", "unit on"),
    ("E", "call"),
    ("|", "pause"),
)
"""What is explained, the most asked for first; only what stands on the tape is."""


def first_cell(length: int, width: int) -> int:
    """The second at the left edge: 0, then multiples of :data:`STEP` so that the last cell is always seen."""
    over = length - width
    return 0 if over <= 0 else -(-over // STEP) * STEP


@lru_cache(maxsize=4)
def tape_rows(tape: str, total: int, width: int, marks: Glyphs) -> tuple[Line, Line, Line]:
    """The cells, the minutes under them, and what the marks mean: three lines, each exactly ``width`` cells.

    ``tape`` holds the last of ``total`` seconds.
    """
    skipped = max(0, total - len(tape))
    start = max(first_cell(total, width), skipped)
    shown = tape[start - skipped :][:width]
    cells: Line = []
    for mark in shown:
        text, role = _cell(mark, marks)
        if cells and cells[-1][1] == role:
            cells[-1] = (cells[-1][0] + text, role)
        else:
            cells.append((text, role))
    ticks = [" "] * width
    for second in range(-(-start // 60) * 60, min(start + width, total), 60):
        at = second - start
        label = f"'{clock(second * 1000)}" if second else "'go"
        if at + len(label) <= width:
            ticks[at : at + len(label)] = label
    return (
        fill(cells, width),
        [("".join(ticks), "quiet")],
        fill(_legend(shown, width, marks), width),
    )


def _cell(mark: str, marks: Glyphs) -> tuple[str, str]:
    if mark == "#":
        return marks.on, "slate"
    if mark == "·":
        return marks.off, "sand"
    if mark == "o":
        return "o", "sand"
    return mark, "strong"


def _legend(shown: str, width: int, marks: Glyphs) -> Line:
    line: Line = []
    used = 0
    for mark, word in _LEGEND:
        if mark not in shown:
            continue
        text, role = _cell(mark, marks)
        gap = 3 if line else 0
        size = gap + 2 + len(word)
        if used + size > width:
            break
        line += [(" " * gap, ""), (text, role), (f" {word}", "quiet")]
        used += size
    return line
