"""Guards compared by what they mean: as truth tables over classes of everything that they read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Literal

from coach.check.proof.story import fact_text
from coach.check.states.openfacts import classes_of, constants_of
from coach.engine.state import FactValue
from coach.protocol import guards
from coach.protocol.expr import And, Choice, Compare, Expr, InStep, Name, Not, Or, Running, Unknown, tests
from coach.protocol.model import Fact, Protocol
from coach.protocol.names import BUILT_IN_FACTS, HANDS_STEPS, HANDS_TRACK

MOST_CASES = 60_000
"""Cases of a truth table that are looked at; more are "not decided"."""

Variable = tuple[str, str]
"""What a guard reads: its kind (fact, script, counter, mark, timer, track) and its name."""

Value = FactValue
ELSEWHERE = "elsewhere"


@dataclass(frozen=True, slots=True)
class Meaning:
    """Whether two guards mean the same, else a case on which they differ, with the first guard's answer there."""

    kind: Literal["same", "differ", "not decided"]
    case: str = ""
    left: bool = False


class Room:
    """What the guards of one protocol may read."""

    def __init__(self, protocol: Protocol) -> None:
        self.facts: dict[str, Fact] = {**protocol.facts, **BUILT_IN_FACTS}
        self.counters = {name: counter.max for name, counter in protocol.counters.items()}
        self.counters |= {f"thrown:{name}": inject.times for name, inject in protocol.inject.items()}
        self.steps = {name: list(track.step) for name, track in protocol.track.items()}
        self.steps[HANDS_TRACK] = list(HANDS_STEPS)
        self.terms = {name: guards.parse(text) for name, text in protocol.terms.items()}

    def expr(self, text: str) -> Expr | None:
        """The guard with its terms written out; None for no guard."""
        return self.opened(guards.parse(text)) if text else None

    def opened(self, expr: Expr) -> Expr:
        """A guard with its terms written out."""
        match expr:
            case Name(name) if name in self.terms:
                return self.opened(self.terms[name])
            case Not(item):
                return Not(self.opened(item))
            case And(items):
                return And(tuple(self.opened(item) for item in items))
            case Or(items):
                return Or(tuple(self.opened(item) for item in items))
        return expr

    def variable(self, test: Expr) -> Variable:
        """What a single test reads."""
        match test:
            case Name(name):
                return ("fact" if name in self.facts else "mark", name)
            case Compare(name):
                return ("counter" if name in self.counters else "fact", name)
            case Choice(name) if name in self.facts:
                return ("fact", name)
            case Choice(name):
                return ("script", name.removeprefix("this_"))
            case Unknown(fact):
                return ("fact", fact)
            case Running(timer):
                return ("timer", timer)
            case InStep(track, _):
                return ("track", track)
        raise TypeError(f"no single test: {test!r}")


def compare_guards(old: Room, left: str, new: Room, right: str) -> Meaning:
    """Whether a guard of one protocol means what a guard of another does."""
    one, two = old.expr(left), new.expr(right)
    if one == two and (one is None or _alike(old, new, one)):
        return Meaning("same")
    for case in cases(old, one, new, two):
        if case is None:
            return Meaning("not decided")
        first, second = holds(old, one, case), holds(new, two, case)
        if first != second:
            return Meaning("differ", told(old, new, case), first)
    return Meaning("same")


def both_hold(room: Room, left: str, right: str) -> bool | None:
    """Whether two guards of one protocol can hold at once; None where that is not decided."""
    one, two = room.expr(left), room.expr(right)
    for case in cases(room, one, room, two):
        if case is None:
            return None
        if holds(room, one, case) and holds(room, two, case):
            return True
    return False


def _alike(old: Room, new: Room, expr: Expr) -> bool:
    return all(old.variable(test) == new.variable(test) for test in tests(expr))


def cases(old: Room, left: Expr | None, new: Room, right: Expr | None) -> Iterator[dict[Variable, Value] | None]:
    """One case for each combination of classes of all that two guards read; None, and no more, where it is too many."""
    read: dict[Variable, list[tuple[Room, Expr]]] = {}
    for room, expr in ((old, left), (new, right)):
        for test in tests(expr) if expr is not None else ():
            read.setdefault(room.variable(test), []).append((room, test))
    choices = {variable: _values(variable, asked, old, new) for variable, asked in read.items()}
    if prod(len(values) for values in choices.values()) > MOST_CASES:
        yield None
        return
    for values in product(*choices.values()):
        yield dict(zip(choices, values, strict=True))


def _values(variable: Variable, asked: list[tuple[Room, Expr]], old: Room, new: Room) -> list[Value]:
    kind, name = variable
    if kind in ("mark", "timer"):
        return [False, True]
    if kind == "track":
        steps = [test.step for _, test in asked if isinstance(test, InStep)]
        others = {step for room in (old, new) for step in room.steps.get(name, [ELSEWHERE])} - set(steps)
        return [*dict.fromkeys(steps), *([ELSEWHERE] if others else [])]
    exprs = [test for _, test in asked]
    if kind == "counter":
        most = max(room.counters[name] for room, _ in asked)
        borders = {0, *constants_of(exprs).get(name, ())}
        return [value for value in sorted(borders) if value <= most]
    found: dict[Value, None] = {}
    for fact in (room.facts[name] for room in (old, new) if name in room.facts):
        constants = constants_of(exprs).get(name, set())
        found.update(dict.fromkeys(fact.of if kind == "script" else classes_of(fact, constants)))
    return list(found)


def holds(room: Room, expr: Expr | None, case: Mapping[Variable, Value]) -> bool:
    """The guard's answer in a case; no guard always holds."""
    if expr is None:
        return True
    match expr:
        case Not(item):
            return not holds(room, item, case)
        case And(items):
            return all(holds(room, item, case) for item in items)
        case Or(items):
            return any(holds(room, item, case) for item in items)
    value = case[room.variable(expr)]
    match expr:
        case Unknown():
            return value is None
        case InStep(_, step):
            return value == step
        case Compare(_, op, constant):
            return isinstance(value, int) and _COMPARED[op](value, constant)
        case Choice(_, op, words):
            return value is not None and (value in words) is not (op == "!=")
    return value is True


_COMPARED = {
    "<": int.__lt__,
    "<=": int.__le__,
    ">": int.__gt__,
    ">=": int.__ge__,
    "==": int.__eq__,
    "!=": int.__ne__,
}


def told(old: Room, new: Room, case: Mapping[Variable, Value]) -> str:
    """A case in words."""
    said = []
    for (kind, name), value in case.items():
        if kind == "fact":
            fact = old.facts.get(name) or new.facts[name]
            said.append(f"{name} {fact_text(fact.unit, value)}")
        elif kind == "mark":
            said.append(f"{name} {'marked' if value else 'not marked'}")
        elif kind == "timer":
            said.append(f"{name} {'running' if value else 'not running'}")
        elif kind == "track":
            said.append(f"{name} in {value}" if value != ELSEWHERE else f"{name} in another step")
        else:
            said.append(f"{'this ' if kind == 'script' else ''}{name} {value}")
    return ", ".join(said)
