"""Two versions' machines laid over one set of names, so that a state of one can be held against a state of the other.

Every track, step, counter, mark, timer and fact that either version has gets one place for both; what a version lacks
stands still in it. Every move bears a tag of its own as its arrow, by which it is found again in a part of a machine.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product

from coach.check.compare.guards import Room
from coach.check.states.reads import Reads, reads_of
from coach.engine.machine import GuardFunction, Machine, Move, TimerInfo, TrackInfo
from coach.protocol import guards
from coach.protocol.guards import Expr, Layout
from coach.protocol.model import Protocol

Spotted = tuple[str, int, int]
"""(event, track, step): the arrows that one step of a track tries on one event."""


class NotAligned(ValueError):
    """The two cannot be held against each other state by state; the message says what stands in the way."""


@dataclass(frozen=True, slots=True)
class Aligned:
    """Two machines over the same names. ``moves`` has every move by its tag, with the version (0 old, 1 new) it is of;
    ``spots`` are all places at which either tries an arrow, with what their guards read; ``turned`` those at which
    tracks that the two declare in another order do what does not come to the same in either. ``order`` are the new
    version's timers in the order that they have here."""

    machines: tuple[Machine, Machine]
    moves: dict[str, Move]
    exprs: dict[str, Expr | None]
    spots: dict[Spotted, Reads]
    turned: frozenset[Spotted]
    order: tuple[str, ...]

    def tried(self, side: int, spot: Spotted) -> tuple[Move, ...]:
        """The moves that one version tries at a place, in their order."""
        event, track, step = spot
        for place, by_step in self.machines[side].table.get(event, ()):
            if place == track:
                return by_step[step]
        return ()


def align(old: Protocol, new: Protocol, machines: tuple[Machine, Machine], renamed: Mapping[str, str]) -> Aligned:
    """Lay two machines over the same names; ``renamed`` gives the new name of a step that was renamed. Raises
    :class:`NotAligned`."""
    _same_names(old, new, machines)
    back = {now: was for was, now in renamed.items()}
    names = _Names(machines, back)
    moves: dict[str, Move] = {}
    exprs: dict[str, Expr | None] = {}
    made = tuple(
        _Layer(machine, names, {} if side == 0 else back, f"{side}:", Room(protocol), moves, exprs).machine()
        for side, (machine, protocol) in enumerate(zip(machines, (old, new), strict=True))
    )
    both = _filled(made[0], made[1])
    _start_alike(both[1], [names.tracks[info.name] for info in machines[1].tracks])
    turned = {spot for machine in both for spot in _turned(machine)}
    spots: dict[Spotted, Reads] = {}
    for machine in both:
        for event, row in machine.table.items():
            for track, by_step in row:
                for step, tried in enumerate(by_step):
                    if tried:
                        reads = spots.setdefault((event, track, step), Reads())
                        for move in tried:
                            if move.guard is not None:
                                reads.add(reads_of(machine.guards[move.guard], machine))
    return Aligned(both, moves, exprs, spots, frozenset(turned), names.order)


def _same_names(old: Protocol, new: Protocol, machines: tuple[Machine, Machine]) -> None:
    """Refuse versions in which one name means different things."""
    for name in [name for name in old.facts if name in new.facts]:
        one, two = (
            each.facts[name].model_dump(exclude={"title", "source", "default", "length"}) for each in (old, new)
        )
        if one != two:
            raise NotAligned(f"the fact {name} can be something else in each")
    kinds = [
        {name: kind for kind in ("facts", "counters", "terms") for name in getattr(each, kind)} for each in (old, new)
    ]
    for known, marks in zip(kinds, reversed(machines), strict=True):
        known |= {name: "marks" for name in marks.marks if name not in known}
    for name in kinds[0].keys() & kinds[1].keys():
        if kinds[0][name] != kinds[1][name]:
            raise NotAligned(f"{name} is another kind of thing in each")


def _filled(old: Machine, new: Machine) -> tuple[Machine, Machine]:
    """Each with the other's facts, its timers that it has not itself, and the places where its own tracks start."""
    facts = {**new.layout.facts, **old.layout.facts}
    made = []
    for one, other in ((old, new), (new, old)):
        timers = tuple(mine if mine.event else its for mine, its in zip(one.timers, other.timers, strict=True))
        tracks = tuple(
            mine if mine.steps else replace(its, entries=_blank(place, len(its.steps)), built_in=True)
            for place, (mine, its) in enumerate(zip(one.tracks, other.tracks, strict=True))
        )
        most = tuple(max(pair) for pair in zip(one.counter_most, other.counter_most, strict=True))
        layout = replace(one.layout, facts=facts)
        made.append(replace(one, timers=timers, tracks=tracks, counter_most=most, layout=layout))
    return made[0], made[1]


def _blank(track: int, steps: int) -> tuple[Move, ...]:
    """Entries of a track in which nothing happens."""
    return tuple(Move(None, "", track, step, step, 0, 0, (), (), (), (), False, "") for step in range(steps))


def _joined(one: Sequence[str], two: Sequence[str]) -> list[str]:
    """The names of both: the first's in its order, each that only the second has after its neighbour there."""
    out = list(one)
    for place, name in enumerate(two):
        if name not in out:
            after = next((out.index(other) + 1 for other in reversed(two[:place]) if other in out), 0)
            out.insert(after, name)
    return out


def arranged(protocol: Protocol, machine: Machine, order: Sequence[str]) -> Machine:
    """The machine with its timers, all of which ``order`` names, declared in that order."""
    names = _Names((machine, machine), {})
    names.timers = _index(order)
    made = _Layer(machine, names, {}, "", Room(protocol), {}, {}).machine()
    return replace(made, facts=machine.facts)


class _Names:
    """The places of all names of both machines."""

    def __init__(self, machines: tuple[Machine, Machine], back: Mapping[str, str]) -> None:
        old, new = machines
        self.tracks = _index(_joined([info.name for info in old.tracks], [info.name for info in new.tracks]))
        self.steps: dict[str, dict[str, int]] = {}
        for name in self.tracks:
            own = [[step for info in each.tracks if info.name == name for step in info.steps] for each in machines]
            self.steps[name] = _index(_joined(own[0], [back.get(step, step) for step in own[1]]))
        self.counters = _index(_joined(old.counters, new.counters))
        self.marks = _index(_joined(old.marks, [canonical(mark, back) for mark in new.marks]))
        order = [canonical(info.name, back) for info in new.timers]
        self.timers = _index(_joined([info.name for info in old.timers], order))
        self.facts = _index(_joined(old.fact_names, new.fact_names))
        called = {canonical(info.name, back): info.name for info in new.timers}
        self.order = tuple(called[name] for name in self.timers if name in called)


def _index(names: Iterable[str]) -> dict[str, int]:
    return {name: place for place, name in enumerate(names)}


def canonical(name: str, back: Mapping[str, str]) -> str:
    """The old name of a mark or timer that bears the name of a renamed step."""
    for prefix in ("late.", "within:"):
        if name.startswith(prefix):
            step = name.removeprefix(prefix)
            return f"{prefix}{back.get(step, step)}"
    return name


class _Layer:
    """One machine on its way to the common names."""

    def __init__(
        self,
        machine: Machine,
        names: _Names,
        back: Mapping[str, str],
        tag: str,
        room: Room,
        moves: dict[str, Move],
        exprs: dict[str, Expr | None],
    ) -> None:
        self.whole, self.names, self.back, self.tag, self.room = machine, names, back, tag, room
        self.moves, self.exprs = moves, exprs
        self.track = [names.tracks[info.name] for info in machine.tracks]
        self.step = [[names.steps[info.name][back.get(step, step)] for step in info.steps] for info in machine.tracks]
        self.counter = [names.counters[name] for name in machine.counters]
        self.bits = [1 << names.marks[canonical(name, back)] for name in machine.marks]
        self.timer = [names.timers[canonical(info.name, back)] for info in machine.timers]
        self.layout = self._layout()
        self.compiled: dict[GuardFunction, GuardFunction] = {}
        self.guards: dict[GuardFunction, Expr] = {}
        self.done: dict[int, Move] = {}

    def _layout(self) -> Layout:
        was, names, back = self.whole.layout, self.names, self.back
        facts = {name: (names.facts[name], fact) for name, (_, fact) in was.facts.items()}
        steps = {(track, step): at for track, own in names.steps.items() for step, at in own.items()}
        steps |= {(track, step): names.steps[track][back.get(step, step)] for track, step in was.steps}
        marks = {**names.marks, **{name: names.marks[canonical(name, back)] for name in was.marks}}
        timers = {**names.timers, **{name: names.timers[canonical(name, back)] for name in was.timers}}
        return Layout(facts, names.counters, marks, timers, names.tracks, steps, was.terms)

    def _guard(self, guard: GuardFunction) -> GuardFunction:
        if guard not in self.compiled:
            expr = self.whole.guards[guard]
            made = self.compiled[guard] = guards.compile_guard(expr, self.layout)
            self.guards[made] = expr
        return self.compiled[guard]

    def _marks(self, bits: int) -> int:
        return sum(bit for place, bit in enumerate(self.bits) if bits >> place & 1)

    def _move(self, move: Move) -> Move:
        made = self.done.get(id(move))
        if made is None:
            tag = f"{self.tag}{len(self.done)}"
            made = move._replace(
                guard=self._guard(move.guard) if move.guard is not None else None,
                arrow=tag,
                track=self.track[move.track],
                source=self.step[move.track][move.source],
                to=self.step[move.track][move.to] if move.to >= 0 else -1,
                clear=self._marks(move.clear),
                mark=self._marks(move.mark),
                counts=tuple(one._replace(counter=self.counter[one.counter]) for one in move.counts),
                timing=tuple((what, self.timer[timer]) for what, timer in move.timing),
            )
            self.done[id(move)] = self.moves[tag] = made
            expr = self.whole.guards[move.guard] if move.guard is not None else None
            self.exprs[tag] = self.room.opened(expr) if expr is not None else None
        return made

    def machine(self) -> Machine:
        names, whole = self.names, self.whole
        tracks = [TrackInfo(name, (), 0, (), True) for name in names.tracks]
        for place, info in enumerate(whole.tracks):
            at, own, steps = self.track[place], self.step[place], names.steps[info.name]
            entries = list(_blank(at, len(steps)))
            for step, entry in enumerate(info.entries):
                entries[own[step]] = self._move(entry)
            tracks[at] = TrackInfo(info.name, tuple(steps), own[info.start], tuple(entries), info.built_in)
        timers = [TimerInfo(name, "", 0, 0, 1, False) for name in names.timers]
        for place, timer in enumerate(whole.timers):
            timers[self.timer[place]] = replace(timer, late=self._marks(timer.late))
        counters = [0] * len(names.counters)
        for place, most in enumerate(whole.counter_most):
            counters[self.counter[place]] = most
        table = {
            event: tuple((self.track[track], self._row(track, by_step)) for track, by_step in row)
            for event, row in whole.table.items()
        }
        return replace(
            whole,
            tracks=tuple(tracks),
            counters=tuple(names.counters),
            counter_most=tuple(counters),
            marks=tuple(names.marks),
            timers=tuple(timers),
            fact_names=tuple(names.facts),
            facts=(),
            table=table,
            armed=frozenset((self.track[track], self.step[track][step]) for track, step in whole.armed),
            layout=self.layout,
            guards=self.guards,
        )

    def _row(self, track: int, by_step: tuple[tuple[Move, ...], ...]) -> tuple[tuple[Move, ...], ...]:
        out: list[tuple[Move, ...]] = [()] * len(self.names.steps[self.whole.tracks[track].name])
        for step, tried in enumerate(by_step):
            out[self.step[track][step]] = tuple(self._move(move) for move in tried)
        return tuple(out)


# --- the order of tracks ----------------------------------------------------------------------------------------------


def _start_alike(machine: Machine, order: list[int]) -> None:
    """Refuse a machine whose tracks do at go what hangs on their order, if that is another one than here."""
    starts = [(track, machine.tracks[track].entries[machine.tracks[track].start]) for track in order]
    for (one, first), (two, second) in combinations(starts, 2):
        if one > two and not commute(first, second):
            names = f"{machine.tracks[two].name} and {machine.tracks[one].name}"
            raise NotAligned(f"the tracks {names} stand in another order, and both act at go")


def _turned(machine: Machine) -> Iterator[Spotted]:
    """Where tracks act that stand in another order here than on the common one, and do what does not commute."""
    for event, row in machine.table.items():
        for (one, first), (two, second) in combinations(row, 2):
            if one < two:
                continue
            for (a, tried), (b, others) in product(enumerate(first), enumerate(second)):
                if any(not commute(move, other) for move, other in product(tried, others)):
                    yield event, one, a
                    yield event, two, b


def commute(one: Move, two: Move) -> bool:
    """Whether two moves of different tracks come to the same in either order."""
    timers = {timer for _, timer in one.timing} & {timer for _, timer in two.timing}
    counters = {count.counter for count in one.counts} & {count.counter for count in two.counts}
    marks = (one.clear | one.mark) & (two.clear | two.mark)
    pushed = (one.pushed and two.timing) or (two.pushed and one.timing)
    return not (timers or counters or marks or pushed or (one.emits and two.emits))
