"""Two timers that always run out in one millisecond on some way through a protocol, and whose order matters there.

That a person's key makes two timers meet is chance: a millisecond earlier or later either would be first anyway. Asked
for here are those that the file itself leads to one moment, whatever the times of the keys. Both orders are followed
side by side from there, until what is seen or heard differs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from coach.check.compare.aligned import Aligned, Spotted, arranged
from coach.check.compare.twins import BOTH, End, Grow, Twin, part_of, stand, writes
from coach.check.proof.witness import Run
from coach.check.states.discrete import COUNTED, Outcome, Pair, Spot
from coach.check.states.openfacts import Known
from coach.check.states.reads import Reads, reads_of
from coach.check.states.sight import Sight
from coach.check.states.zones import Zone, linked
from coach.engine.build import build
from coach.engine.machine import STOP, Machine, Move
from coach.engine.step import advance, feed, start
from coach.protocol.model import Protocol

HORIZON_MS = 5 * 60_000
"""How long after a moment timers that follow one another from it are looked at for a meeting."""

MANY = 300
"""Moments at which a timer may run out; with more than these it is taken to meet any other."""


# --- which could meet -------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Acts:
    """What the running out of a timer reads and writes, with all that it emits."""

    reads: Reads
    writes: Reads


def chain(machine: Machine, event: str) -> list[str]:
    """An event with all that it can make be emitted."""
    out = [event]
    for name in out:  # grows while it is read
        for move in _moves(machine, name):
            out += [one for one in move.emits if one not in out]
    return out


def candidates(machine: Machine) -> list[tuple[int, int]]:
    """The pairs of timers that may be due together after some one moment, and do not plainly come to the same in
    either order."""
    acts = [_acts(machine, timer) for timer in range(len(machine.timers))]
    met = _moments(machine)
    return [
        (one, two)
        for one, two in combinations(range(len(machine.timers)), 2)
        if (met[one] & met[two] or len(met[one]) > MANY or len(met[two]) > MANY)
        and _clash(acts[one], acts[two], one, two)
    ]


def swaps(order: Sequence[str], wanted: Sequence[str]) -> Iterator[tuple[tuple[str, ...], int]]:
    """The steps, each of two neighbours changing places, that lead from one order of some names to another: each order
    before, and the place of the first of the two."""
    now = list(order)
    rank = {name: place for place, name in enumerate(wanted)}
    for _ in now:
        for place in range(len(now) - 1):
            if rank[now[place]] > rank[now[place + 1]]:
                yield tuple(now), place
                now[place], now[place + 1] = now[place + 1], now[place]


def _moves(machine: Machine, event: str) -> Iterator[Move]:
    for _, by_step in machine.table.get(event, ()):
        for moves in by_step:
            yield from moves


def _acts(machine: Machine, timer: int) -> _Acts:
    info = machine.timers[timer]
    acts = _Acts(Reads(), Reads(marks=info.late))
    for event in chain(machine, info.event):
        for track, by_step in machine.table.get(event, ()):
            if len(by_step) > 1:
                acts.reads.tracks.add(track)
        for move in _moves(machine, event):
            if move.guard is not None:
                acts.reads.add(reads_of(machine.guards[move.guard], machine))
            if move.to >= 0:
                acts.writes.tracks.add(move.track)
            acts.writes.marks |= move.clear | move.mark
            acts.writes.counters |= {count.counter for count in move.counts}
            acts.writes.timers |= {one for _, one in move.timing}
            acts.writes.push = acts.writes.push or move.pushed
    return acts


def _clash(one: _Acts, two: _Acts, first: int, second: int) -> bool:
    def meet(a: Reads, b: Reads) -> bool:
        common = a.common(b)
        return common.size() != Reads().size()

    own = first in two.writes.timers or second in one.writes.timers
    return own or meet(one.writes, two.writes) or meet(one.writes, two.reads) or meet(one.reads, two.writes)


def _moments(machine: Machine) -> list[set[tuple[str, int]]]:
    """For each timer: the moments from outside, by their event, from which it may run out, and how many ms after."""
    emitted: dict[str, set[str]] = {}
    starts: list[set[str]] = [set() for _ in machine.timers]
    pushes: set[str] = set()
    for event in machine.table:
        for move in _moves(machine, event):
            for name in move.emits:
                emitted.setdefault(name, set()).add(event)
            if move.pushed:
                pushes.add(event)
            for what, timer in move.timing:
                if what != STOP:
                    starts[timer].add(event)
    for entry in (track.entries[track.start] for track in machine.tracks):
        for name in entry.emits:
            emitted.setdefault(name, set()).add("go")
        for what, timer in entry.timing:
            if what != STOP:
                starts[timer].add("go")
    by_event = {info.event: place for place, info in enumerate(machine.timers)}
    found: list[set[tuple[str, int]]] = [set() for _ in machine.timers]

    def roots(event: str, seen: frozenset[str]) -> set[tuple[str, int]]:
        out = set(found[by_event[event]]) if event in by_event else {(event, 0)}
        for other in emitted.get(event, ()):
            if other not in seen:
                out |= roots(other, seen | {event})
        return out

    grown = True
    while grown:
        grown = False
        for timer, info in enumerate(machine.timers):
            if len(found[timer]) > MANY:
                continue
            begun = {root for event in starts[timer] for root in roots(event, frozenset())}
            due = {(root, ms + info.first) for root, ms in begun}
            if info.since_push:
                due |= begun | {(root, ms + info.first) for event in pushes for root, ms in roots(event, frozenset())}
            fresh, rounds = due - found[timer], info.most if info.most > 0 else MANY
            while fresh and info.every and rounds > 1 and len(due) <= MANY:
                fresh = {(root, ms + info.every) for root, ms in fresh} - due
                due |= fresh
                rounds -= 1
            due = {one for one in due if one[1] <= HORIZON_MS}
            if not due <= found[timer]:
                found[timer] |= due
                grown = True
    return found


def leading_to(machine: Machine, pair: tuple[int, int]) -> Reads:
    """The timers whose running out can lead to the start of one of a pair, those themselves, and whether the last push
    can."""
    reach = [set(chain(machine, info.event)) for info in machine.timers]
    begins = [
        {
            event
            for event in machine.table
            for move in _moves(machine, event)
            if any(what != STOP and timer == place for what, timer in move.timing)
        }
        for place in range(len(machine.timers))
    ]
    found = list(pair)
    for timer in found:  # grows while it is read
        found += [one for one, events in enumerate(reach) if one not in found and events & begins[timer]]
    return Reads(timers=set(found), push=any(machine.timers[timer].since_push for timer in found))


# --- both orders side by side -----------------------------------------------------------------------------------------


class Tied(Twin):
    """A machine beside itself, of which one lets the second of two timers go first where both run out together.
    ``leading`` is what can lead them there; see :func:`leading_to`."""

    def __init__(self, pair: tuple[int, int], leading: Reads, aligned: Aligned, *given: Any) -> None:
        super().__init__(aligned, *given)
        self.ties = frozenset({(3 * pair[0] + BOTH, 3 * pair[1] + BOTH)})
        self.leading = leading
        self._leading: dict[int, tuple[list[int], int]] = {}

    def tied(self, spot: Spot, number: int, timer: int, other: int) -> tuple[Outcome, ...]:
        """Each way in which both can go, the first before the second on the old side, after it on the new one."""
        self.other = other
        try:
            return self._forked(spot, timer, f"tie:{other}")
        finally:
            self.other = -1

    other = -1
    """The clock that runs out with the one that is asked for; -1 for none."""

    def links(self, spot: Spot, number: int, zone: Zone) -> tuple[tuple[int, int, int], ...]:
        """The clocks that lead to a tie, where they lie the same time apart in all of a class. Where the two have gone
        their own ways already, it is the end that is asked for, and any way to it will do."""
        found = self._leading.get(number)
        if found is None:
            clocks = self.timed(spot)
            places: list[int] = []
            if len(set(self.split(spot))) == 1 and all(clock % 3 == BOTH for clock in clocks):
                places = [place for place, clock in enumerate(clocks, 1) if clock // 3 in self.leading.timers]
                if self.leading.push and spot.push == COUNTED:
                    places.append(len(clocks) + 1)
            found = self._leading[number] = places, len(clocks) + 1 + (spot.push == COUNTED)
        return linked(zone, found[1], found[0])

    def run(self, spot: Spot, known: Known, cuts: dict[int, bool], timer: int | None, event: str) -> Outcome | None:
        """As for a twin, or both timers of a tie."""
        clocks = [clock for clock in self.timed(spot) if clock != timer]
        befores = self.split(spot)
        if self.other < 0 or timer is None:
            if befores[0] != befores[1] or any(entry[1] % 3 != BOTH for entry in spot.timers):
                return super().run(spot, known, cuts, timer, event)
            # one machine in one state: both do the same
            out = self.sides[0].run(befores[0], known, cuts, timer // 3 if timer is not None else None, event)
            if out is None:
                return None
            end = self.end_of(0, out, befores[0], clocks)
            return self.made(spot, (end, end), clocks, cuts, out.pairs, False, timer is None)
        orders = ((timer // 3, self.other // 3), (self.other // 3, timer // 3))
        ends: list[End] = []
        all_pairs: list[tuple[Pair, ...]] = []
        taken: list[list[Pair]] = []
        seen = []
        for side, order in enumerate(orders):
            end, pairs, fired = self._both(side, befores[side], known, cuts, order, clocks)
            ends.append(end)
            all_pairs.append(pairs)
            taken.append(self.suspected(pairs))
            late = [token for one in fired for token in self.told(side, (), 3 * one + BOTH)]
            seen.append(sorted([*self.told(side, taken[side], None), *late]))
        truth = seen[0] != seen[1]
        if not truth:
            self._tell_apart(taken, ends)
        return self.made(spot, ends, clocks, cuts, all_pairs[0], truth, False)

    def _both(
        self, side: int, before: Spot, known: Known, cuts: dict[int, bool], order: tuple[int, int], clocks: list[int]
    ) -> tuple[End, tuple[Pair, ...], list[int]]:
        """One version after both, the second only if the first leaves it running; and which have run out."""
        each = self.sides[side]
        first = each.run(before, known, cuts, order[0], each.event_of(order[0]))
        assert first is not None, "a timer always can"
        local = [timer for timer in each.timed(before) if timer != order[0]]
        placed = dict(zip(each.timed(first.spot), first.sources, strict=False))
        due = (local.index(order[1]) + 1, 0)
        fired, pairs, out = [order[0]], first.pairs, first
        if placed.get(order[1]) == due:
            then = each.run(first.spot, first.spot.known, cuts, order[1], each.event_of(order[1]))
            assert then is not None, "a timer always can"
            left = [timer for timer in each.timed(first.spot) if timer != order[1]]
            through = [placed[timer] for timer in left]
            if first.spot.push == then.spot.push and len(first.sources) > len(placed):
                through.append(first.sources[-1])
            sources = tuple(
                (0, more) if place == 0 else (through[place - 1][0], through[place - 1][1] + more)
                for place, more in then.sources
            )
            out = then._replace(sources=sources)
            pairs = first.pairs + then.pairs
            fired.append(order[1])
        # the pair's clocks lack the first alone, so that its place is nought and all others move
        names = [3 * one + BOTH if 3 * one + BOTH in clocks else 3 * one + side + 1 for one in local]
        places = {place: clocks.index(name) + 1 if name in clocks else 0 for place, name in enumerate(names, 1)}
        places |= {0: 0, len(names) + 1: len(clocks) + 1}
        moved = [(places[place], more) for place, more in out.sources]
        pushed = moved.pop() if len(moved) > len(each.timed(out.spot)) else (len(clocks) + 1, 0)
        return End(out.spot, dict(zip(each.timed(out.spot), moved, strict=True)), pushed), pairs, fired

    def _tell_apart(self, taken: Sequence[Sequence[Pair]], ends: Sequence[End]) -> None:
        """What the two orders leave different; all that either does is looked at, so that emitted events need no
        second thought."""
        one, two = (writes(each) for each in taken)
        keeps = Reads()
        for kind, what in one.keys() | two.keys():
            if kind not in ("emit", "push") and one.get((kind, what)) != two.get((kind, what)):
                keeps.add(part_of(kind, int(what)))
        if not keeps.within(self.sure):
            raise Grow(keeps=keeps)
        found = self.differing(stand(ends[0].spot), stand(ends[1].spot))
        if not found.within(self.look.differs):
            raise Grow(differs=found)


def places(aligned: Aligned, pair: tuple[int, int]) -> frozenset[Spotted]:
    """Where the two act."""
    machine = aligned.machines[0]
    events = {event for timer in pair for event in chain(machine, machine.timers[timer].event)}
    return frozenset(spot for spot in aligned.spots if spot[0] in events)


def needed(aligned: Aligned, pair: tuple[int, int], leading: Reads) -> Grow:
    """What has to be seen from the first: both timers with all that lead to them, and their marks where they make a
    step late."""
    machine = aligned.machines[0]
    marks = machine.timers[pair[0]].late | machine.timers[pair[1]].late
    return Grow(keeps=Reads(marks=marks, timers=set(leading.timers)))


def confirmed(protocol: Protocol, pair: tuple[int, int], run: Run) -> bool:
    """Whether the drill's own engine shows something else on a run when the two are declared the other way round."""
    machine = build(protocol, run.plan)
    order = [info.name for info in machine.timers]
    order[pair[0]], order[pair[1]] = order[pair[1]], order[pair[0]]
    machines = (machine, arranged(protocol, machine, order))
    sight = Sight(machine, {}, {}, None)
    states = []
    seen = []
    for one in machines:
        state, effects = start(one)
        states.append(state)
        seen.append(sight.tokens(effects, ""))
    for e, event in (*run.events, (run.end, "")):
        while True:
            due = [state.timers[0][0] for state in states if state.timers]
            if not due or min(due) > e:
                break
            made = [advance(one, state, min(due)) for one, state in zip(machines, states, strict=True)]
            states = [state for state, _ in made]
            if sight.tokens(made[0][1], "") != sight.tokens(made[1][1], ""):
                return True
        if event:
            fed = [feed(one, state, event, e) for one, state in zip(machines, states, strict=True)]
            states = [state for state, _, _ in fed]
            if sight.tokens(fed[0][1], fed[0][2]) != sight.tokens(fed[1][1], fed[1][2]):
                return True
    return False
