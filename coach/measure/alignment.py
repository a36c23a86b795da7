"""The cheapest way to read what was seen as a path through an automaton: exact, by dynamic programming.

A model has states and moves. A move with a label is seen or, at its own cost, left out; one without a label is free.
What is seen and fits no move is extra, at a cost. Of readings that cost the same the one is taken that from the left
prefers done, then omitted, then extra, and within each the move that stands first in the model.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

SCALE = 1 << 20
"""Costs are counted in this many parts, so that a free move can bear one part and no circle of free moves is run
through."""


class Move(NamedTuple):
    """From state ``src`` to ``dst`` by ``label`` ("" for a free one). ``skip`` is what leaving it out costs; ``None``
    where it cannot be. ``step`` names the step that it does, "" for none."""

    src: int
    dst: int
    label: str = ""
    skip: int | None = 1
    step: str = ""


class Read(NamedTuple):
    """One piece of a reading: a move done or omitted, or something extra. ``at`` is the place in what was seen."""

    kind: Literal["done", "omitted", "extra"]
    move: Move | None
    at: int | None


class Aligned(NamedTuple):
    """A cheapest reading with its cost; free moves are not told."""

    cost: int
    reads: tuple[Read, ...]


@dataclass(frozen=True)
class Model:
    """An automaton. ``finals`` are the states that a reading may end in; empty: any."""

    states: int
    moves: tuple[Move, ...]
    start: int = 0
    finals: frozenset[int] = frozenset()
    _by_label: dict[str, list[tuple[int, int]]] = field(init=False, repr=False, compare=False)
    _skips: list[tuple[int, int, int]] = field(init=False, repr=False, compare=False)
    _from: list[list[Move]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_label: dict[str, list[tuple[int, int]]] = {}
        cheapest: dict[tuple[int, int], int] = {}
        leaving: list[list[Move]] = [[] for _ in range(self.states)]
        for move in self.moves:
            leaving[move.src].append(move)
            if move.label:
                by_label.setdefault(move.label, []).append((move.src, move.dst))
            cost = self.skipping(move)
            if cost is not None and move.src != move.dst:
                known = cheapest.get((move.src, move.dst))
                cheapest[move.src, move.dst] = cost if known is None else min(cost, known)
        # Later states first: most models lead onwards, so that one pass over these settles a column.
        skips = sorted(((src, dst, cost) for (src, dst), cost in cheapest.items()), key=lambda one: -one[0])
        object.__setattr__(self, "_by_label", by_label)
        object.__setattr__(self, "_skips", skips)
        object.__setattr__(self, "_from", leaving)

    @staticmethod
    def skipping(move: Move) -> int | None:
        """What it costs in parts to take a move unseen; a move that costs nothing bears one part."""
        return 1 if not move.label else None if move.skip is None else max(1, move.skip * SCALE)

    def align(self, seen: Sequence[str], extra: Sequence[int] | int = 1) -> Aligned:
        """The cheapest reading of ``seen``; ``extra`` is what each costs beyond the model, or all of them."""
        costs = [extra] * len(seen) if isinstance(extra, int) else extra
        columns = self._columns(seen, costs)
        reads: list[Read] = []
        state = self.start
        total = first = columns[0][state]
        index = 0
        while index < len(seen) or total:
            move = self._next(columns, state, index, seen, total)
            if move is None:
                reads.append(Read("extra", None, index))
                index += 1
            elif (
                move.label and index < len(seen) and move.label == seen[index] and columns[index + 1][move.dst] == total
            ):
                reads.append(Read("done", move, index))
                state, index = move.dst, index + 1
            else:
                if move.label and move.skip:
                    reads.append(Read("omitted", move, None))
                state = move.dst
            total = columns[index][state]
        return Aligned(first // SCALE, tuple(reads))

    def _columns(self, seen: Sequence[str], costs: Sequence[int]) -> list[list[int]]:
        """For each place in what was seen and each state what reading the rest costs from there, in parts."""
        most = SCALE * (sum(costs) + sum(move.skip or 0 for move in self.moves) + self.states + 1)
        last = [0 if not self.finals or state in self.finals else most for state in range(self.states)]
        columns = [self._settled(last)]
        for label, cost in zip(reversed(seen), reversed(costs), strict=True):
            after = columns[-1]
            more = cost * SCALE
            now = [rest + more for rest in after]
            for src, dst in self._by_label.get(label, ()):
                if after[dst] < now[src]:
                    now[src] = after[dst]
            columns.append(self._settled(now))
        columns.reverse()
        return columns

    def _settled(self, column: list[int]) -> list[int]:
        changed = True
        while changed:
            changed = False
            for src, dst, cost in self._skips:
                rest = column[dst] + cost
                if rest < column[src]:
                    column[src] = rest
                    changed = True
        return column

    def _next(self, columns: list[list[int]], state: int, index: int, seen: Sequence[str], total: int) -> Move | None:
        """The move that a cheapest reading takes from here: one that is seen, else one unseen; ``None`` for extra."""
        if index < len(seen):
            label, after = seen[index], columns[index + 1]
            for move in self._from[state]:
                if move.label == label and after[move.dst] == total:
                    return move
        here = columns[index]
        for move in self._from[state]:
            cost = self.skipping(move)
            if cost is not None and move.src != move.dst and here[move.dst] + cost == total:
                return move
        return None


def sequence(steps: Sequence[Sequence[str]], skips: Sequence[int] | int = 1) -> Model:
    """A model of steps one after the other; each is done by any of its labels."""
    costs = [skips] * len(steps) if isinstance(skips, int) else skips
    moves = [
        Move(place, place + 1, label, cost, str(place))
        for place, (labels, cost) in enumerate(zip(steps, costs, strict=True))
        for label in labels
    ]
    return Model(len(steps) + 1, tuple(moves), 0, frozenset({len(steps)}))
