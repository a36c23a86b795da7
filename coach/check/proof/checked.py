"""All rules of a protocol, each under every way of counting that matters, shared out among processes."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from coach.check.proof.pads_rule import check_pads_rule
from coach.check.proof.prove import ATTEMPTS, Prover, Ready, Scope, Tell
from coach.check.proof.rules import Rule
from coach.check.proof.verdicts import RuleVerdict, Verdict, joined
from coach.check.states.classes import BOUND, Limit
from coach.check.states.reads import Reads
from coach.cores import ALONE, Packed, Workers, uncollected
from coach.engine.machine import Machine
from coach.engine.state import FactValue
from coach.protocol.model import Pads, Protocol


@dataclass(frozen=True, slots=True)
class Checked:
    """What was found out about the rules of a protocol. ``dropped`` names the marks, counters, timers and tracks that
    no rule depends on; ``seconds`` is this process's own time."""

    rules: tuple[RuleVerdict, ...]
    classes: int
    dropped: tuple[str, ...]
    scope: Scope
    seconds: float

    def verdict(self, rule: str) -> RuleVerdict:
        """The verdict on a rule by its id; KeyError for an unknown one."""
        return {one.rule.id: one for one in self.rules}[rule]


def check_rules(
    protocol: Protocol,
    rules: Iterable[Rule],
    *,
    pads: Pads | None = None,
    injects: Iterable[str] = (),
    open_at_once: int = 2,
    fixed: Mapping[str, FactValue] | None = None,
    limit: Limit = BOUND,
    progress: Tell | None = None,
    workers: Workers = ALONE,
) -> Checked:
    """Prove rules of a protocol; both must have been read without problems.

    ``pads`` is the pads file that the protocol names, for rules that ask it. ``injects`` can be thrown, and for a rule
    those that it speaks of, at most ``open_at_once`` of them open together. A limit that is hit ends in "not decided".
    ``progress`` hears the rule's id and the classes so far (of several ``workers`` only what this process proves).
    """
    began = time.process_time()
    asked = list(rules)
    given = Scope(tuple(injects), open_at_once, tuple(sorted((fixed or {}).items())))
    groups: dict[tuple[str, ...], list[Rule]] = {given.injects: []}
    for rule in asked:
        groups.setdefault(tuple(dict.fromkeys((*given.injects, *rule.throws()))), []).append(rule)
    found: dict[str, RuleVerdict] = {}
    classes, dropped = 0, None
    for names, group in groups.items():
        verdicts, many, unread = _check_in(
            _Asked(protocol, tuple(group), replace(given, injects=names), limit), pads, progress, workers
        )
        found |= verdicts
        classes += many
        if group:
            dropped = [one for one in unread if dropped is None or one in dropped]
    ordered = tuple(found[rule.id] for rule in asked)
    return Checked(ordered, classes, tuple(dropped or ()), given, time.process_time() - began)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What every process is told: the rules of a protocol within one scope."""

    protocol: Protocol
    rules: tuple[Rule, ...]
    scope: Scope
    limit: Limit


@dataclass(frozen=True, slots=True)
class _Attempt:
    """One way of counting, as its place among :data:`ATTEMPTS`, for the rules (by id) that are still to be settled."""

    asked: Packed[_Asked]
    place: int
    left: tuple[str, ...]


STAGES = ((0, 1, 3), (1, 3), (2, 4))
"""Places among :data:`ATTEMPTS` that are looked at together: those of a stage need nothing of each other. In the first
one, what cannot be asked under all ways of counting at once is asked of each apart."""


@lru_cache(maxsize=3)
def _readied(attempt: _Attempt) -> tuple[Prover, list[Ready]]:
    """An attempt made ready to prove, in every process alike."""
    asked = attempt.asked.value()
    counting, loose, free = ATTEMPTS[attempt.place]
    prover = Prover(asked.protocol, counting, asked.scope, asked.limit, None, loose, free)
    by_id = {rule.id: rule for rule in asked.rules}
    return prover, prover.ready(by_id[ident] for ident in attempt.left)


@uncollected()
def _proved(task: tuple[_Attempt, int]) -> tuple[RuleVerdict, int]:
    """The verdict on one rule of an attempt, and how many classes it rests on."""
    attempt, place = task
    prover, ready = _readied(attempt)
    before = prover.classes
    return prover.prove(ready[place]), prover.classes - before


def _check_in(
    asked: _Asked, pads: Pads | None, progress: Tell | None, workers: Workers
) -> tuple[dict[str, RuleVerdict], int, tuple[str, ...]]:
    """The verdicts by rule within one scope, the classes, and the names that none of the rules depends on."""
    found = {rule.id: _pads_verdict(rule, pads) for rule in asked.rules if rule.form == "pads"}
    unsettled = [rule.id for rule in asked.rules if rule.form != "pads"]
    packed = Packed.of(asked)
    classes = 0
    kept = Reads()
    settled: dict[tuple[str, ...], set[str]] = {counting: set() for counting, _, _ in ATTEMPTS}
    everywhere = settled[ATTEMPTS[0][0]]
    tried: set[tuple[int, str]] = set()
    machine: Machine | None = None
    for stage in STAGES:
        tasks: list[tuple[_Attempt, int]] = []
        alike: set[str] = set()
        for place in stage:
            done = everywhere | settled[ATTEMPTS[place][0]] | alike
            left = tuple(one for one in unsettled if one not in done and (place, one) not in tried)
            if not left:
                continue
            attempt = _Attempt(packed, place, left)
            prover, ready = _readied(attempt)
            tried |= {(place, one.asked.rule.id) for one in ready}
            prover.progress = progress
            kept.add(prover.kept)
            machine = machine or prover.machine
            tasks += [(attempt, number) for number in range(len(ready))]
            alike |= {one.asked.rule.id for one in ready if place == 0 or prover.pushless(one.discrete.part)}
        for (attempt, number), (verdict, many) in zip(tasks, workers.each(_proved, tasks), strict=True):
            ident, counting = verdict.rule.id, ATTEMPTS[attempt.place][0]
            prover, ready = _readied(attempt)
            classes += many
            if verdict.is_final() and ident not in everywhere:
                found[ident] = joined(found[ident], verdict) if ident in found else verdict
                settled[counting].add(ident)
                if verdict.kind == "broken" or prover.pushless(ready[number].discrete.part):
                    everywhere.add(ident)
    _readied.cache_clear()
    return found, classes, dropped_names(machine, kept) if machine is not None else ()


def _pads_verdict(rule: Rule, pads: Pads | None) -> RuleVerdict:
    assert rule.never is not None
    if pads is None:
        none = Verdict("not decided", 0, why="the pads file is not at hand")
        return RuleVerdict(rule, none, none)
    why, cases, asked = check_pads_rule(pads, rule.never)
    verdict = Verdict("broken" if why else "holds" if asked else "vacuous", cases, why=why)
    return RuleVerdict(rule, verdict, verdict)


def dropped_names(machine: Machine, kept: Reads) -> tuple[str, ...]:
    """What a proof has left out because nothing that was asked depends on it."""
    tracks = [f"track {info.name}" for place, info in enumerate(machine.tracks) if place not in kept.tracks]
    counters = [f"counter {name}" for place, name in enumerate(machine.counters) if place not in kept.counters]
    marks = [f"mark {name}" for place, name in enumerate(machine.marks) if not kept.marks >> place & 1]
    timers = [f"timer {info.name}" for place, info in enumerate(machine.timers) if place not in kept.timers]
    return (*tracks, *counters, *marks, *timers)
