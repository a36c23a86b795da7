"""Rules about what can still happen, or must: asked of the whole graph of classes.

A class stands for all states in it, and an edge says that some of them can go on that way. So ``can`` is a bound from
above and ``surely_can`` one from below; only where the two agree is there a verdict.
"""

from __future__ import annotations

from collections.abc import Callable

from coach.check.states.classes import Edge, Graph
from coach.check.states.discrete import COUNTED

GoalEdge = Callable[[Edge], bool]


def stuck(graph: Graph, goal_node: list[bool], goal: GoalEdge) -> tuple[int | None, bool]:
    """A class from which the goal cannot be reached, the earliest found (None: there is none); and whether it surely
    can be reached from every state of every class."""
    before: list[list[int]] = [[] for _ in graph.nodes]
    good = list(goal_node)
    for at, edges in enumerate(graph.edges):
        for edge in edges:
            if goal(edge):
                good[at] = True
            before[edge.target].append(at)
    waiting = [at for at, is_good in enumerate(good) if is_good]
    while waiting:
        for at in before[waiting.pop()]:
            if not good[at]:
                good[at] = True
                waiting.append(at)
    bad = next((at for at, is_good in enumerate(good) if not is_good), None)
    return bad, bad is None and _surely(graph, goal_node, goal)


def _surely(graph: Graph, goal_node: list[bool], goal: GoalEdge) -> bool:
    sure = list(goal_node)
    changed = True
    while changed:
        changed = False
        for at in range(len(sure) - 1, -1, -1):
            if not sure[at] and _sure_here(graph, at, sure, goal):
                sure[at] = changed = True
    return all(sure)


def _sure_here(graph: Graph, at: int, sure: list[bool], goal: GoalEdge) -> bool:
    """True where every state of the class has a way on that is sure: an input whose every outcome is, and where a timer
    may be due at once, its firing too; or no input, and every timer that can be first."""
    fires = [edge for edge in graph.edges[at] if edge.timer >= 0]
    inputs: dict[str, bool] = {event: False for event in graph.idle[at]}
    for edge in graph.edges[at]:
        if edge.timer == -1:
            inputs[edge.trigger] = inputs.get(edge.trigger, True) and (goal(edge) or sure[edge.target])
    fires_sure = all(goal(edge) or sure[edge.target] for edge in fires)
    if any(inputs.values()):
        return fires_sure or not _due_at_once(graph, at)
    return bool(fires) and fires_sure


def _due_at_once(graph: Graph, at: int) -> bool:
    """Whether in some state of the class a timer is due in the very millisecond."""
    spot, zone = graph.nodes[at].spot, graph.nodes[at].zone
    size = len(spot.timers) + 1 + (spot.push == COUNTED)
    return any(zone[0 * size + place] >= 0 for place in range(1, len(spot.timers) + 1))


def endless(graph: Graph, goal_node: list[bool], goal: GoalEdge, made: frozenset[str]) -> list[int] | None:
    """Classes in which a run can stay for ever without the goal, though every observation in ``made`` that stays
    possible is made at some time; None where there are none."""
    inside = [
        [edge for edge in edges if not goal(edge) and not goal_node[edge.target]] if not goal_node[at] else []
        for at, edges in enumerate(graph.edges)
    ]
    reached = _without_goal(graph, goal_node, goal, inside)
    for component in components(inside, reached):
        if not _must_leave(graph, component, inside, goal, made):
            return component
    return None


def _without_goal(graph: Graph, goal_node: list[bool], goal: GoalEdge, inside: list[list[Edge]]) -> list[int]:
    starts = [edge.target for edge in graph.first if not goal(edge) and not goal_node[edge.target]]
    seen = set(starts)
    waiting = list(starts)
    order = []
    while waiting:
        at = waiting.pop(0)
        order.append(at)
        for edge in inside[at]:
            if edge.target not in seen:
                seen.add(edge.target)
                waiting.append(edge.target)
    return order


def _must_leave(
    graph: Graph, component: list[int], inside: list[list[Edge]], goal: GoalEdge, made: frozenset[str]
) -> bool:
    members = set(component)
    kept = [edge for at in component for edge in inside[at] if edge.target in members]
    if not kept and any(graph.nodes[at].spot.timers for at in component):
        return True  # a single class whose timers run out
    common = set.intersection(*({entry[1] for entry in graph.nodes[at].spot.timers} for at in component))
    renewed = {edge.timer for edge in kept}
    for edge in kept:
        running = graph.nodes[edge.target].spot.timers
        for entry, (source, _) in zip(running, edge.outcome.sources, strict=False):
            if source == 0:
                renewed.add(entry[1])
    if common - renewed:
        return True  # a timer that is never set again runs out
    for event in made:
        leaves = [
            edge
            for at in component
            for edge in graph.edges[at]
            if edge.trigger == event and edge.timer == -1 and (edge.target not in members or goal(edge))
        ]
        stays = any(edge.trigger == event for edge in kept)
        everywhere = all(
            event not in graph.idle[at] and any(edge.trigger == event for edge in graph.edges[at]) for at in component
        )
        if leaves and everywhere and not stays:
            return True
    return False


def components(edges: list[list[Edge]], among: list[int]) -> list[list[int]]:
    """The strongly connected parts of the graph over ``among``, every class in one (Tarjan, without recursion)."""
    index: dict[int, int] = {}
    low: dict[int, int] = {}
    on: set[int] = set()
    stack: list[int] = []
    out: list[list[int]] = []
    allowed = set(among)
    for root in among:
        if root in index:
            continue
        work: list[tuple[int, int]] = [(root, 0)]
        while work:
            at, place = work.pop()
            if place == 0:
                index[at] = low[at] = len(index)
                stack.append(at)
                on.add(at)
            targets = [edge.target for edge in edges[at] if edge.target in allowed]
            descended = False
            for number in range(place, len(targets)):
                target = targets[number]
                if target not in index:
                    work += [(at, number + 1), (target, 0)]
                    descended = True
                    break
                if target in on:
                    low[at] = min(low[at], index[target])
            if descended:
                continue
            if low[at] == index[at]:
                part: list[int] = []
                while True:
                    member = stack.pop()
                    on.discard(member)
                    part.append(member)
                    if member == at:
                        break
                out.append(part)
            if work:
                parent = work[-1][0]
                low[parent] = min(low[parent], low[at])
    return out
