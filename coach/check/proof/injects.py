"""The rules with each inject thrown alone: only those are proved again that the inject can reach."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from dataclasses import replace
from functools import partial

from coach.check.proof.prove import Checked, Prover, Scope, Tell, check_rules
from coach.check.proof.rules import Rule
from coach.check.states.classes import BOUND, Limit
from coach.check.states.inputs import EACH
from coach.cores import cores
from coach.protocol.model import Pads, Protocol


def check_each_inject(
    protocol: Protocol,
    rules: Iterable[Rule],
    plain: Checked,
    *,
    pads: Pads | None = None,
    limit: Limit = BOUND,
    progress: Tell | None = None,
    processes: int | None = None,
) -> Iterator[tuple[str, Checked]]:
    """For each inject of the protocol, the verdicts with it alone. ``plain`` holds those without any, which stand for
    every rule that the inject cannot reach. ``processes`` is how many look at once, as many as there are cores where
    it is left out; ``progress`` hears of each inject that is done then, else as :func:`check_rules` has it."""
    names = tuple(protocol.inject)
    asked = [rule for rule in rules if rule.form != "pads" and not _stays(rule, plain)]
    look = partial(_alone, protocol, _reached(protocol, asked, plain.scope, limit), plain.scope, pads, limit)
    number = min(len(names), cores() if processes is None else processes)
    classes = 0
    with ProcessPoolExecutor(number) if number > 1 else nullcontext() as pool:
        found = map(partial(look, progress=progress), names) if pool is None else pool.map(look, names)
        for name, again in zip(names, found, strict=True):
            classes += again.classes
            if progress is not None and pool is not None:
                progress(f"inject {name}", classes)
            fresh = {one.rule.id: one for one in again.rules}
            yield name, replace(again, rules=tuple(fresh.get(one.rule.id, one) for one in plain.rules))


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


def _alone(
    protocol: Protocol,
    rules: dict[str, list[Rule]],
    plain: Scope,
    pads: Pads | None,
    limit: Limit,
    name: str,
    progress: Tell | None = None,
) -> Checked:
    """The verdicts with one inject thrown, on the rules that it can reach and no others."""
    scope = replace(plain, injects=(name,))
    prover = Prover(protocol, EACH, scope, limit, free=True)
    return check_rules(
        protocol,
        [rule for rule in rules[name] if _reaches(prover, name, rule)],
        pads=pads,
        injects=(name,),
        open_at_once=scope.open_at_once,
        fixed=dict(scope.fixed),
        limit=limit,
        progress=progress,
    )


def _reaches(prover: Prover, name: str, rule: Rule) -> bool:
    """Whether throwing the inject can change anything that the rule depends on."""
    part = prover.part(prover.asker.ask(rule).interest)
    track = next(place for place, info in enumerate(prover.machine.tracks) if info.name == f"inject:{name}")
    return track in part.kept.tracks or any(event.partition(":")[2] == name for event in part.inputs)
