"""The tape: a drill as one cell a second."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol as Shape

from coach.measure.floor import GAP_MS, ON_MARKS, STANDS

RAREST_FIRST = "STCVAPUE|o#· "
"""Where a second holds several, the leftmost of these wins."""

_CELL = {
    "breath": "o",
    "analysis_begins": "A",
    "shock_advised": "V",
    "no_shock_advised": "V",
    "clear_called": "C",
    "shock_pressed": "S",
    "shock_delivered": "S",
    "touch": "T",
    "pad_right": "P",
    "pad_left": "P",
    "unit_on": "U",
    "call_made": "E",
}
_RANK = {cell: rank for rank, cell in enumerate(RAREST_FIRST)}


class Timed(Shape):
    """What a tape is made of: anything seen, with its moment in ms, its event and how it was judged."""

    @property
    def e(self) -> int: ...
    @property
    def event(self) -> str: ...
    @property
    def outcome(self) -> str: ...


def tape(seen: Iterable[Timed], now_e: int, counting: str, breaks: Iterable[int] = (), last: int | None = None) -> str:
    """The tape from go to ``now_e`` (ms), one cell for each second begun; ``last`` keeps that many last cells.

    ``seen`` is in order; ``breaks`` are the moments at which a pause stood. The meaning of cells stands in
    ``coach.drill.view.TAPE``.
    """
    total = now_e // 1000 + 1
    skip = 0 if last is None else max(0, total - last)
    cells = [" "] * (total - skip)
    beats = counting in ("each", "counter")
    on: int | None = None
    push = 0
    begun = False

    def put(second: int, cell: str) -> None:
        index = second - skip
        if 0 <= index < len(cells) and _RANK[cell] < _RANK[cells[index]]:
            cells[index] = cell

    def fill(start: int, end: int, cell: str) -> None:
        for second in range(max(start // 1000, skip), min(end // 1000, total - 1) + 1):
            put(second, cell)

    moments = sorted(breaks)
    off = passed = 0
    for entry in seen:
        if entry.outcome not in STANDS or entry.e > now_e:
            continue
        name, e = entry.event, entry.e
        if on is not None and beats and e - push >= GAP_MS:
            fill(on, push, "#")
            on, off = None, push
        while passed < len(moments) and moments[passed] <= e:
            if on is not None and not beats:
                fill(on, moments[passed], "#")
                on, off = None, moments[passed]
            passed += 1
        if name in ON_MARKS:
            if on is None:
                if begun:
                    fill(off, e, "·")
                on, begun = e, True
            push = e
        elif name in ("breath", "hands_lifted") and on is not None:
            push = push if beats else e
            fill(on, push, "#")
            on, off = None, push
        if name in _CELL:
            put(e // 1000, _CELL[name])
    if on is not None and beats and now_e - push >= GAP_MS:
        fill(on, push, "#")
        on, off = None, push
    if on is not None:
        fill(on, now_e, "#")
    elif begun:
        fill(off, now_e, "·")
    for moment in moments:
        put(moment // 1000, "|")
    return "".join(cells)
