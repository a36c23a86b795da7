"""Facts that are left open until a guard reads them, and the finite classes that each falls into.

A number fact is split at every constant that some guard compares it with, so that all values of one class answer every
guard alike; a choice has its words, a flag two values, a script one word an entry. The checker forks on the first read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from coach.engine.machine import Machine
from coach.engine.state import FactValue
from coach.protocol import guards
from coach.protocol.guards import Compare, Expr
from coach.protocol.model import Fact
from coach.units import held

Slot = tuple[int, int]
"""An open question: (index of a fact, entry of a script from 1; 0 for any other fact)."""

Known = tuple[tuple[Slot, FactValue], ...]
"""What has been read so far, sorted by slot; a script's value is the word of that entry."""

NEXT = 1_000_000
"""The entry of a script whose counter only the script reads: the one of the present analysis."""


class Unread(Exception):
    """A guard has read an open fact: the reader has to fork over ``classes``."""

    def __init__(self, slot: Slot, classes: tuple[FactValue, ...]) -> None:
        self.slot = slot
        self.classes = classes


class _Script:
    """A script of which entries are open. Never empty, and as long as its counter can count."""

    __slots__ = ("classes", "index", "known", "length", "moving")

    def __init__(
        self, index: int, length: int, classes: tuple[FactValue, ...], known: dict[int, FactValue], moving: bool
    ) -> None:
        self.index, self.length, self.classes, self.known, self.moving = index, length, classes, known, moving

    def __len__(self) -> int:
        return self.length

    def __getitem__(self, place: int) -> FactValue:
        entry = NEXT if self.moving else place + 1
        if entry in self.known:
            return self.known[entry]
        raise Unread((self.index, entry), self.classes)


class OpenFacts(dict[int, Any]):
    """Facts by index as guards read them; an open one raises :class:`Unread`."""

    def __init__(self, frame: Frame, known: Known) -> None:
        super().__init__()
        self._classes = frame.classes
        scripts: dict[int, dict[int, FactValue]] = {index: {} for index in frame.scripts}
        for (index, entry), value in known:
            if entry:
                scripts[index][entry] = value
            else:
                self[index] = value
        for index, (length, moving) in frame.scripts.items():
            self[index] = _Script(index, length, frame.classes[index], scripts[index], moving)

    def __missing__(self, index: int) -> FactValue:
        raise Unread((index, 0), self._classes[index])


class Frame:
    """The classes of every fact of a machine.

    ``fixed`` gives facts that are settled beforehand; ``moving`` are scripts whose counter nothing else reads: of them
    only the entry of the present analysis is kept.
    """

    def __init__(
        self,
        machine: Machine,
        fixed: Mapping[str, FactValue],
        moving: Iterable[str] = (),
        exprs: Iterable[Expr] = (),
    ) -> None:
        self.classes: dict[int, tuple[FactValue, ...]] = {}
        self.scripts: dict[int, tuple[int, bool]] = {}
        constants = constants_of((*machine.guards.values(), *machine.layout.terms.values(), *exprs))
        layout = machine.layout
        for name, (index, fact) in layout.facts.items():
            if name in fixed and fact.kind != "script":
                self.classes[index] = (fixed[name],)
            else:
                self.classes[index] = classes_of(fact, constants.get(name, set()))
            if fact.kind == "script":
                length = machine.counter_most[layout.counters[fact.counter]] if fact.counter else 1
                self.scripts[index] = (max(length, 1), name in moving)
        self._made: dict[Known, OpenFacts] = {}

    def facts(self, known: Known) -> OpenFacts:
        """The facts as known so far."""
        made = self._made.get(known)
        if made is None:
            made = self._made[known] = OpenFacts(self, known)
        return made


def learn(known: Known, slot: Slot, value: FactValue) -> Known:
    """What is known after one more reading."""
    return tuple(sorted((*known, (slot, value)), key=lambda one: one[0]))


def forget(known: Known, index: int) -> Known:
    """What is known after the script with that index has moved on by one entry."""
    slot = (index, NEXT)
    for place, one in enumerate(known):
        if one[0] == slot:
            return known[:place] + known[place + 1 :]
    return known


def constants_of(exprs: Iterable[Expr]) -> dict[str, set[int]]:
    """The constants at which the answers of some guards change, in held parts, by name of the fact."""
    found: dict[str, set[int]] = {}
    for expr in exprs:
        for test in guards.tests(expr):
            if isinstance(test, Compare):
                found.setdefault(test.name, set()).update((test.value, test.value + 1))
    return found


def classes_of(fact: Fact, constants: Iterable[int]) -> tuple[FactValue, ...]:
    """One value for each class of a fact, in a fixed order; None (unknown) last where the fact may be unknown."""
    values: list[FactValue]
    if fact.kind == "flag":
        values = [False, True]
    elif fact.kind in ("choice", "script"):
        values = list(fact.of)
    else:
        low, high = held(fact.from_ or 0, fact.unit), held(fact.to or 0, fact.unit)
        borders = sorted({low, *(at for at in constants if low < at <= high)})
        step = held(1, fact.unit)
        values = []
        for at, following in zip(borders, [*borders[1:], high + 1], strict=True):
            whole = -(-at // step) * step  # a round number reads better as a witness
            values.append(whole if whole < following else at)
    return (*values, None) if fact.may_be_unknown else tuple(values)


def moving_scripts(machine: Machine, exprs: Iterable[Expr] = ()) -> frozenset[str]:
    """The scripts whose counter is only ever added to and read by nothing but the script itself."""
    layout = machine.layout
    compared = {
        test.name
        for expr in (*machine.guards.values(), *layout.terms.values(), *exprs)
        for test in guards.tests(expr)
        if isinstance(test, Compare)
    }
    put = {
        machine.counters[count.counter]
        for row in machine.table.values()
        for _, by_step in row
        for moves in by_step
        for move in moves
        for count in move.counts
        if count.put
    }
    return frozenset(
        name
        for name, (_, fact) in layout.facts.items()
        if fact.kind == "script" and fact.counter and fact.counter not in compared | put
    )
