"""Lines of text pieces: the one form in which the drill screen is drawn, before it becomes terminal cells.

A piece is a text and the name of its role ("strong", "quiet", "off"); the style sheet gives each role its colours. A
line is a list of pieces exactly as wide as the screen. Everything here is plain values, so a whole screen can be made
and compared without a terminal, and a line that has not changed is never painted again.
"""

from __future__ import annotations

import locale
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TextIO

from rich.cells import cell_len, set_cell_size

from coach.text import one_line

Piece = tuple[str, str]
Line = list[Piece]


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The characters that a drill screen draws with."""

    full: str
    upper: str
    lower: str
    bead: str
    hollow: str
    bar: str
    rest: str
    on: str
    off: str
    dot: str
    mark: str
    more: str


UNICODE = Glyphs("█", "▀", "▄", "●", "○", "━", "─", "▄", "·", "·", "▸", "…")
ASCII = Glyphs("#", "'", ".", "o", ".", "=", "-", "#", ".", "-", ">", "~")


def glyphs(environ: Mapping[str, str] = os.environ, out: TextIO | None = None) -> Glyphs:
    """Block characters where the terminal is written to in UTF-8, else ASCII; ``KNEESIDE_ASCII=1`` asks for ASCII."""
    if environ.get("KNEESIDE_ASCII", "") not in ("", "0"):
        return ASCII
    stream = sys.__stderr__ if out is None else out
    encoding = getattr(stream, "encoding", None) or locale.getpreferredencoding(False)
    return UNICODE if encoding.lower().replace("-", "").replace("_", "") in ("utf8", "cp65001") else ASCII


_TO_ASCII = str.maketrans(
    {"·": "-", "–": "-", "—": "-", "…": "~", "▸": ">", "’": "'", "‘": "'", "“": '"', "”": '"', "±": "~", "≥": ">"}
)


def plain(text: str, ascii_only: bool = False) -> str:
    """Text that is not ours on one line, without anything that a terminal would obey.

    Views come cleaned already; this is the second fence, and costs nothing where there is nothing to take out.
    """
    if not text.isprintable():
        text = one_line(text)
        if not text.isprintable():
            text = "".join(mark for mark in text if mark.isprintable())
    if ascii_only and not text.isascii():
        text = text.translate(_TO_ASCII).encode("ascii", "replace").decode("ascii")
    return text


def width_of(line: Line) -> int:
    """Cells that a line takes."""
    cells = 0
    for text, _ in line:
        cells += len(text) if text.isascii() else cell_len(text)
    return cells


def cut(line: Line, width: int, more: str = "…") -> Line:
    """At most ``width`` cells of a line; what was cut off is shown by a mark in the last cell."""
    if width_of(line) <= width:
        return line
    if width <= 0:
        return []
    kept: Line = []
    room = width - 1
    for text, role in line:
        size = cell_len(text)
        if size > room:
            if room > 0:
                kept.append((set_cell_size(text, room), role))
            kept.append((more, role))
            break
        kept.append((text, role))
        room -= size
    return kept


def fill(line: Line, width: int, role: str = "", more: str = "…") -> Line:
    """The line made exactly ``width`` cells wide: cut, or padded with blanks of ``role``."""
    line = cut(line, width, more)
    gap = width - width_of(line)
    return [*line, (" " * gap, role)] if gap > 0 else line


def ends(left: Line, right: Line, width: int, role: str = "", more: str = "…") -> Line:
    """One piece of news at each end of a line; the right one stays whole, the left one is cut where they meet."""
    right = cut(right, width, more)
    room = width - width_of(right)
    left = cut(left, max(0, room - 2), more)
    return [*left, (" " * (room - width_of(left)), role), *right]


def wrap(text: str, width: int, most: int, more: str = "…") -> list[str]:
    """Words laid on at most ``most`` lines of ``width`` cells; a cut is marked."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        while cell_len(word) > width > 0:  # a word longer than the line is broken, not lost
            head = set_cell_size(word, width).rstrip() or word[0]
            if line:
                lines.append(line)
                line = ""
            lines.append(head)
            word = word[len(head) :]
        joined = f"{line} {word}" if line else word
        if cell_len(joined) > width:
            lines.append(line)
            line = word
        else:
            line = joined
    if line:
        lines.append(line)
    if len(lines) > most:
        lines = lines[:most]
        if lines:
            lines[-1] = set_cell_size(lines[-1], min(cell_len(lines[-1]), width - len(more))) + more
    return lines


def clock(ms: int) -> str:
    """A span as minutes and whole seconds, rounded down: 2:41."""
    seconds = max(0, ms) // 1000
    return f"{seconds // 60}:{seconds % 60:02}"


def countdown(ms: int) -> str:
    """What is left, in minutes and seconds, rounded up, so that 0:00 is shown only when it is over."""
    return clock(ms + 999)
