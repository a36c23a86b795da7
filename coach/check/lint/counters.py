"""Lint of counters: a comparison with a number that the counter never has where it is compared."""

from __future__ import annotations

from collections import defaultdict

from coach.check.lint.sheet import Listening, Sheet
from coach.check.lint.truth import TESTS, Truth, Values, read_by
from coach.protocol import guards
from coach.protocol.guards import Compare, Expr
from coach.protocol.model import Arrow

REACHED = {"==", ">=", ">"}
"""Comparisons that ask whether a count has come so far."""


def lint_counters(sheet: Sheet, truth: Truth) -> None:
    """Report arrows that ask for a count that no run has in any step in which they are tried."""
    stands: dict[tuple[str, str], dict[str, set[int]]] = {}
    written = {name for placed in sheet.arrows for name in (*placed.arrow.set, *placed.arrow.add)}
    for placed in sheet.arrows:
        expr = sheet.guards.get(id(placed.arrow))
        for test in guards.tests(expr) if expr is not None else ():
            if not isinstance(test, Compare) or test.name not in written or test.op not in REACHED:
                continue
            about = (test.name, placed.track)
            if about not in stands:
                stands[about] = _Walk(sheet, truth, *about).stands()
            where = stands[about]
            steps = [
                step
                for (track, step), tried in sheet.tried.items()
                if track == placed.track and any(one.arrow is placed.arrow for one in tried)
            ]
            values = {value for step in steps for value in where[step]}
            if values and not any(TESTS[test.op](value, test.value) for value in values):
                has = f"{min(values)}" if len(values) == 1 else f"{min(values)} to {max(values)}"
                what = f"`{test.name}` never comes to {test.value} where this arrow is tried: it is {has} there"
                help_ = "compare it with what it comes to, or see what leads away before"
                sheet.add("count-never", (*placed.path, "when"), what, help_, (), "value", test.value_at)


class _Walk:
    """Every pair of a track's step and a counter's value that can come about, and some more: of everything else that a
    guard asks any answer is taken for possible."""

    def __init__(self, sheet: Sheet, truth: Truth, counter: str, track: str) -> None:
        self.sheet, self.truth, self.counter, self.track = sheet, truth, counter, track
        self.most = sheet.protocol.counters[counter].max
        self.writers: dict[str, dict[int, Listening]] = defaultdict(dict)
        for (other, _), tried in sheet.tried.items():
            for one in tried:
                if other != track and self._writes(one.arrow):
                    for event in one.events:
                        self.writers[event][id(one.arrow)] = one
        self._known: dict[tuple[int, str, int], tuple[bool, bool]] = {}

    def stands(self) -> dict[str, set[int]]:
        """By step: the values that the counter can have while the track stands in it."""
        table = self.sheet.protocol.track[self.track]
        found: dict[str, set[int]] = {step: set() for step in table.step}
        waiting = [(table.start, 0)]
        while waiting:
            step, value = waiting.pop()
            if value not in found[step]:
                found[step].add(value)
                waiting += self._next(step, value)
        return found

    def _next(self, step: str, value: int) -> list[tuple[str, int]]:
        tried = self.sheet.tried[self.track, step]
        out: list[tuple[str, int]] = []
        for event in {event for one in tried for event in one.events} | self.writers.keys():
            ways: list[tuple[str, int]] = []
            for one in tried:
                if event not in one.events:
                    continue
                can, must = self._holds(one.expr, step, value)
                if can:
                    ways.append((one.arrow.to or step, self._after(one.arrow, value)))
                if must:
                    break
            else:
                ways.append((step, value))
            out += ways
            for other in self.writers.get(event, {}).values():  # no two tracks write one counter on one event
                if self._holds(other.expr, step, value)[0]:
                    out += [(to, self._after(other.arrow, value)) for to, _ in ways]
        return out

    def _holds(self, expr: Expr | None, step: str, value: int) -> tuple[bool, bool]:
        """Whether a guard can hold here, and whether it must."""
        if expr is None:
            return True, True
        asked = any(isinstance(test, Compare) and test.name == self.counter for test in read_by(expr, self.sheet.terms))
        key = (id(expr), step, value if asked else -1)
        if key not in self._known:
            values: Values = {("in", self.track): step, ("counter", self.counter): value}
            self._known[key] = self.truth.can(expr, values), self.truth.must(expr, values)
        return self._known[key]

    def _writes(self, arrow: Arrow) -> bool:
        return self.counter in arrow.set or self.counter in arrow.add

    def _after(self, arrow: Arrow, value: int) -> int:
        value = arrow.set.get(self.counter, value) + arrow.add.get(self.counter, 0)
        return min(value, self.most)
