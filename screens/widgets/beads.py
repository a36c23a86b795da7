"""A run as beads: how far through thirty or fifteen, seen without reading a number."""

from __future__ import annotations

from screens.widgets.ink import Glyphs, Line

ROWS = 3


def beads(done: int, of: int, marks: Glyphs, roles: tuple[str, str], gap: int = 1) -> list[Line]:
    """Three rows: ten each for 30, five for 15, as even as can be for any other number. ``roles``: filled, hollow.

    Past the last bead all are filled; the number beside them says by how many.
    """
    per_row = -(-of // ROWS)
    rows: list[Line] = []
    for row in range(ROWS):
        first = row * per_row
        count = max(0, min(per_row, of - first))
        filled = max(0, min(count, done - first))
        space = " " * gap
        full = space.join([marks.bead] * filled)
        hollow = space.join([marks.hollow] * (count - filled))
        between = space if full and hollow else ""
        rows.append([(full + between, roles[0]), (hollow, roles[1])])
    return rows


def beads_width(of: int, gap: int = 1) -> int:
    """Cells that a row of beads takes."""
    per_row = -(-of // ROWS)
    return per_row + (per_row - 1) * gap
