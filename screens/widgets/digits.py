"""Our own block characters: five rows high, to be read from where one kneels.

At 4 to 7 mm a row they are 20 to 35 mm high, legible at 3.5 to 6 m by the rule of 20 minutes of arc (5.8 mm a metre).
Corners are rounded by half blocks, so that 0, 6, 8 and 9 do not look alike; twice the size, half blocks become whole
ones and nothing is lost.
"""

from __future__ import annotations

from functools import lru_cache

from screens.widgets.ink import Glyphs

HEIGHT = 5

_SHAPES: dict[str, str] = {
    "0": "▄████▄|██  ██|██  ██|██  ██|▀████▀",
    "1": "▄▄██  |  ██  |  ██  |  ██  |██████",
    "2": "▄████▄|▀▀  ██| ▄▄██▀|██▀   |██████",
    "3": "▄████▄|▀▀  ██|  ███ |▄▄  ██|▀████▀",
    "4": "██  ██|██  ██|██████|    ██|    ██",
    "5": "██████|██    |█████▄|▄▄  ██|▀████▀",
    "6": "▄████▄|██    |█████▄|██  ██|▀████▀",
    "7": "██████|    ██|   ██▀|  ██▀ |  ██  ",
    "8": "▄████▄|██  ██|▄████▄|██  ██|▀████▀",
    "9": "▄████▄|██  ██|▀█████|    ██|▀████▀",
    ":": "  |▄▄|  |▄▄|  ",
    ".": "  |  |  |  |██",
    " ": "   |   |   |   |   ",
    "A": "▄████▄|██  ██|██████|██  ██|██  ██",
    "D": "█████▄|██  ██|██  ██|██  ██|█████▀",
    "E": "██████|██    |█████ |██    |██████",
    "L": "██    |██    |██    |██    |██████",
    "O": "▄████▄|██  ██|██  ██|██  ██|▀████▀",
    "P": "█████▄|██  ██|█████▀|██    |██    ",
    "R": "█████▄|██  ██|█████▀|██ ▀█▄|██  ██",
    "S": "▄█████|██    |▀████▄|    ██|█████▀",
    "T": "██████|  ██  |  ██  |  ██  |  ██  ",
    "U": "██  ██|██  ██|██  ██|██  ██|▀████▀",
    "Y": "██  ██|██  ██|▀████▀|  ██  |  ██  ",
}

_TWICE = {"█": ("██", "██"), "▀": ("██", "  "), "▄": ("  ", "██"), " ": ("  ", "  ")}


def can_show(text: str) -> bool:
    """True where every character has a block shape."""
    return all(mark in _SHAPES for mark in text)


@lru_cache(maxsize=256)
def big(text: str, marks: Glyphs, scale: int = 1) -> tuple[str, ...]:
    """The rows of a text in block characters, 5 at scale 1 and 10 at scale 2. KeyError for one without a shape."""
    shapes = [_SHAPES[mark].split("|") for mark in text]
    rows = [" ".join(_even(shape)[row] for shape in shapes) for row in range(HEIGHT)]
    if scale == 2:
        rows = ["".join(_TWICE[mark][half] for mark in row) for row in rows for half in (0, 1)]
    swap = str.maketrans({"█": marks.full, "▀": marks.upper, "▄": marks.lower})
    return tuple(row.translate(swap) for row in rows)


def big_width(text: str, scale: int = 1) -> int:
    """Cells that :func:`big` takes in a row."""
    return scale * (sum(max(map(len, _SHAPES[mark].split("|"))) for mark in text) + max(0, len(text) - 1))


def _even(shape: list[str]) -> list[str]:
    width = max(map(len, shape))
    return [row.ljust(width) for row in shape]
