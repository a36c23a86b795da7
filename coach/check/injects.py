"""The rules with each inject thrown alone: only those are proved again that the inject can reach."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from coach.check.classes import BOUND, Limit
from coach.check.inputs import EACH
from coach.check.prove import Checked, Prover, Scope, Tell, check_rules
from coach.check.rules import Rule
from coach.protocol.model import Pads, Protocol


def check_each_inject(
    protocol: Protocol,
    rules: Iterable[Rule],
    plain: Checked,
    *,
    pads: Pads | None = None,
    limit: Limit = BOUND,
    progress: Tell | None = None,
) -> Iterator[tuple[str, Checked]]:
    """For each inject of the protocol, the verdicts with it alone. ``plain`` holds those without any, which stand for
    every rule that the inject cannot reach."""
    asked = list(rules)
    for name in protocol.inject:
        scope = Scope((name,), plain.scope.open_at_once, plain.scope.fixed)
        prover = Prover(protocol, EACH, scope, limit, free=True)
        reached = [rule for rule in asked if rule.form != "pads" and _reaches(prover, name, rule)]
        again = check_rules(
            protocol,
            reached,
            pads=pads,
            injects=(name,),
            open_at_once=scope.open_at_once,
            fixed=dict(scope.fixed),
            limit=limit,
            progress=progress,
        )
        fresh = {one.rule.id: one for one in again.rules}
        yield name, replace(again, rules=tuple(fresh.get(one.rule.id, one) for one in plain.rules))


def _reaches(prover: Prover, name: str, rule: Rule) -> bool:
    """Whether throwing the inject can change anything that the rule depends on."""
    part = prover.part(prover.asker.ask(rule).interest)
    track = next(place for place, info in enumerate(prover.machine.tracks) if info.name == f"inject:{name}")
    return track in part.kept.tracks or any(event.partition(":")[2] == name for event in part.inputs)
