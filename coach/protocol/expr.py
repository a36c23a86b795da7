"""The tree of a guard: frozen values that compare by meaning and render back to text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, TypeAlias

from coach.units import GRAMS_PER, MONTH_PARTS_PER

UNITS = {
    "": Fraction(1),
    "kg": GRAMS_PER["kg"],
    "month": MONTH_PARTS_PER["month"],
    "months": MONTH_PARTS_PER["month"],
    "year": MONTH_PARTS_PER["year"],
    "years": MONTH_PARTS_PER["year"],
}
"""Held parts (grams, thousandths of a month) in each unit that a guard's constant may carry."""

Op = Literal["<", "<=", ">", ">=", "==", "!="]


class GuardProblem(ValueError):
    """What is wrong with a guard: where in its text (characters from 0), what, the nearest legal word, what to do."""

    def __init__(self, offset: int, what: str, nearest: str | None = None, todo: str = "") -> None:
        super().__init__(what)
        self.offset = offset
        self.what = what
        self.nearest = nearest
        self.todo = todo


def _place() -> int:
    return field(default=0, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Name:
    """A flag, a mark or a term, by its bare name. ``at``, here and below, is its place in the guard's text."""

    name: str
    at: int = _place()


@dataclass(frozen=True, slots=True)
class Compare:
    """A number fact or a counter against a constant. ``value`` is in held parts; ``unit`` is as it was written."""

    name: str
    op: Op
    value: int
    unit: str = ""
    at: int = _place()
    value_at: int = _place()


@dataclass(frozen=True, slots=True)
class Choice:
    """A choice fact (or ``this_`` script) against words: ``==`` and ``!=`` have one word, ``in`` one or more."""

    name: str
    op: Literal["==", "!=", "in"]
    words: tuple[str, ...]
    at: int = _place()
    words_at: tuple[int, ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Unknown:
    """True while the fact is unknown."""

    fact: str
    at: int = _place()


@dataclass(frozen=True, slots=True)
class Running:
    """True while the timer runs."""

    timer: str
    at: int = _place()


@dataclass(frozen=True, slots=True)
class InStep:
    """True while the track stands in the step."""

    track: str
    step: str
    at: int = _place()
    step_at: int = _place()


@dataclass(frozen=True, slots=True)
class Not:
    """The item turned round."""

    item: Expr


@dataclass(frozen=True, slots=True)
class And:
    """All items, asked from the left until one is false."""

    items: tuple[Expr, ...]


@dataclass(frozen=True, slots=True)
class Or:
    """Any item, asked from the left until one is true."""

    items: tuple[Expr, ...]


Test: TypeAlias = Name | Compare | Choice | Unknown | Running | InStep
Expr: TypeAlias = Test | Not | And | Or


def render(expr: Expr) -> str:
    """The guard as text, such that ``parse(render(expr)) == expr``."""
    match expr:
        case Name(name):
            return name
        case Compare(name, op, value, unit):
            return f"{name} {op} {_constant(value, unit)}"
        case Choice(name, "in", words):
            return f"{name} in ({', '.join(words)})"
        case Choice(name, op, words):
            return f"{name} {op} {words[0]}"
        case Unknown(fact):
            return f"unknown({fact})"
        case Running(timer):
            return f"running({timer})"
        case InStep(track, step):
            return f"in_step({track}, {step})"
        case Not(item):
            return f"not {_bracketed(item, (And, Or))}"
        case And(items):
            return " and ".join(_bracketed(item, (And, Or)) for item in items)
        case Or(items):
            return " or ".join(_bracketed(item, (Or,)) for item in items)


def _bracketed(expr: Expr, kinds: tuple[type, ...]) -> str:
    return f"({render(expr)})" if isinstance(expr, kinds) else render(expr)


def _constant(value: int, unit: str) -> str:
    number = Fraction(value) / UNITS[unit]
    digits = f"{float(number):.6f}".rstrip("0").rstrip(".") if number.denominator != 1 else str(number.numerator)
    return f"{digits} {unit}" if unit else digits


def tests(expr: Expr) -> Iterator[Test]:
    """Every single test of a guard, from the left; terms are not looked into."""
    match expr:
        case Not(item):
            yield from tests(item)
        case And(items) | Or(items):
            for item in items:
                yield from tests(item)
        case _:
            yield expr


def names(expr: Expr) -> frozenset[str]:
    """The facts (``this_`` scripts as written), counters, marks and terms that a guard names."""
    found: set[str] = set()
    for test in tests(expr):
        match test:
            case Name(name) | Compare(name) | Choice(name) | Unknown(name):
                found.add(name)
            case _:
                pass
    return frozenset(found)
