"""Breadth-first over state classes: a discrete state with the set of all clock values that one history can lead to.

Exact for the engine's whole milliseconds: a class is reached if and only if some run reaches it, order of effects and of
timers due in the same millisecond included. Facts are open until read.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple, Protocol

from coach.check.discrete import COUNTED, LONG_AGO, Discrete, Outcome, Spot
from coach.check.zones import POINT, Zone, elapse, fire, inside, rebuild, tighten

Progress = Callable[[int], None]
"""Told the number of classes from time to time."""

TELL_EVERY = 2_000


class Limit(NamedTuple):
    """When to give up: a number of classes, and seconds of this process's own time."""

    classes: int = 400_000
    seconds: float = 60.0


MindState = tuple[int, ...]


class Mind(Protocol):
    """A rule, run beside the machine. Its state is a tuple of small numbers; it may run clocks 0, 1, ... of its own,
    which are before all others when several run out in one millisecond.

    ``start`` gives its state at go and the clocks started, as (clock, ms); ``hear`` what it makes of a moment: its new
    state, the clocks that run afterwards as (clock, ms to run anew, or -1 to run on), and whether the rule is broken.
    None for a state means that the run is outside of what the rule assumes.
    """

    def start(self, truth: int, faults: bool) -> Heard: ...

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard: ...

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard: ...


class Heard(NamedTuple):
    """What a mind makes of a moment; see :class:`Mind`."""

    state: MindState | None
    clocks: tuple[tuple[int, int], ...] = ()
    broken: bool = False


class Node(NamedTuple):
    """A class: discrete part, the mind's state and running clocks, the zone (mind's clocks, timers, last push)."""

    spot: Spot
    mind: MindState
    clocks: tuple[int, ...]
    zone: Zone


class Edge(NamedTuple):
    """One way on. ``trigger`` is an event from outside, ``timer`` the timer that ran out (-1: none; -2 - n: clock n of
    the mind). ``far`` where the last push had become too long ago to matter just before."""

    target: int
    trigger: str
    timer: int
    outcome: Outcome
    far: bool
    clocks: tuple[tuple[int, int], ...] = ()


class Graph:
    """What an exploration found. ``parents`` leads back along a shortest way; ``complete`` is False where a limit was
    hit; ``broken`` is the first edge that broke the mind's rule, from which class, if any."""

    def __init__(self, discrete: Discrete) -> None:
        self.discrete = discrete
        self.nodes: list[Node] = []
        self.edges: list[list[Edge]] = []
        self.parents: list[tuple[int, Edge] | None] = []
        self.first: list[Edge] = []
        self.used: dict[tuple[int, int, str, str], tuple[int, Edge]] = {}
        self.fired: dict[int, tuple[int, Edge]] = {}
        self.idle: list[set[str]] = []
        self.complete = True
        self.broken: tuple[int, Edge] | None = None

    def way(self, node: int) -> list[Edge]:
        """A shortest way from go to a class, its first edge the one at go."""
        out: list[Edge] = []
        at: int = node
        while True:
            parent = self.parents[at]
            assert parent is not None, "every class has been reached over an edge"
            out.append(parent[1])
            if parent[0] < 0:
                return out[::-1]
            at = parent[0]


class Explorer:
    """One exploration. ``faults`` False leaves out every way over a fault; ``keep_edges`` False keeps only what a
    reachability question needs, and drops a class that lies inside another one."""

    def __init__(
        self,
        discrete: Discrete,
        mind: Mind | None = None,
        *,
        faults: bool = True,
        keep_edges: bool = True,
        limit: Limit = Limit(),
        progress: Progress | None = None,
    ) -> None:
        self.discrete = discrete
        self.mind = mind
        self.faults = faults
        self.keep = keep_edges
        self.limit = limit
        self.progress = progress
        self.graph = Graph(discrete)
        self._seen: dict[Node, int] = {}
        self._zones: dict[tuple[Spot, MindState, tuple[int, ...]], list[Zone]] = {}

    def run(self) -> Graph:
        """Explore until all is seen, a rule is broken or a limit is hit."""
        graph = self.graph
        until = time.process_time() + self.limit.seconds
        for outcome in self.discrete.begin():
            self._begin(outcome)
        at = 0
        while at < len(graph.nodes) and graph.broken is None:
            if at % 256 == 0:
                if len(graph.nodes) > self.limit.classes or time.process_time() > until:
                    graph.complete = False
                    break
                if self.progress is not None and at % TELL_EVERY < 256:
                    self.progress(len(graph.nodes))
            self._expand(at)
            at += 1
        return graph

    # --- one class --------------------------------------------------------------------------------------------------

    def _begin(self, outcome: Outcome) -> None:
        heard = self.mind.start(outcome.truth, outcome.faults) if self.mind is not None else Heard(())
        if heard.state is None or (outcome.faults and not self.faults):
            return
        self._arrive(-1, outcome.spot, heard, (), POINT, 1, "go", -1, outcome, False)

    def _expand(self, at: int) -> None:
        node = self.graph.nodes[at]
        spot, zone = node.spot, node.zone
        own, running = len(node.clocks), len(spot.timers)
        timers = own + running
        size = timers + 1 + (spot.push == COUNTED)
        passed = elapse(zone, size, timers)
        if passed is not None:
            for near, cut, far in self._ages(spot, passed, size):
                cut_size = size - far
                for event, outcome in self.discrete.inputs(near):
                    self._take(at, node, outcome, cut, cut_size, event, -1, far)
        for clock in range(1, timers + 1):
            left = fire(zone, size, timers, clock)
            if left is None:
                continue
            if clock <= own:
                for near, cut, far in self._ages(spot, left, size - 1):
                    self._ran_out(at, node, near, cut, size - 1 - far, clock - 1, far)
                continue
            timer = spot.timers[clock - own - 1][1]
            for near, cut, far in self._ages(spot, left, size - 1):
                for outcome in self.discrete.fires(near, timer):
                    self._take(at, node, outcome, cut, size - 1 - far, self._event_of(timer), timer, far)

    def _event_of(self, timer: int) -> str:
        return self.discrete.machine.timers[timer].event

    def _ages(self, spot: Spot, zone: Zone, size: int) -> list[tuple[Spot, Zone, bool]]:
        """The zone parted by whether the last push is so long ago that its time matters no more."""
        if spot.push != COUNTED:
            return [(spot, zone, False)]
        push, most = size - 1, self.discrete.push_limit
        out: list[tuple[Spot, Zone, bool]] = []
        near = tighten(zone, size, 0, push, most)
        if near is not None:
            out.append((spot, near, False))
        far = tighten(zone, size, push, 0, -most - 1)
        if far is not None:
            kept = tuple((place, 0) for place in range(1, push))
            out.append((spot._replace(push=LONG_AGO), rebuild(far, size, kept), True))
        return out

    def _take(
        self, at: int, node: Node, outcome: Outcome, zone: Zone, size: int, event: str, timer: int, far: bool
    ) -> None:
        if outcome.faults and not self.faults:
            return
        cut: Zone | None = zone
        for first, near in outcome.cuts:
            assert cut is not None
            cut = tighten(cut, size, 0, size - 1, first) if near else tighten(cut, size, size - 1, 0, -first - 1)
            if cut is None:
                return
        assert cut is not None
        heard = Heard(node.mind, tuple((clock, -1) for clock in node.clocks))
        if self.mind is not None:
            heard = self.mind.hear(node.mind, node.clocks, outcome.truth, outcome.faults)
        if heard.state is None:
            return
        if outcome.idle and not outcome.truth and not far and heard.state == node.mind:
            self._note(at, outcome, Edge(at, event, timer, outcome, far))
            self.graph.idle[at].add(event)
            return
        self._arrive(at, outcome.spot, heard, node.clocks, cut, size, event, timer, outcome, far)

    def _ran_out(self, at: int, node: Node, spot: Spot, zone: Zone, size: int, place: int, far: bool) -> None:
        assert self.mind is not None
        others = tuple(clock for clock in node.clocks if clock != node.clocks[place])
        heard = self.mind.ran_out(node.mind, others, node.clocks[place])
        if heard.state is None:
            return
        count = len(spot.timers) + (spot.push == COUNTED)
        same = Outcome(spot, tuple((n, 0) for n in range(1, count + 1)), (), (), 0, False, False)
        self._arrive(at, spot, heard, others, zone, size, "", -2 - node.clocks[place], same, far)

    # --- arriving ---------------------------------------------------------------------------------------------------

    def _arrive(
        self,
        at: int,
        spot: Spot,
        heard: Heard,
        before: tuple[int, ...],
        zone: Zone,
        size: int,
        event: str,
        timer: int,
        outcome: Outcome,
        far: bool,
    ) -> None:
        own = len(before)
        clocks = sorted(heard.clocks)
        sources = [(before.index(clock) + 1, 0) if ms < 0 else (0, ms) for clock, ms in clocks]
        sources += [(place + own if place else 0, more) for place, more in outcome.sources]
        made = rebuild(zone, size, tuple(sources))
        assert heard.state is not None
        node = Node(spot, heard.state, tuple(clock for clock, _ in clocks), made)
        graph = self.graph
        target = self._seen.get(node, -1)
        fresh = target < 0
        if fresh and not self.keep and not heard.broken:
            kin = self._zones.setdefault((node.spot, node.mind, node.clocks), [])
            if any(inside(made, other) for other in kin):
                return
            kin.append(made)
        if fresh:
            target = self._seen[node] = len(graph.nodes)
            graph.nodes.append(node)
            graph.edges.append([])
            graph.idle.append(set())
        edge = Edge(target, event, timer, outcome, far, tuple(clocks))
        if fresh:
            graph.parents.append((at, edge))
        if at < 0:
            graph.first.append(edge)
        elif self.keep:
            graph.edges[at].append(edge)
        self._note(at, outcome, edge)
        if heard.broken and graph.broken is None:
            graph.broken = (at, edge)

    def _note(self, at: int, outcome: Outcome, edge: Edge) -> None:
        """Keep the first way over each arrow and each timer."""
        used = self.graph.used
        for event, move in outcome.pairs:
            key = (move.track, move.source, move.arrow, event)
            if key not in used:
                used[key] = (at, edge)
        if edge.timer >= 0 and edge.timer not in self.graph.fired:
            self.graph.fired[edge.timer] = (at, edge)
