"""Which injects a plan's facts rule out: their digits do nothing all drill long, and their times pass by."""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping
from typing import Any

from coach.engine.plan import Plan
from coach.protocol.expr import And, Choice, Compare, Expr, Name, Not, Or, Unknown
from coach.protocol.guards import parse
from coach.protocol.model import Protocol

_OPS: dict[str, Callable[[Any, Any], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
}


def never_thrown(protocol: Protocol, plan: Plan) -> dict[int, str]:
    """The injects by digit that cannot be thrown with these facts, whatever is keyed and whenever."""
    terms = {name: parse(guard) for name, guard in protocol.terms.items()}
    return {
        digit: name
        for digit, name in plan.digits.items()
        if protocol.inject[name].when and not _may(parse(protocol.inject[name].when), True, plan.facts, terms)
    }


def _may(expr: Expr, want: bool, facts: Mapping[str, Any], terms: Mapping[str, Expr]) -> bool:
    """Whether a guard may come out as wanted; steps, marks, counters, timers and rhythms may come out either way."""
    match expr:
        case Not(item):
            return _may(item, not want, facts, terms)
        case And(items):
            return (all if want else any)(_may(item, want, facts, terms) for item in items)
        case Or(items):
            return (any if want else all)(_may(item, want, facts, terms) for item in items)
        case Name(name) if name in facts:
            return (facts[name] is True) is want
        case Name(name) if name in terms:
            return _may(terms[name], want, facts, terms)
        case Unknown(fact):
            return (facts[fact] is None) is want
        case Compare(name, op, value) if name in facts:
            return (facts[name] is not None and _OPS[op](facts[name], value)) is want
        case Choice(name, op, words) if name in facts:
            return (facts[name] is not None and (facts[name] in words) is (op != "!=")) is want
        case _:
            return True
