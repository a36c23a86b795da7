"""The sentence forms as small automata over what happens, moment by moment.

Each hears, for every moment, which of its questions are true, and says when its rule is broken. The same automaton runs
beside the classes, and on a replay in the drill's own engine with real clocks. ``noticed``: a fault taken since the
trigger (for ``never``: in the moment itself) excuses; on ways without faults that makes no difference.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

from coach.check.states.classes import Graph, Heard, MindState
from coach.check.states.discrete import COUNTED

CALM = Heard(())


def _kept(clocks: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((clock, -1) for clock in clocks)


def _taken(graph: Graph, clock: int, ms: int) -> int:
    """The most that a mind's clock, started with one ms more than ``ms``, has run down in any class: what the soonest
    of all clocks leaves of it. A run ends before another clock of the mind's runs out."""
    most = 0
    for node in graph.nodes:
        if clock in node.clocks:
            column = node.clocks.index(clock) + 1
            timers = len(node.clocks) + len(graph.discrete.timed(node.spot))
            size = timers + 1 + (node.spot.push == COUNTED)
            others = {place for place, own in enumerate(node.clocks, 1) if own != clock}
            left = -min(node.zone[place * size + column] - (place in others) for place in range(1, timers + 1))
            most = max(most, min(ms, ms + 1 - left))
    return most


class Base(ABC):
    """What all minds share: where their questions' bits stand, whether the trigger was ever seen."""

    def __init__(self, first: int) -> None:
        self.first = first
        self.triggered = False

    def bit(self, truth: int, number: int) -> bool:
        """The answer to the question of that number."""
        return bool(truth >> (self.first + number) & 1)

    def start(self, truth: int, faults: bool) -> Heard:
        """At go, which is a moment like any other."""
        return self.hear(self.fresh(), (), truth, faults)

    def longest(self, graph: Graph) -> int | None:
        """How much of its time limit a rule that holds ever takes, in ms, from above; None where it has none."""
        return None

    def fresh(self) -> MindState:
        """The state before go."""
        return ()

    @abstractmethod
    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        """The new state after a moment."""

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard:
        """The new state after a clock of one's own has run out: the same, for a mind that minds none."""
        return Heard(state, _kept(clocks))


class Never(Base):
    """Questions: it happens; scope opens; scope closes. Looked at from after the opening moment to the closing one.
    ``blames`` where it is itself a fault, which then excuses nothing."""

    def __init__(self, first: int, scoped: bool, blames: bool = False) -> None:
        super().__init__(first)
        self.scoped = scoped
        self.blames = blames
        self.triggered = not scoped

    def fresh(self) -> MindState:
        return (int(not self.scoped),)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        (looking,) = state
        broken = bool(looking) and self.bit(truth, 0) and (self.blames or not faults)
        if self.bit(truth, 2):
            looking = 0
        if self.bit(truth, 1):
            looking, self.triggered = 1, True
        return Heard((looking,), (), broken)


class UnlessSince(Base):
    """Questions: it happens; scope opens; scope closes; what must have come; what makes it necessary again.
    ``at_once`` where what must have come is an event and what happens its effect: in one moment the event is first."""

    def __init__(self, first: int, scoped: bool, blames: bool, at_once: bool) -> None:
        super().__init__(first)
        self.scoped = scoped
        self.blames = blames
        self.at_once = at_once

    def fresh(self) -> MindState:
        return (int(not self.scoped), 0)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        looking, came = state
        happens = bool(looking) and self.bit(truth, 0)
        self.triggered = self.triggered or happens
        known = came or (self.at_once and self.bit(truth, 3))
        broken = happens and not known and (self.blames or not faults)
        if self.bit(truth, 4):
            came = 0
        if self.bit(truth, 3):
            came = 1
        if self.bit(truth, 2):
            looking = 0
        if self.bit(truth, 1):
            looking = 1
        return Heard((looking, came), (), broken)


class NextStep(Base):
    """Questions: the trigger; the track enters a step; the last step it enters is a good one; it stands in one; scope
    closes. State: waiting, a fault since the trigger. ``later`` where the trigger is itself the entering of a step:
    then only what is entered after that moment is next."""

    def __init__(self, first: int, later: bool) -> None:
        super().__init__(first)
        self.later = later

    def fresh(self) -> MindState:
        return (0, 0)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        waiting, fault = state
        fault = int(bool(waiting) and (bool(fault) or faults))
        broken = False
        enters, good = self.bit(truth, 1), self.bit(truth, 2)
        if waiting and enters:
            waiting = 0
            broken = not good and not fault
        if self.bit(truth, 4):
            waiting = 0
        if self.bit(truth, 0):
            self.triggered = True
            if self.later:
                waiting, fault = 1, int(faults)
            elif enters:
                broken = broken or (not good and not faults)
            elif not self.bit(truth, 3):
                waiting, fault = 1, int(faults)
        return Heard((waiting, fault if waiting else 0), (), broken)


class Within(Base):
    """Questions: the trigger; what is expected; scope closes. One clock; state: waiting, a fault since."""

    def __init__(self, first: int, ms: int) -> None:
        super().__init__(first)
        self.ms = ms

    def fresh(self) -> MindState:
        return (0, 0)

    def longest(self, graph: Graph) -> int | None:
        return _taken(graph, 0, self.ms)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        waiting, fault = state
        done = self.bit(truth, 1) or self.bit(truth, 2)
        if waiting and done:
            waiting = 0
        fault = int(bool(waiting) and (bool(fault) or faults))
        if self.bit(truth, 0):
            self.triggered = True
            if not self.bit(truth, 1) and not waiting:
                return Heard((1, int(faults)), ((0, self.ms + 1),))
        return Heard((waiting, fault), ((0, -1),) if waiting else ())

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard:
        return Heard((0, 0), (), not state[1])


class AtMost(Base):
    """Questions: the guard holds; a prompt is said. Clock 0 is the time to follow a prompt (a run in which it runs out
    is outside of what is assumed), clock 1 the limit. State: holding, a fault since."""

    def __init__(self, first: int, ms: int, follow: int) -> None:
        super().__init__(first)
        self.ms = ms
        self.follow = follow

    def fresh(self) -> MindState:
        return (0, 0)

    def longest(self, graph: Graph) -> int | None:
        return _taken(graph, 1, self.ms)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        held, fault = state
        if not self.bit(truth, 0):
            return Heard((0, 0))
        self.triggered = True
        running = dict(_kept(clocks)) if held else {1: self.ms + 1}
        if self.follow and self.bit(truth, 1) and 0 not in running:
            running[0] = self.follow + 1
        return Heard((1, int(faults or (bool(held) and bool(fault)))), tuple(sorted(running.items())))

    def ran_out(self, state: MindState, clocks: tuple[int, ...], clock: int) -> Heard:
        if clock == 0:
            return Heard(None)
        return Heard((1, state[1]), _kept(clocks), not state[1])


class Counting(Base):
    """Questions: what is counted; the stretch begins; it ends. State: inside, the count, a fault since."""

    def __init__(self, first: int, least: int, most: int | None) -> None:
        super().__init__(first)
        self.least = least
        self.most = most

    def fresh(self) -> MindState:
        return (0, 0, 0)

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        inside, count, fault = state
        fault = int(bool(inside) and (bool(fault) or faults))
        broken = False
        bound = self.most + 1 if self.most is not None else self.least
        if inside and self.bit(truth, 0) and count < bound:
            count += 1
            broken = self.most is not None and count > self.most and not fault
        if inside and self.bit(truth, 2):
            broken = broken or (count < self.least and not fault)
            inside = count = fault = 0
        if self.bit(truth, 1):
            self.triggered = True
            inside, count, fault = 1, 0, 0
        return Heard((inside, count, fault), (), broken)


class Seen(Base):
    """Question: it happens. That ends the search: what is sought has been found."""

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        return Heard((), (), self.bit(truth, 0))


class Blank(Base):
    """Watches nothing: for questions that are asked of the whole graph."""

    def hear(self, state: MindState, clocks: tuple[int, ...], truth: int, faults: bool) -> Heard:
        return CALM
