"""From a way through the classes to a run: times, facts and events that the drill's own engine can be given."""

from __future__ import annotations

from dataclasses import dataclass

from coach.check.states.classes import Edge, Graph
from coach.check.states.discrete import COUNTED
from coach.check.states.openfacts import NEXT
from coach.engine.machine import Machine
from coach.engine.plan import Plan, resolve
from coach.engine.state import FactValue
from coach.protocol.model import Protocol
from coach.protocol.names import BUILT_IN_FACTS

GAPS_MS = (1_000, 300, 130)
"""How far apart two keys of a story stand where its limits leave room: as a person presses, at the least beyond the
120 ms in which a second press of one key is taken for a bounce."""

Expr = tuple[int, int]
"""A moment: that of a step of the way, plus so many ms."""

Bound = tuple[int, int, int]
"""(a, b, ms): step a comes at least that long after step b."""


@dataclass(frozen=True, slots=True)
class Run:
    """Events from outside as (ms since go, event), until ``end``, under ``plan``; the steps' own times in ``times``."""

    events: tuple[tuple[int, str], ...]
    end: int
    plan: Plan
    given: tuple[str, ...]


def run_of(graph: Graph, protocol: Protocol, way: list[Edge], counting: str) -> Run:
    """A run that goes that way, each step as early as it can be after a person's pause between keys."""
    times = _solve(graph, way)
    plan, given = _plan(graph, protocol, way, counting)
    events = tuple((times[place], edge.trigger) for place, edge in enumerate(way) if place and edge.timer == -1)
    return Run(events, times[-1], plan, given)


# --- times ------------------------------------------------------------------------------------------------------------


def _bounds(graph: Graph, way: list[Edge]) -> list[Bound]:
    """The way's conditions on its moments."""
    bounds: list[Bound] = []
    limit = graph.discrete.push_limit
    clocks: list[Expr] = []
    counted = False
    for place, edge in enumerate(way):
        node = graph.nodes[edge.target]
        if place == 0:
            clocks = [(0, ms) for _, ms in edge.clocks]
            own = 0
        else:
            before = graph.nodes[way[place - 1].target]
            own = len(before.clocks)
            due = clocks[:-1] if counted else clocks
            if edge.timer == -1:
                bounds.append((place, place - 1, 0))
                bounds += [(at, place, 1 - ms) for at, ms in due]
            else:
                number = (
                    before.clocks.index(-2 - edge.timer)
                    if edge.timer < -1
                    else own + [entry[1] for entry in before.spot.timers].index(edge.timer)
                )
                at, ms = due[number]
                bounds += [(place, at, ms), (at, place, -ms)]
                bounds += [
                    (other_at, place, -other_ms if other > number else 1 - other_ms)
                    for other, (other_at, other_ms) in enumerate(due)
                    if other != number
                ]
                del clocks[number]
                own -= edge.timer < -1
            if counted:
                pushed = clocks[-1][0]
                bounds.append((place, pushed, limit + 1) if edge.far else (pushed, place, -limit))
                if edge.far:
                    del clocks[-1]
                else:
                    bounds += [
                        (pushed, place, -first) if near else (place, pushed, first + 1)
                        for first, near in edge.outcome.cuts
                    ]
        kept = {
            clock: clocks[position]
            for position, clock in enumerate(
                one
                for one in (graph.nodes[way[place - 1].target].clocks if place else ())
                if not (edge.timer < -1 and one == -2 - edge.timer)
            )
        }
        minds = [kept[clock] if ms < 0 else (place, ms) for clock, ms in edge.clocks]
        machines = []
        for source, more in edge.outcome.sources:
            at, ms = (place, 0) if source == 0 else clocks[own + source - 1]
            machines.append((at, ms + more))
        clocks = [*minds, *machines]
        counted = node.spot.push == COUNTED
    return bounds


def _earliest(count: int, bounds: list[Bound]) -> list[int] | None:
    """The least whole times from nought that keep all bounds; None where there are none."""
    times = [0] * count
    for _ in range(count + 1):
        changed = False
        for a, b, ms in bounds:
            if times[a] < times[b] + ms:
                times[a] = times[b] + ms
                changed = True
        if not changed:
            return times if times[0] == 0 else None
    return None


def _solve(graph: Graph, way: list[Edge]) -> list[int]:
    bounds = _bounds(graph, way)
    times = _earliest(len(way), bounds)
    assert times is not None, "a way through the classes has times"
    keys = [place for place, edge in enumerate(way) if place and edge.timer == -1]
    for previous, key in zip([0, *keys], keys, strict=False):
        for gap in GAPS_MS:
            wider = [*bounds, (key, previous, gap)]
            solved = _earliest(len(way), wider)
            if solved is not None:
                bounds, times = wider, solved
                break
    return times


# --- facts ------------------------------------------------------------------------------------------------------------


def _plan(graph: Graph, protocol: Protocol, way: list[Edge], counting: str) -> tuple[Plan, tuple[str, ...]]:
    """The plan under which the way goes, and the names of the facts that it rests on."""
    machine, frame = graph.discrete.machine, graph.discrete.frame
    facts = {**protocol.facts, **BUILT_IN_FACTS}
    names = list(machine.fact_names)
    values: dict[str, FactValue] = {}
    entries: dict[str, dict[int, FactValue]] = {}
    counts = [0] * len(machine.counters)
    for edge in way:
        _count(machine, edge, counts)
        for (index, entry), value in edge.outcome.spot.known:
            name = names[index]
            if not entry:
                values[name] = value
                continue
            counter = machine.layout.counters[facts[name].counter] if facts[name].counter else -1
            place = max(counts[counter], 1) if entry == NEXT else entry
            entries.setdefault(name, {})[place] = value
    given = tuple(dict.fromkeys((*values, *entries)))
    for index, name in enumerate(names):
        if name in values:
            continue
        fact = facts[name]
        if fact.kind == "script":
            known = entries.get(name, {})
            length = max((*known, 1 if known else len(fact.of)))
            first = known.get(min(known)) if known else None
            values[name] = tuple(str(known.get(place, first or fact.of[0])) for place in range(1, length + 1))
        elif name == "counting":
            values[name] = counting
        elif name == "unit":
            values[name] = "floor"
        elif fact.default is not None or fact.may_be_unknown:
            values[name] = resolve(protocol).facts[name]
        else:
            values[name] = frame.classes[index][0]
    plan = resolve(protocol, unit=str(values["unit"]), counting=str(values["counting"]))
    plan.facts.update(values)
    return plan, tuple(name for name in given if name not in BUILT_IN_FACTS)


def _count(machine: Machine, edge: Edge, counts: list[int]) -> None:
    for _, move in edge.outcome.pairs:
        for index, put, value, _most in move.counts:
            counts[index] = value if put else counts[index] + value
