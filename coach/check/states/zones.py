"""Zones: sets of clock values as difference bounds, exact for whole milliseconds.

A zone over n clocks is a flat tuple of (n + 1)² integers; entry (i, j) bounds clock i less clock j from above, clock 0
is nought. All clocks are times left; the last one may be the time since the last push, held as a negative number, so
that all of them fall alike. Every zone here is canonical (no bound can be tightened) and not empty, so that equal sets
are equal tuples; all bounds are integers, so that a zone holds a whole-number point if it holds any.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

Zone = tuple[int, ...]

INF = 1 << 60
"""No bound."""

POINT: Zone = (0,)
"""The zone over no clock at all."""


def elapse(zone: Zone, size: int, timers: int, least: int = 1) -> Zone | None:
    """What can be while time passes and no timer is due: all of the first ``timers`` clocks at ``least`` ms or more.

    ``size`` is the number of clocks and one. None where some timer is due at once.
    """
    if timers == 0 and size == 1:
        return zone
    out = list(zone)
    for j in range(1, size):
        best = INF
        for place in range(size + j, (timers + 1) * size, size):
            if zone[place] < best:
                best = zone[place]
        out[j] = best - least if best < INF else INF
    for a in range(1, size):
        row = a * size
        upper = out[row]
        if upper + out[a] < 0:
            return None
        for b in range(1, size):
            bound = upper + out[b]
            if bound < out[row + b] and a != b:
                out[row + b] = bound
    return tuple(out)


def fire(zone: Zone, size: int, timers: int, clock: int) -> Zone | None:
    """What can be at the moment at which ``clock`` (from 1) runs out before all others, itself taken away.

    Of two that run out in the same millisecond the one with the lower number is first. None where that cannot be.
    """
    row = list(zone[clock * size : (clock + 1) * size])
    own = row[:]
    for j in range(1, timers + 1):
        if j == clock:
            continue
        bound = 0 if j > clock else -1
        if bound >= own[j]:
            continue
        for k in range(size):
            through = bound + zone[j * size + k]
            if through < row[k]:
                row[k] = through
    if row[clock] < 0:
        return None
    out: list[int] = []
    kept = [clock, *(a for a in range(1, size) if a != clock)]
    for a in kept:
        column = zone[a * size + clock]
        if a == clock:
            out.extend(row[b] if b != clock else 0 for b in kept)
            continue
        if column + row[a] < 0:
            return None
        for b in kept:
            direct = zone[a * size + b]
            through = column + row[b]
            out.append(direct if direct <= through else through)
    return tuple(out)


def rebuild(zone: Zone, size: int, sources: tuple[tuple[int, int], ...]) -> Zone:
    """A zone over new clocks, each an old one (0 for nought) plus an offset."""
    if not sources:
        return POINT
    all_sources = ((0, 0), *sources)
    return tuple([zone[a * size + b] + more - less for a, more in all_sources for b, less in all_sources])


def tighten(zone: Zone, size: int, a: int, b: int, bound: int) -> Zone | None:
    """The part in which clock ``a`` less clock ``b`` is at most ``bound``; None where there is none."""
    if bound >= zone[a * size + b]:
        return zone
    if zone[b * size + a] + bound < 0:
        return None
    out = list(zone)
    for i in range(size):
        head = zone[i * size + a] + bound
        for j in range(size):
            through = head + zone[b * size + j]
            if through < out[i * size + j]:
                out[i * size + j] = through
    return tuple(out)


def inside(inner: Zone, outer: Zone) -> bool:
    """True where every point of ``inner`` is one of ``outer``; both over the same clocks."""
    return all(map(int.__le__, inner, outer))


def linked(zone: Zone, size: int, clocks: Sequence[int]) -> tuple[tuple[int, int, int], ...]:
    """The pairs of some clocks that lie the same number of ms apart in all of a zone, as (a, b, ms): no key's chance
    decides which of the two is due first. ``size`` is the number of clocks and one."""
    found = []
    for a, b in combinations(clocks, 2):
        apart = zone[a * size + b]
        if apart == -zone[b * size + a]:
            found.append((a, b, apart))
    return tuple(found)
