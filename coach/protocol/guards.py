"""Guards: the conditions of a protocol file, compiled to closures. Nothing of a file is ever evaluated as code.

``parse`` and the tree stand in :mod:`coach.protocol.guard_text` and :mod:`coach.protocol.expr`; this is the one name
that other rooms import them by.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from coach.protocol.expr import (
    And,
    Choice,
    Compare,
    Expr,
    GuardProblem,
    InStep,
    Name,
    Not,
    Op,
    Or,
    Running,
    Test,
    Unknown,
    names,
    render,
    tests,
)
from coach.protocol.guard_text import MAX_DEPTH, MAX_LENGTH, parse
from coach.protocol.model import Fact

__all__ = [
    "MAX_DEPTH",
    "MAX_LENGTH",
    "And",
    "Choice",
    "Compare",
    "Expr",
    "Guard",
    "GuardProblem",
    "InStep",
    "Layout",
    "Name",
    "Not",
    "Or",
    "Running",
    "Test",
    "Unknown",
    "compile_guard",
    "facts_read",
    "names",
    "parse",
    "render",
    "tests",
]

Guard: TypeAlias = Callable[[Any, Any], bool]
"""A compiled guard, called with a state and its facts.

It reads ``state.steps``, ``state.counters``, ``state.marks``, ``state.timers`` and ``facts[i]``, each only when the
answer hangs on it: a facts object may therefore raise on the first read of a fact that is still open.
"""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where a machine keeps what guards read.

    ``facts`` name -> (index, the fact); ``counters``, ``timers``, ``tracks`` name -> index; ``marks`` name -> number of
    the bit (0, 1, 2 ...); ``steps`` (track, step) -> the step's index in its track; ``terms`` name -> tree.
    """

    facts: Mapping[str, tuple[int, Fact]] = field(default_factory=dict)
    counters: Mapping[str, int] = field(default_factory=dict)
    marks: Mapping[str, int] = field(default_factory=dict)
    timers: Mapping[str, int] = field(default_factory=dict)
    tracks: Mapping[str, int] = field(default_factory=dict)
    steps: Mapping[tuple[str, str], int] = field(default_factory=dict)
    terms: Mapping[str, Expr] = field(default_factory=dict)


# One closure for each operator: calling operator.lt from a shared closure costs a third more on the engine's hot path.
_COUNTER: dict[Op, Callable[[int, int], Guard]] = {
    "<": lambda i, value: lambda state, _: state.counters[i] < value,
    "<=": lambda i, value: lambda state, _: state.counters[i] <= value,
    ">": lambda i, value: lambda state, _: state.counters[i] > value,
    ">=": lambda i, value: lambda state, _: state.counters[i] >= value,
    "==": lambda i, value: lambda state, _: state.counters[i] == value,
    "!=": lambda i, value: lambda state, _: state.counters[i] != value,
}
_FACT: dict[Op, Callable[[int, int], Guard]] = {
    "<": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known < value,
    "<=": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known <= value,
    ">": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known > value,
    ">=": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known >= value,
    "==": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known == value,
    "!=": lambda i, value: lambda _, facts: (known := facts[i]) is not None and known != value,
}


def compile_guard(expr: Expr, layout: Layout) -> Guard:
    """The guard as a function of (state, facts). Raises GuardProblem for a name that the layout lacks."""
    return _compile(expr, layout, ())


def may_hold(expr: Expr, layout: Layout, facts: Any) -> bool:
    """Whether a guard holds for these facts; true too where it needs more than facts (a mark, a step), so that they
    cannot tell."""
    try:
        return bool(compile_guard(expr, Layout(facts=layout.facts, terms=layout.terms))(None, facts))
    except (GuardProblem, KeyError, AttributeError):
        return True


def _compile(expr: Expr, layout: Layout, inside: tuple[str, ...]) -> Guard:
    match expr:
        case Name(name, at):
            return _name(name, at, layout, inside)
        case Compare(name, op, value, _, at):
            return _comparison(name, op, value, at, layout)
        case Choice(name, op, words, at):
            return _choice(name, op == "!=", frozenset(words), at, layout)
        case Unknown(fact, at):
            index = _look_up(layout.facts, fact, at, "fact")[0]
            return lambda _, facts: facts[index] is None
        case Running(timer, at):
            return _running(_look_up(layout.timers, timer, at, "timer"))
        case InStep(track, step, at):
            track_index = _look_up(layout.tracks, track, at, "track")
            step_index = _look_up(layout.steps, (track, step), at, "step")
            return lambda state, _: state.steps[track_index] == step_index
        case Not(item):
            guard = _compile(item, layout, inside)
            return lambda state, facts: not guard(state, facts)
        case And(items):
            return _every([_compile(item, layout, inside) for item in items])
        case Or(items):
            return _some([_compile(item, layout, inside) for item in items])


def _look_up(table: Mapping[Any, Any], key: Any, at: int, what: str) -> Any:
    if key not in table:
        shown = ", ".join(key) if isinstance(key, tuple) else key
        raise GuardProblem(at, f"unknown {what} `{shown}`")
    return table[key]


def _name(name: str, at: int, layout: Layout, inside: tuple[str, ...]) -> Guard:
    if name in layout.terms:
        if name in inside:
            raise GuardProblem(at, f"the term `{name}` leads back to itself")
        return _compile(layout.terms[name], layout, (*inside, name))
    if name in layout.facts:
        index = layout.facts[name][0]
        return lambda _, facts: facts[index] is True
    bit = 1 << _look_up(layout.marks, name, at, "flag, mark or term")
    return lambda state, _: state.marks & bit != 0


def _comparison(name: str, op: Op, value: int, at: int, layout: Layout) -> Guard:
    if name in layout.counters:
        return _COUNTER[op](layout.counters[name], value)
    return _FACT[op](_look_up(layout.facts, name, at, "fact or counter")[0], value)


def _choice(name: str, turned: bool, words: frozenset[str], at: int, layout: Layout) -> Guard:
    if name.startswith("this_") and name not in layout.facts:
        return _script(name, turned, words, at, layout)
    index = _look_up(layout.facts, name, at, "choice")[0]

    def fact_among(_: Any, facts: Any) -> bool:
        known = facts[index]
        return known is not None and (known in words) is not turned

    return fact_among


def _script(name: str, turned: bool, words: frozenset[str], at: int, layout: Layout) -> Guard:
    index, fact = _look_up(layout.facts, name.removeprefix("this_"), at, "script")
    counter = _look_up(layout.counters, fact.counter, at, "counter of a script")

    def entry_among(state: Any, facts: Any) -> bool:
        script = facts[index]
        if not script:
            return False
        # entry 1 is in force until the counter passes 1, and the last one for ever after the end
        entry = script[min(max(state.counters[counter], 1), len(script)) - 1]
        return (entry in words) is not turned

    return entry_among


def _running(index: int) -> Guard:
    def running(state: Any, _: Any) -> bool:
        for pending in state.timers:  # noqa: SIM110 - any() over a generator takes four times as long
            if pending[1] == index:
                return True
        return False

    return running


def _every(guards: list[Guard]) -> Guard:
    first, *rest = guards
    if not rest:
        return first
    second = _every(rest)
    return lambda state, facts: first(state, facts) and second(state, facts)


def _some(guards: list[Guard]) -> Guard:
    first, *rest = guards
    if not rest:
        return first
    second = _some(rest)
    return lambda state, facts: first(state, facts) or second(state, facts)


def facts_read(expr: Expr, facts: Container[str], terms: Mapping[str, Expr] | None = None) -> frozenset[str]:
    """The facts that a guard may read, through its terms too; ``this_NAME`` reads the script fact NAME."""
    found: set[str] = set()
    waiting, seen = [expr], set[str]()
    while waiting:
        for name in names(waiting.pop()):
            script = name.removeprefix("this_")
            if terms and name in terms and name not in seen:
                seen.add(name)
                waiting.append(terms[name])
            elif name in facts:
                found.add(name)
            elif script in facts:
                found.add(script)
    return frozenset(found)
