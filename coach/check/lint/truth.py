"""Guards as truth tables: a guard is tried for every class of the facts, marks, counters and steps that it reads.

A value is settled only when some guard asks for it, so that a table has as many rows as there are different answers and
not as many as there are combinations.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from coach.check.states.openfacts import classes_of, constants_of
from coach.protocol import guards
from coach.protocol.guards import And, Choice, Compare, Expr, InStep, Name, Not, Or, Running, Unknown
from coach.protocol.model import Protocol
from coach.protocol.names import BUILT_IN_FACTS, HANDS_STEPS, HANDS_TRACK
from coach.units import quantity_text

Variable = tuple[str, str]
"""What a guard may ask: ("fact", name), ("entry", script), ("mark", name), ("counter", name), ("running", timer),
("in", track)."""

Values = dict[Variable, Any]

MOST_ROWS = 20_000
"""The longest table that is written out; a group of guards with a longer one is left alone."""


class TooMany(Exception):
    """A table longer than :data:`MOST_ROWS`."""


class _Ask(Exception):
    def __init__(self, variable: Variable) -> None:
        self.variable = variable


TESTS = {
    "<": lambda a, b: a < b,
    "<=": lambda a, b: a <= b,
    ">": lambda a, b: a > b,
    ">=": lambda a, b: a >= b,
    "==": lambda a, b: a == b,
    "!=": lambda a, b: a != b,
}


class Truth:
    """The values that the guards of one protocol can meet."""

    def __init__(self, protocol: Protocol, terms: Mapping[str, Expr], exprs: Sequence[Expr]) -> None:
        self.protocol = protocol
        self.terms = terms
        self.facts = {**protocol.facts, **BUILT_IN_FACTS}
        self.constants = constants_of((*exprs, *terms.values()))
        self._domains: dict[Variable, tuple[Any, ...]] = {}

    def domain(self, variable: Variable) -> tuple[Any, ...]:
        """The values to try, one for each class."""
        if variable not in self._domains:
            self._domains[variable] = self._values(*variable)
        return self._domains[variable]

    def _values(self, kind: str, name: str) -> tuple[Any, ...]:
        if kind == "fact":
            return classes_of(self.facts[name], self.constants.get(name, set()))
        if kind == "entry":
            return tuple(self.facts[name].of)
        if kind == "counter":
            most = self.protocol.counters[name].max
            return tuple(sorted({0, *(at for at in self.constants.get(name, set()) if 0 < at <= most)}))
        if kind == "in":
            return HANDS_STEPS if name == HANDS_TRACK else tuple(self.protocol.track[name].step)
        return (False, True)

    # --- one answer -------------------------------------------------------------------------------------------------

    def holds(self, expr: Expr, values: Values) -> bool:
        """Whether a guard holds; raises for the first value that it asks for and that is not settled."""
        match expr:
            case And(items):
                return all(self.holds(item, values) for item in items)
            case Or(items):
                return any(self.holds(item, values) for item in items)
            case Not(item):
                return not self.holds(item, values)
            case Name(name) if name in self.terms:
                return self.holds(self.terms[name], values)
            case Name(name) if name in self.facts:
                return _get(values, ("fact", name)) is True
            case Name(name):
                return bool(_get(values, ("mark", name)))
            case Compare(name, op, constant):
                kind = "counter" if name in self.protocol.counters else "fact"
                value = _get(values, (kind, name))
                return value is not None and bool(TESTS[op](value, constant))
            case Choice(name, op, words):
                known = name in self.facts
                value = _get(values, ("fact", name) if known else ("entry", name.removeprefix("this_")))
                return value is not None and (value in words) is not (op == "!=")
            case Unknown(name):
                return _get(values, ("fact", name)) is None
            case Running(timer):
                return bool(_get(values, ("running", timer)))
            case InStep(track, step):
                return bool(_get(values, ("in", track)) == step)

    # --- tables -----------------------------------------------------------------------------------------------------

    def first(self, exprs: Sequence[Expr | None], values: Values) -> Iterator[tuple[Values, int]]:
        """Every row of the table of arrows tried in order: the values settled, and the place of the first guard that
        holds, -1 for none. No guard (None) always holds. Raises :class:`TooMany`."""

        def answer(row: Values) -> int:
            return next((n for n, expr in enumerate(exprs) if expr is None or self.holds(expr, row)), -1)

        yield from self._rows(answer, values)

    def table(self, exprs: Sequence[Expr], values: Values) -> Iterator[tuple[Values, tuple[bool, ...]]]:
        """Every row of the table of several guards, each answered. Raises :class:`TooMany`."""
        yield from self._rows(lambda row: tuple(self.holds(expr, row) for expr in exprs), values)

    def _rows(self, answer: Any, values: Values) -> Iterator[tuple[Values, Any]]:
        waiting = [values]
        rows = 0
        while waiting:
            row = waiting.pop()
            try:
                found = answer(row)
            except _Ask as ask:
                domain = self.domain(ask.variable)
                waiting.extend({**row, ask.variable: value} for value in reversed(domain))
                continue
            rows += 1
            if rows > MOST_ROWS:
                raise TooMany
            yield row, found

    def can(self, expr: Expr | None, values: Values) -> bool:
        """Whether a guard holds in some row. A table too long to write out counts as yes."""
        if expr is None:
            return True
        try:
            return any(found for _, (found,) in self.table([expr], values))
        except TooMany:
            return True

    def must(self, expr: Expr, values: Values) -> bool:
        """Whether a guard holds in every row. A table too long to write out counts as no."""
        try:
            return all(found for _, (found,) in self.table([expr], values))
        except TooMany:
            return False

    # --- words ------------------------------------------------------------------------------------------------------

    def told(self, values: Values, without: Values | None = None) -> tuple[str, ...]:
        """The values of a row in an author's words, those given beforehand left out."""
        given = without or {}
        return tuple(self._tell(*one, value) for one, value in values.items() if one not in given)

    def _tell(self, kind: str, name: str, value: Any) -> str:
        if kind == "fact":
            if value is None:
                return f"{name} unknown"
            if isinstance(value, bool):
                return f"{name} {'yes' if value else 'no'}"
            return f"{name} {value if isinstance(value, str) else quantity_text(value, self.facts[name].unit)}"
        if kind == "entry":
            return f"this {name} {value}"
        if kind == "mark":
            return f"mark {name} {'set' if value else 'not set'}"
        if kind == "running":
            return f"timer {name} {'running' if value else 'not running'}"
        if kind == "in":
            return f"track {name} in {value}"
        return f"counter {name} {value}"


def _get(values: Values, variable: Variable) -> Any:
    if variable not in values:
        raise _Ask(variable)
    return values[variable]


def read_by(expr: Expr, terms: Mapping[str, Expr]) -> set[guards.Test]:
    """Every single test of a guard, through its terms."""
    found: set[guards.Test] = set()
    waiting, seen = [expr], set[str]()
    while waiting:
        for test in guards.tests(waiting.pop()):
            if isinstance(test, Name) and test.name in terms:
                if test.name not in seen:
                    seen.add(test.name)
                    waiting.append(terms[test.name])
            else:
                found.add(test)
    return found
