"""What a benchmark hands back, and how several programs are timed side by side."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure.

    ``name`` says what was measured; ``value`` is it, in ``unit`` ("x" for a ratio); ``goal`` is the bound and
    ``better`` its direction; without a goal the figure only informs. ``note`` says what stands behind it.
    """

    name: str
    value: float
    unit: str = "x"
    goal: float | None = None
    better: Literal["more", "less"] = "more"
    note: str = ""

    @property
    def met(self) -> bool | None:
        """True where the goal is reached, None where there is none."""
        if self.goal is None:
            return None
        return self.value >= self.goal if self.better == "more" else self.value <= self.goal


Work = Callable[[], int]
"""Something to time: done once when called, it returns how many operations that was."""


def side_by_side(contenders: Mapping[str, Callable[[], Work]], rounds: int) -> dict[str, list[float]]:
    """Operations per second of each contender, one entry a round.

    A contender prepares itself when called (not timed) and hands back the work (timed). In each round all of them
    run, forwards in even rounds and backwards in odd ones, with the garbage collector still while one is timed: so a
    host that gets slower half-way through slows them all, and ratios within a round hold.
    """
    speeds: dict[str, list[float]] = {name: [] for name in contenders}
    for prepare in contenders.values():
        prepare()()
    for number in range(rounds):
        for name in list(contenders) if number % 2 == 0 else list(contenders)[::-1]:
            work = contenders[name]()
            gc.collect()
            gc.disable()
            began = time.perf_counter()
            operations = work()
            took = time.perf_counter() - began
            gc.enable()
            speeds[name].append(operations / took)
    return speeds


def ratio(ours: list[float], theirs: list[float]) -> float:
    """The median of the ratios within each round."""
    return statistics.median(a / b for a, b in zip(ours, theirs, strict=True))
