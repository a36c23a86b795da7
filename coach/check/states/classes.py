"""Breadth-first over state classes: a discrete state with the set of all clock values that one history can lead to.

Exact for the engine's whole milliseconds: a class is reached if and only if some run reaches it, the order of effects
and of timers due in the same millisecond included. Facts are open until read.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple, Protocol

from coach.check.states.discrete import COUNTED, LONG_AGO, Discrete, Outcome, Spot
from coach.check.states.zones import POINT, Zone, elapse, fire, inside, rebuild, tighten
from coach.engine.state import tuple_of

Progress = Callable[[int], None]
"""Told the number of classes from time to time."""

TELL_EVERY = 2_000


class Limit(NamedTuple):
    """When to give up: a number of classes, and seconds of this process's own time."""

    classes: int = 400_000
    seconds: float = 60.0


BOUND = Limit()
"""The limit where none is given."""

MindState = tuple[int, ...]


class Mind(Protocol):
    """A rule, run beside the machine. Its state is a tuple of small numbers; it may run clocks 0, 1, ... of its own,
    which are before all others when several run out in one millisecond.

    ``start`` gives its state at go and the clocks started, as (clock, ms); ``hear`` what it makes of a moment: its new
    state, the clocks that run afterwards as (clock, ms to run anew, or -1 to run on), and whether the rule is broken.
    None for a state means that the run is outside of what the rule assumes. A moment in which nothing changes, no
    question is answered yes and no fault is taken must leave a mind as it is.
    """

    def start(self, truth: int, faults: bool) -> Heard: ...

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard: ...

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard: ...


class Heard(NamedTuple):
    """What a mind makes of a moment; see :class:`Mind`."""

    state: MindState | None
    clocks: tuple[tuple[int, int], ...] = ()
    broken: bool = False


QUIET = Heard(())
"""Where no mind listens."""


class Node(NamedTuple):
    """A class: discrete part and its number, the mind's state and running clocks, the zone (mind's clocks, timers, last
    push)."""

    spot: Spot
    number: int
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


Kind = tuple[object, ...]
"""What two classes must share for one to lie inside the other."""

Used = tuple[int, str, str]
"""An arrow taken: (track, id of the arrow, event)."""


class Graph:
    """What an exploration found. ``parents`` leads back along a shortest way; ``complete`` is False where a limit was
    hit; ``broken`` is the first edge that broke the mind's rule, from which class, if any."""

    def __init__(self, discrete: Discrete) -> None:
        self.discrete = discrete
        self.nodes: list[Node] = []
        self.edges: list[list[Edge]] = []
        self.parents: list[tuple[int, Edge] | None] = []
        self.first: list[Edge] = []
        self.used: set[Used] = set()
        self.fired: set[int] = set()
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
    reachability question needs, and drops a class that lies inside another one; ``note`` keeps which arrows are
    taken and which timers run out; ``goals``, those to find, are struck off when found, and with the last one the
    search ends."""

    def __init__(
        self,
        discrete: Discrete,
        mind: Mind | None = None,
        *,
        faults: bool = True,
        keep_edges: bool = True,
        note: bool = False,
        goals: set[Used] | None = None,
        limit: Limit = BOUND,
        progress: Progress | None = None,
    ) -> None:
        self.discrete = discrete
        self.mind = mind
        self.faults = faults
        self.keep = keep_edges
        self.note = note
        self.goals = goals
        self.limit = limit
        self.progress = progress
        self.graph = Graph(discrete)
        self._zones: dict[Kind, dict[Zone, int]] = {}
        self._noted: set[int] = set()
        self._heard: dict[tuple[MindState, tuple[int, ...], int, bool], Heard] = {}

    def run(self) -> Graph:
        """Explore until all is seen, a rule is broken or a limit is hit."""
        graph = self.graph
        until = time.process_time() + self.limit.seconds
        for outcome in self.discrete.begin():
            self._begin(outcome)
        at = 0
        while at < len(graph.nodes) and graph.broken is None:
            late = at % 256 == 0 and time.process_time() > until
            if late or len(graph.nodes) > self.limit.classes:
                graph.complete = False
                break
            if self.progress is not None and at % TELL_EVERY == 0:
                self.progress(len(graph.nodes))
            if self.goals is not None and not self.goals:
                break
            self._expand(at)
            at += 1
        return graph

    # --- one class --------------------------------------------------------------------------------------------------

    def _begin(self, outcome: Outcome) -> None:
        heard = self.mind.start(outcome.truth, outcome.faults) if self.mind is not None else QUIET
        if heard.state is None or (outcome.faults and not self.faults):
            return
        self._arrive(-1, outcome, heard, (), POINT, 1, "go", -1, False)

    def _expand(self, at: int) -> None:
        node = self.graph.nodes[at]
        spot, zone, discrete = node.spot, node.zone, self.discrete
        running = discrete.timed(spot)
        own = len(node.clocks)
        timers = own + len(running)
        size = timers + 1 + (spot.push == COUNTED)
        passed = elapse(zone, size, timers)
        if passed is not None:
            for near, number, cut, far in self._ages(spot, node.number, passed, size):
                cut_size = size - far
                for event, outcome in self._inputs(near, number):
                    self._take(at, node, outcome, cut, cut_size, event, -1, far)
        for clock in range(1, timers + 1):
            left = fire(zone, size, timers, clock)
            if left is None:
                continue
            for near, number, cut, far in self._ages(spot, node.number, left, size - 1):
                if clock <= own:
                    self._ran_out(at, node, near, number, cut, size - 1 - far, clock - 1, far)
                    continue
                timer = running[clock - own - 1]
                event = discrete.event_of(timer)
                for outcome in discrete.fires(near, number, timer):
                    self._take(at, node, outcome, cut, size - 1 - far, event, timer, far)
                if discrete.ties:
                    self._expand_tie(at, node, near, number, cut, size - 1 - far, own, timer, far)

        if discrete.untimed:
            self._expand_untimed(at, node, size, timers)

    def _inputs(self, spot: Spot, number: int) -> tuple[tuple[str, Outcome], ...]:
        """The inputs that matter: what stirs nothing is of use to a liveness question, and once for each discrete state
        to a note of what is taken."""
        if self.keep or (self.note and number not in self._noted):
            self._noted.add(number)
            return self.discrete.inputs(spot, number)
        return self.discrete.stirring(spot, number)

    def _expand_tie(
        self, at: int, node: Node, spot: Spot, number: int, zone: Zone, size: int, own: int, timer: int, far: bool
    ) -> None:
        """Let a timer that runs out in the same millisecond as ``timer`` in all of a class go before it, for a question
        about their order; not where a third one is due between them."""
        discrete = self.discrete
        left = [one for one in discrete.timed(spot) if one != timer]
        for place, other in enumerate(left, own + 1):
            if (timer, other) not in discrete.ties or zone[place * size] > 0:
                continue
            between = [n for n, one in enumerate(left, own + 1) if timer < one < other]
            if all(-zone[n] > 0 for n in between):
                for outcome in discrete.tied(spot, number, timer, other):
                    self._take(at, node, outcome, zone, size, discrete.event_of(timer), timer, far)

    def _expand_untimed(self, at: int, node: Node, size: int, timers: int) -> None:
        """Let each timer without a clock run out, at any time up to when the next one with a clock is due."""
        discrete = self.discrete
        loose = [entry[1] for entry in node.spot.timers if entry[1] in discrete.untimed]
        passed = elapse(node.zone, size, timers, 0) if loose else None
        if passed is None:
            return
        for near, number, cut, far in self._ages(node.spot, node.number, passed, size):
            for timer in loose:
                for outcome in discrete.fires(near, number, timer):
                    self._take(at, node, outcome, cut, size - far, discrete.event_of(timer), timer, far)

    def _ages(self, spot: Spot, number: int, zone: Zone, size: int) -> tuple[tuple[Spot, int, Zone, bool], ...]:
        """The zone parted by whether the last push is so long ago that its time matters no more."""
        if spot.push != COUNTED:
            return ((spot, number, zone, False),)
        push, most = size - 1, self.discrete.push_limit
        out: list[tuple[Spot, int, Zone, bool]] = []
        near = tighten(zone, size, 0, push, most)
        if near is not None:
            out.append((spot, number, near, False))
        far = tighten(zone, size, push, 0, -most - 1)
        if far is not None:
            kept = tuple((place, 0) for place in range(1, push))
            after = spot._replace(push=LONG_AGO)
            out.append((after, self.discrete.number(after), rebuild(far, size, kept), True))
        return tuple(out)

    def _take(
        self, at: int, node: Node, outcome: Outcome, zone: Zone, size: int, event: str, timer: int, far: bool
    ) -> None:
        if outcome.faults and not self.faults:
            return
        for first, near in outcome.cuts:
            cut = tighten(zone, size, 0, size - 1, first) if near else tighten(zone, size, size - 1, 0, -first - 1)
            if cut is None:
                return
            zone = cut
        heard = self._hear(node.mind, node.clocks, outcome.truth, outcome.faults)
        if heard.state is None:
            return
        if outcome.idle and not far and _unmoved(heard, node) and not (outcome.truth and self.keep):
            if self.note:
                self._note(outcome, timer)
            self.graph.idle[at].add(event)
            return
        self._arrive(at, outcome, heard, node.clocks, zone, size, event, timer, far)

    def _hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        if self.mind is None:
            return QUIET
        key = (state, clocks, truth, faults)
        heard = self._heard.get(key)
        if heard is None:
            heard = self._heard[key] = self.mind.hear(state, clocks, truth, faults)
        return heard

    def _ran_out(
        self, at: int, node: Node, spot: Spot, number: int, zone: Zone, size: int, place: int, far: bool
    ) -> None:
        assert self.mind is not None
        clock = node.clocks[place]
        others = tuple(one for one in node.clocks if one != clock)
        heard = self.mind.ran_out(node.mind, others, clock)
        if heard.state is None:
            return
        count = len(self.discrete.timed(spot)) + (spot.push == COUNTED)
        sources = tuple((n, 0) for n in range(1, count + 1))
        same = Outcome(spot, number, sources, (), (), 0, False, False, True)
        self._arrive(at, same, heard, others, zone, size, "", -2 - clock, far)

    # --- arriving ---------------------------------------------------------------------------------------------------

    def _arrive(
        self,
        at: int,
        outcome: Outcome,
        heard: Heard,
        before: tuple[int, ...],
        zone: Zone,
        size: int,
        trigger: str,
        timer: int,
        far: bool,
    ) -> None:
        if self.note:
            self._note(outcome, timer)
        clocks = heard.clocks
        if outcome.steady and (not clocks or all(ms < 0 for _, ms in clocks)) and len(clocks) == len(before):
            made = zone
            own = before
        else:
            shift = len(before)
            sources = [(before.index(clock) + 1, 0) if ms < 0 else (0, ms) for clock, ms in clocks]
            sources += [(place + shift if place else 0, more) for place, more in outcome.sources]
            made = rebuild(zone, size, tuple(sources))
            own = tuple(clock for clock, _ in clocks)
        assert heard.state is not None
        graph = self.graph
        kind: Kind = (outcome.number, heard.state, own)
        if self.discrete.ties:  # a class in which two timers always meet may lie inside one in which they can
            kind = (*kind, self.discrete.links(outcome.spot, outcome.number, made))
        zones = self._zones.get(kind)
        if zones is None:
            zones = self._zones[kind] = {}
        target = zones.get(made, -1)
        if target < 0 and not self.keep and not heard.broken and any(inside(made, other) for other in zones):
            return
        if target >= 0 and not (self.keep or heard.broken or at < 0):
            return  # nothing asks for a way to what has been reached
        edge: Edge = tuple_of(Edge, (target if target >= 0 else len(graph.nodes), trigger, timer, outcome, far, clocks))
        if target < 0:
            zones[made] = len(graph.nodes)
            graph.nodes.append(tuple_of(Node, (outcome.spot, outcome.number, heard.state, own, made)))
            graph.edges.append([])
            graph.idle.append(set())
            graph.parents.append((at, edge))
        if at < 0:
            graph.first.append(edge)
        elif self.keep:
            graph.edges[at].append(edge)
        if heard.broken and graph.broken is None:
            graph.broken = (at, edge)

    def _note(self, outcome: Outcome, timer: int) -> None:
        """Keep which arrows are taken, and which timers run out."""
        used = {(move.track, move.arrow, event) for event, move in outcome.pairs}
        self.graph.used |= used
        if self.goals is not None:
            self.goals -= used
        if timer >= 0:
            self.graph.fired.add(timer)


def _unmoved(heard: Heard, node: Node) -> bool:
    """True where a mind is as it was, its clocks running on."""
    return heard.state == node.mind and not heard.broken and heard.clocks == tuple((one, -1) for one in node.clocks)
