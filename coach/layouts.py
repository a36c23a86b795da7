"""Where keys lie on three common keyboards, so that a slip of one finger can be reckoned with.

A key is a box: the row it stands in and the stretch it covers, in widths of a letter key from the left edge of the
board. Two keys are neighbours when they touch: next to each other in a row, or overlapping across two rows. The
positions are those of the full-size boards that everybody has (common practice, no source).
"""

from __future__ import annotations

from functools import lru_cache

LAYOUTS = ("QWERTY", "QWERTZ", "AZERTY")

_LETTERS = {
    "QWERTY": ("qwertyuiop", "asdfghjkl", "zxcvbnm"),
    "QWERTZ": ("qwertzuiop", "asdfghjkl", "yxcvbnm"),
    "AZERTY": ("azertyuiop", "qsdfghjklm", "wxcvbn"),
}
_AFTER_BOTTOM = {
    "QWERTY": ("comma", "full_stop", "slash"),
    "QWERTZ": ("comma", "full_stop", "minus"),
    "AZERTY": ("comma", "semicolon", "colon"),
}
_SHIFTED = {
    "QWERTY": {"question_mark": "slash"},
    "QWERTZ": {"equals_sign": "0"},
    "AZERTY": {"question_mark": "comma", "full_stop": "semicolon"},
}
"""Names that a board reaches with Shift on a key listed under another name."""

Box = tuple[int, float, float]


@lru_cache(maxsize=len(LAYOUTS))
def _boxes(layout: str) -> dict[str, tuple[Box, ...]]:
    """Key name -> the boxes it covers (Enter may stand over two rows)."""
    top, home, bottom = _LETTERS[layout]
    boxes: dict[str, tuple[Box, ...]] = {}

    def lay(row: int, start: float, names: tuple[str, ...]) -> None:
        for place, name in enumerate(names):
            boxes[name] = ((row, start + place, start + place + 1),)

    lay(0, 1.0, tuple("1234567890"))
    if layout == "QWERTY":
        lay(0, 11.0, ("minus", "equals_sign"))
        boxes["apostrophe"] = ((2, 11.75, 12.75),)
        boxes["semicolon"] = ((2, 10.75, 11.75),)
    elif layout == "AZERTY":
        boxes["equals_sign"] = ((0, 12.0, 13.0),)
    lay(1, 1.5, tuple(top))
    lay(2, 1.75, tuple(home))
    lay(3, 2.25, (*tuple(bottom), *_AFTER_BOTTOM[layout]))
    boxes["escape"] = ((-1, 0.0, 1.0),)
    boxes["tab"] = ((1, 0.0, 1.5),)
    boxes["backspace"] = ((0, 13.0, 15.0),)
    boxes["enter"] = ((1, 13.5, 15.0), (2, 12.75, 15.0))
    boxes["space"] = ((4, 3.75, 10.0),)
    for name, under in _SHIFTED[layout].items():
        boxes[name] = boxes[under]
    return boxes


def _touch(one: Box, other: Box) -> bool:
    if one[0] == other[0]:
        return abs(one[1] - other[2]) < 0.01 or abs(other[1] - one[2]) < 0.01
    return abs(one[0] - other[0]) == 1 and min(one[2], other[2]) - max(one[1], other[1]) > 0.01


def neighbours(layout: str, key: str) -> tuple[str, ...]:
    """The keys that touch ``key`` on a board, by name; none for a key that the board does not have (a foot switch)."""
    boxes = _boxes(layout)
    own = boxes.get(key, ())
    return tuple(
        name
        for name, others in boxes.items()
        if name != key and any(_touch(one, other) for one in own for other in others)
    )


def boards_where_neighbours(one: str, other: str) -> tuple[str, ...]:
    """Names of the boards on which two keys touch or are the same key cap."""
    return tuple(
        layout
        for layout in LAYOUTS
        if other in neighbours(layout, one)
        or (one in _boxes(layout) and _boxes(layout)[one] == _boxes(layout).get(other))
    )
