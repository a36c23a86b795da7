"""The whole order of a drill: each track as an automaton, and the cheapest way to read what was seen as a way through.

Every visit of a step counts, not only the first. A step left without what does it is omitted, at a cost by its
severity, unless nobody need do it, it is not for this casualty, or the world took it away (a person who wakes, a
verdict of no shock). All ways that a file has from a step are free: alternatives are no errors. What comes from timers
and from the protocol's own events is free too. A drill may end anywhere: what was not reached is not omitted.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from coach.measure.alignment import Model, Move
from coach.measure.floor import ON_MARKS, Event, Floor
from coach.observations import OBSERVATIONS
from coach.protocol.model import Arrow, Protocol, Severity, Step, Track
from coach.same import Same

WEIGHTS: dict[Severity, int] = {"critical": 4, "major": 2, "minor": 1}
"""What a step costs that is left out, or that is seen where it does not belong. A tool's choice: it only ranks."""
WORLD = 8
"""What it costs to overlook something that the world did: no reading gets by without what was thrown or advised."""

MOOT = frozenset({"signs_of_life", "life_fades", "no_shock_advised", "crew_arrived", "period_cut"})
"""What the world does that takes a step away without a fault of anybody's."""

VisitStatus = Literal["done", "out of order", "omitted", "extra"]


@dataclass(frozen=True, slots=True)
class Visit:
    """One thing of an order: a step done, out of order or omitted, or something extra. ``at`` in ms, ``None`` for what
    was not seen; ``event`` is its line."""

    status: VisitStatus
    step: str
    name: str
    at: int | None = None
    event: int | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """The order of one track: what its cheapest reading costs, and its visits in order."""

    track: str
    cost: int
    visits: tuple[Visit, ...]

    def of(self, step: str) -> tuple[Visit, ...]:
        """The visits of one step."""
        return tuple(visit for visit in self.visits if visit.step == step)


class TrackModel:
    """One track as an automaton: two states a step, before and after what does it."""

    def __init__(self, protocol: Protocol, name: str, asked: Collection[str], beats: bool) -> None:
        self.name = name
        self.track: Track = protocol.track[name]
        self._beats = beats
        self._names = list(self.track.step)
        self._injects = protocol.inject
        self._asked = frozenset(asked)
        self._moves: list[Move] = []
        self._extra_states = 0
        self.does = {ident: self._widened(step.done) for ident, step in self.track.step.items()}
        for ident, step in self.track.step.items():
            self._leave(ident, step)
        for group in self.track.either_order:
            self._either(group)
        self.model = Model(
            2 * len(self._names) + self._extra_states,
            tuple(self._moves),
            self._state(self.track.start, self.free(self.track.start)),
        )
        steps = {move.label for move in self._moves if move.src >> 1 != move.dst >> 1 or move.step}
        self.labels = frozenset(label for label in steps if label)

    def _widened(self, names: Iterable[str]) -> frozenset[str]:
        wanted = frozenset(names)
        return wanted | ON_MARKS if "compression" in wanted and not self._beats else wanted

    def free(self, ident: str) -> bool:
        """Whether nobody need do anything in this step before it is left."""
        step = self.track.step[ident]
        return not step.done or not step.required or ident not in self._asked

    def _state(self, ident: str, done: bool) -> int:
        return 2 * self._names.index(ident) + done

    def _entered(self, ident: str, by: str) -> int:
        """The state in which a step is entered; one that is entered by what does it is done (a set of breaths)."""
        return self._state(ident, self.free(ident) or by in self.does[ident])

    def _weight(self, ident: str) -> int:
        return 0 if self.free(ident) else WEIGHTS[self.track.step[ident].severity]

    def _leave(self, ident: str, step: Step) -> None:
        before, after = self._state(ident, False), self._state(ident, True)
        here = (before,) if before == after else (before, after)
        moved = set()
        for arrow in (*step.go, *self.track.go):
            for name in self._widened(arrow.on):
                if arrow.to and arrow.to in self.track.step and arrow.to != ident:
                    moved |= self._move(ident, arrow, name, here)
                elif name in OBSERVATIONS and arrow.fault is None:
                    # Taken where the drill stands, and nothing moves: so it is not extra, though it does no step.
                    self._moves += [Move(state, state, name, None) for state in here if name not in self.does[ident]]
                    if name in self.does[ident]:
                        self._moves.append(Move(after, after, name, None))
        stays = self.does[ident] - moved
        for name in sorted(stays):
            self._moves.append(Move(before, after, name, self._weight(ident), ident))
        if moved & self.does[ident] and not self.free(ident):
            # Left out, and then left by another way of the file's.
            self._moves.append(Move(before, after, f"omitted:{ident}", self._weight(ident), ident))

    def _move(self, ident: str, arrow: Arrow, name: str, here: tuple[int, ...]) -> set[str]:
        before, after = here[0], here[-1]
        to = self._entered(arrow.to, name)
        if name in self.does[ident]:
            self._moves.append(Move(before, to, name, self._weight(ident), ident))
            if self.free(ident):
                self._moves.append(Move(after, to, name, 0, ident))
            return {name}
        observed = name in OBSERVATIONS or name.startswith("inject:")
        label = name if observed else ""
        moot = name in MOOT or name.startswith("inject:") or self.free(ident)
        for state in here if moot else (after,):
            # Nothing of the world is made up: what it does is seen, or it was not.
            self._moves.append(Move(state, to, label, None))
        return set()

    def _either(self, group: Sequence[str]) -> None:
        """Steps of a spine that follow each other and may come in any order: a state for each set still to be done."""
        spine = self.track.spine
        places = sorted(spine.index(ident) for ident in group if ident in spine)
        if len(places) != len(group) or places != list(range(places[0], places[0] + len(places))):
            return
        members = [spine[place] for place in places]
        if places[-1] + 1 >= len(spine):
            return
        following = spine[places[-1] + 1]
        states: dict[frozenset[str], int] = {frozenset(members): self._state(members[0], self.free(members[0]))}

        def state(left: frozenset[str]) -> int:
            if not left:
                return self._state(following, self.free(following))
            if left not in states:
                states[left] = 2 * len(self._names) + self._extra_states
                self._extra_states += 1
                grow(left)
            return states[left]

        def grow(left: frozenset[str]) -> None:
            for ident in sorted(left, key=members.index):
                for name in sorted(self.does[ident]):
                    self._moves.append(Move(states[left], state(left - {ident}), name, self._weight(ident), ident))

        grow(frozenset(members))

    def extra(self, name: str) -> int:
        """What it costs to call something seen beyond the order: the weight of the gravest step that it does."""
        if name not in OBSERVATIONS or OBSERVATIONS[name].by != "learner":
            return WORLD
        return max((self._weight(ident) for ident, names in self.does.items() if name in names), default=0) or 1

    def tokens(self, floor: Floor) -> list[Event]:
        """What was seen of this track, a row of the same kind (a run, a set of breaths) as its first."""
        found: list[Event] = []
        last = ""
        for event in floor.rows:
            if event.name in self.labels:
                kind = "pushing" if event.name in ON_MARKS else event.name
                if kind != last:
                    found.append(event)
                last = kind
        return found


def order_of(track: TrackModel, floor: Floor, no_order_ms: int) -> Order:
    """The order of one track. What was left out and came elsewhere is out of order; within the window it has none."""
    seen = track.tokens(floor)
    names = [event.name for event in seen]
    aligned = track.model.align(names, [track.extra(name) for name in names])
    visits: list[Visit] = []
    loose: list[Visit] = []
    for read in aligned.reads:
        event = None if read.at is None else seen[read.at]
        step = "" if read.move is None else read.move.step
        if read.kind == "extra" and event is not None:
            visits.append(Visit("extra", "", event.name, event.e, event.seq))
        elif read.kind == "done" and event is not None:
            if step:
                visits.append(Visit("done", step, event.name, event.e, event.seq))
            elif read.move is not None and read.move.src == read.move.dst:
                loose.append(Visit("extra", "", event.name, event.e, event.seq))
        elif step and read.kind == "omitted" and not track.free(step):
            visits.append(Visit("omitted", step, ""))
    return Order(track.name, aligned.cost, tuple(_paired(visits, loose, track, no_order_ms)))


def _paired(visits: list[Visit], loose: list[Visit], track: TrackModel, no_order_ms: int) -> list[Visit]:
    """The visits with each omitted one that came elsewhere put out of order, or done where it is near. ``loose`` are
    things that the drill took elsewhere without a step of their own."""
    left = list(visits)
    spare = [*(one for one in visits if one.status == "extra"), *loose]
    for place, visit in enumerate(visits):
        if visit.status != "omitted":
            continue
        other = next((one for one in spare if one.name in track.does[visit.step]), None)
        if other is None:
            continue
        spare.remove(other)
        if other in left:
            left.remove(other)
        beside = [one.at for one in visits[max(0, place - 1) : place + 2] if one.at is not None]
        near = bool(beside) and all(abs(at - (other.at or 0)) < no_order_ms for at in beside)
        status: VisitStatus = "done" if near else "out of order"
        left[left.index(visit)] = Visit(status, visit.step, other.name, other.at, other.event)
    return left


@lru_cache(maxsize=64)
def _model(protocol: Same[Protocol], name: str, asked: frozenset[str], beats: bool) -> TrackModel:
    """One track's automaton; the drills of a class share it."""
    return TrackModel(protocol.it, name, asked, beats)


def orders_of(
    protocol: Protocol, floor: Floor, asked: Collection[str], no_order_ms: int, fed: frozenset[int] = frozenset()
) -> tuple[Order, ...]:
    """The order of every track that has something to be done; ``asked`` are the steps that are for this casualty.
    ``fed`` are lines that a drill begun at a step has behind it: they place it, and are no visits."""
    orders = (
        order_of(_model(Same(protocol), name, frozenset(asked), floor.beats), floor, no_order_ms)
        for name, track in protocol.track.items()
        if any(step.done for step in track.step.values())
    )
    return tuple(
        replace(order, visits=tuple(visit for visit in order.visits if visit.event not in fed)) for order in orders
    )
