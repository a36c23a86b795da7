"""How far two assessors of one drill agree: shares with Wilson's interval, kappa with its error, times matched.

Kappa alone misleads where nearly everything was done, so that the prevalence-adjusted figure and the table itself stand
beside it; under twenty cases no figure is called anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import mean, median, stdev

from coach.measure.floor import ON_MARKS, Floor

FEW = 20
"""Under this many cases kappa is unstable: no word is put to it."""
MATCH_MS = 5_000
"""Farther apart than this, two marks of one name are not of one thing. A tool's choice: two observers of one video
differed by 12 s (1 SD) on the time to the first shock, and by far less on things seen at once."""
Z = 1.959963984540054
"""The normal quantile of a 95 % interval."""


def wilson(hits: int, of: int) -> tuple[float, float] | None:
    """Wilson's 95 % interval of a share; ``None`` of nothing."""
    if of == 0:
        return None
    share = hits / of
    middle = share + Z * Z / (2 * of)
    half = Z * sqrt(share * (1 - share) / of + Z * Z / (4 * of * of))
    scale = 1 + Z * Z / of
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


@dataclass(frozen=True, slots=True)
class Table:
    """Two assessors on things seen or not: ``both``, only the ``first``, only the ``second``, ``neither``."""

    both: int
    first: int
    second: int
    neither: int

    @property
    def cases(self) -> int:
        return self.both + self.first + self.second + self.neither

    @property
    def agreed(self) -> int:
        return self.both + self.neither


@dataclass(frozen=True, slots=True)
class Kappa:
    """Cohen's kappa with its large-sample standard error, and the prevalence- and bias-adjusted one. ``kappa`` and
    ``error`` are ``None`` where chance alone would agree always."""

    kappa: float | None
    error: float | None
    adjusted: float
    unstable: bool


def kappa_of(table: Table) -> Kappa | None:
    """Kappa of a table (standard error after Fleiss, Cohen and Everitt 1969); ``None`` of nothing."""
    cases = table.cases
    if cases == 0:
        return None
    share = [[table.both / cases, table.first / cases], [table.second / cases, table.neither / cases]]
    rows = [sum(row) for row in share]
    columns = [share[0][i] + share[1][i] for i in (0, 1)]
    observed = share[0][0] + share[1][1]
    chance = rows[0] * columns[0] + rows[1] * columns[1]
    adjusted = 2 * observed - 1
    if 1 - chance < 1e-12:
        return Kappa(None, None, adjusted, cases < FEW)
    kappa = (observed - chance) / (1 - chance)
    on = sum(share[i][i] * (1 - (rows[i] + columns[i]) * (1 - kappa)) ** 2 for i in (0, 1))
    off = (1 - kappa) ** 2 * sum(share[i][1 - i] * (columns[i] + rows[1 - i]) ** 2 for i in (0, 1))
    variance = (on + off - (kappa - chance * (1 - kappa)) ** 2) / (cases * (1 - chance) ** 2)
    return Kappa(kappa, sqrt(max(0.0, variance)), adjusted, cases < FEW)


@dataclass(frozen=True, slots=True)
class Pair:
    """One thing that both marked: its name and the lines and moments (ms) of either."""

    name: str
    first: int
    second: int
    first_at: int
    second_at: int

    @property
    def apart(self) -> int:
        """How much later the second marked it, ms."""
        return self.second_at - self.first_at


@dataclass(frozen=True, slots=True)
class Times:
    """How marks of two assessors lie to each other, ms: ``offset`` (median difference: one go was later), the median
    difference apart from that, and the limits of agreement (mean ± 1.96 SD), ``None`` for one pair."""

    offset: float
    apart: float
    low: float | None
    high: float | None
    pairs: tuple[Pair, ...]
    only_first: tuple[str, ...]
    only_second: tuple[str, ...]


def matched(first: Floor, second: Floor) -> Times | None:
    """The marks of two floors matched by name and time, pushing left out (it is counted, not matched one by one);
    ``None`` where they share nothing."""
    ours, theirs = _by_name(first), _by_name(second)
    once = [
        theirs[name][0][0] - moments[0][0]
        for name, moments in ours.items()
        if len(moments) == 1 and len(theirs.get(name, ())) == 1
    ]
    offset = median(once) if once else 0.0
    pairs: list[Pair] = []
    alone: tuple[list[str], list[str]] = ([], [])
    for name in dict.fromkeys((*ours, *theirs)):
        found = _nearest(ours.get(name, []), theirs.get(name, []), offset)
        pairs += [Pair(name, a[1], b[1], a[0], b[0]) for a, b in found]
        alone[0].extend([name] * (len(ours.get(name, [])) - len(found)))
        alone[1].extend([name] * (len(theirs.get(name, [])) - len(found)))
    if not pairs:
        return None
    pairs.sort(key=lambda pair: pair.first_at)
    apart = [pair.apart for pair in pairs]
    offset = median(apart)
    limits = (mean(apart), Z * stdev(apart)) if len(apart) > 1 else None
    return Times(
        offset,
        median(abs(one - offset) for one in apart),
        None if limits is None else limits[0] - limits[1],
        None if limits is None else limits[0] + limits[1],
        tuple(pairs),
        tuple(alone[0]),
        tuple(alone[1]),
    )


_Mark = tuple[int, int]


def _by_name(floor: Floor) -> dict[str, list[_Mark]]:
    marks: dict[str, list[_Mark]] = {}
    for event in floor.events:
        if event.name not in ON_MARKS:
            marks.setdefault(event.name, []).append((event.e, event.seq))
    return marks


def _nearest(ours: Sequence[_Mark], theirs: Sequence[_Mark], offset: float) -> list[tuple[_Mark, _Mark]]:
    """The most pairs in order no farther apart than the limit, and of these the least apart in all."""
    best: list[list[tuple[int, float]]] = [[(0, 0.0)] * (len(theirs) + 1) for _ in range(len(ours) + 1)]
    for i in range(len(ours) - 1, -1, -1):
        for j in range(len(theirs) - 1, -1, -1):
            options = [best[i + 1][j], best[i][j + 1]]
            apart = abs(theirs[j][0] - offset - ours[i][0])
            if apart <= MATCH_MS:
                more, cost = best[i + 1][j + 1]
                options.append((more + 1, cost - apart))
            best[i][j] = max(options)
    found, i, j = [], 0, 0
    while i < len(ours) and j < len(theirs):
        apart = abs(theirs[j][0] - offset - ours[i][0])
        more, cost = best[i + 1][j + 1]
        if apart <= MATCH_MS and best[i][j] == (more + 1, cost - apart):
            found.append((ours[i], theirs[j]))
            i, j = i + 1, j + 1
        elif best[i][j] == best[i + 1][j]:
            i += 1
        else:
            j += 1
    return found


SEEN = frozenset({"independent", "prompted", "cued", "out of order"})
NOT_SEEN = frozenset({"omitted", "not observed"})


def table_of(first: Mapping[str, str], second: Mapping[str, str]) -> Table:
    """The table of steps by their statuses; what either does not judge (not reached, not applicable) is left out."""
    both = [
        (first[ident] in SEEN, second[ident] in SEEN)
        for ident in first
        if ident in second and {first[ident], second[ident]} <= SEEN | NOT_SEEN
    ]
    return Table(*(both.count(pair) for pair in ((True, True), (True, False), (False, True), (False, False))))
