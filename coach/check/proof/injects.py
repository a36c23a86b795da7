"""The rules with each inject thrown alone: only those are proved again that the inject can reach."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from coach.check.proof.checked import Checked, check_rules
from coach.check.proof.prove import Prover, Scope, Tell
from coach.check.proof.rules import Rule
from coach.check.states.classes import BOUND, Limit
from coach.check.states.inputs import EACH
from coach.cores import Packed
from coach.protocol.model import Pads, Protocol


@dataclass(frozen=True, slots=True)
class Look:
    """The proofs of the rules that one inject can reach, ready to be made here or in another process."""

    asked: Packed[_Asked]
    name: str
    reached: int

    def __call__(self, progress: Tell | None = None) -> Checked:
        """The verdicts with that inject thrown, on the rules that it can reach and no others."""
        asked, name = self.asked.value(), self.name
        scope = replace(asked.scope, injects=(name,))
        prover = Prover(asked.protocol, EACH, scope, asked.limit, free=True)
        return check_rules(
            asked.protocol,
            [rule for rule in asked.rules[name] if _reaches(prover, name, rule)],
            pads=asked.pads,
            injects=(name,),
            open_at_once=scope.open_at_once,
            fixed=dict(scope.fixed),
            limit=asked.limit,
            progress=progress,
        )


def looks(
    protocol: Protocol, rules: Iterable[Rule], plain: Checked, *, pads: Pads | None = None, limit: Limit = BOUND
) -> list[Look]:
    """What is to be looked at for each inject, in the order of the file."""
    asked = [rule for rule in rules if rule.form != "pads" and not _stays(rule, plain)]
    reached = _reached(protocol, asked, plain.scope, limit)
    packed = Packed.of(_Asked(protocol, reached, plain.scope, pads, limit))
    return [Look(packed, name, len(reached[name])) for name in protocol.inject]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What every process is told: for each inject the rules that it may reach, and the scope without any."""

    protocol: Protocol
    rules: dict[str, list[Rule]]
    scope: Scope
    pads: Pads | None
    limit: Limit


def _stays(rule: Rule, plain: Checked) -> bool:
    """Whether a verdict stands whatever can be thrown: what is possible without is possible with."""
    return rule.form == "possible" and plain.verdict(rule.id).kind == "holds"


def _reached(protocol: Protocol, rules: Iterable[Rule], scope: Scope, limit: Limit) -> dict[str, list[Rule]]:
    """For each inject the rules that it can reach where all can be thrown: more than those that it reaches alone, and
    quickly told."""
    names = tuple(protocol.inject)
    prover = Prover(protocol, EACH, replace(scope, injects=names), limit, free=True)
    found: dict[str, list[Rule]] = {name: [] for name in names}
    for rule in rules:
        for name in names:
            if _reaches(prover, name, rule):
                found[name].append(rule)
    return found


def _reaches(prover: Prover, name: str, rule: Rule) -> bool:
    """Whether throwing the inject can change anything that the rule depends on."""
    part = prover.part(prover.asker.ask(rule).interest)
    track = next(place for place, info in enumerate(prover.machine.tracks) if info.name == f"inject:{name}")
    return track in part.kept.tracks or any(event.partition(":")[2] == name for event in part.inputs)
