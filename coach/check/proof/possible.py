"""Rules about what must be possible: for which facts a run is looked for, and who waits for it where there is none."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product

from coach.check.proof.rules import Rule
from coach.engine.state import FactValue
from coach.protocol.model import Fact, Protocol
from coach.protocol.names import BUILT_IN_FACTS, arrow_ids, arrows

WAITING = 4
"""How many arrows are named beside what never happens."""


def cases(rule: Rule, protocol: Protocol, fixed: Mapping[str, FactValue]) -> list[dict[str, FactValue]]:
    """Every combination of the facts that a rule names under ``each``, but for those ``fixed`` already."""
    facts = {**protocol.facts, **BUILT_IN_FACTS}
    names = [name for name in rule.each if name not in fixed]
    return [dict(zip(names, values, strict=True)) for values in product(*(_values(facts[name]) for name in names))]


def _values(fact: Fact) -> tuple[FactValue, ...]:
    return (False, True) if fact.kind == "flag" else tuple(fact.of)


def value_text(value: FactValue) -> str:
    """A flag's or choice's value as an author writes it."""
    return str(value).lower() if isinstance(value, bool) else str(value)


def waiting(rule: Rule, protocol: Protocol) -> list[str]:
    """The arrows that would bring about what a rule wants to be possible, each with where it is tried and its guard."""
    atom = rule.possible
    if atom is None:
        return []
    ids = arrow_ids(protocol)
    found: list[str] = []
    for placed in arrows(protocol):
        arrow = placed.arrow
        if arrow.fault is None and (set(arrow.on) & set(atom.on) or arrow.to in atom.step or atom.mark in arrow.mark):
            where = f"in the step `{placed.step}`" if placed.step else f"anywhere in the track `{placed.track}`"
            when = f", when {arrow.when}" if arrow.when else ""
            found.append(f"`{ids[id(arrow)]}` waits for it {where}{when}")
    return found[:WAITING]
