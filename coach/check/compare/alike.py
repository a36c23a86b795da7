"""Whether two versions run alike whatever happens, decided exactly where the search comes to an end.

Looked at first are only the places at which their arrows differ, and whatever decides whether a run comes there. Where
a run does, and leaves the two in different states, what can differ then is looked at too, and whatever reads it, until
nothing more is found to differ (no run shows a difference) or something that is seen or heard does.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from coach.check.compare.aligned import Aligned, NotAligned, Spotted, align, arranged
from coach.check.compare.arrows import arrow_names
from coach.check.compare.parts import Differences, differences_of
from coach.check.compare.ties import Tied, candidates, leading_to, needed, places, swaps
from coach.check.compare.twins import Grow, Look, Puzzled, Twin, Watch, deed
from coach.check.proof.witness import Run, run_of
from coach.check.states.classes import Explorer, Graph, Limit
from coach.check.states.inputs import EACH, PLACED, PUSHES, Gate, Loose, inputs_of
from coach.check.states.openfacts import Frame
from coach.check.states.reads import Interest, Reads
from coach.check.states.sight import Sight
from coach.check.states.slicing import Part, cut
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import Effect
from coach.protocol.guards import Compare, Expr
from coach.protocol.model import Protocol
from coach.protocol.names import HANDS_TRACK

BOUND = Limit(60_000, 12.0)
"""Classes of one search and seconds in all that a decision may take where nothing else is said."""

QUICK = 2_500
"""Classes of a first search, after which more than can be is looked at: most differences are near."""

ALL: tuple[str, ...] = ("",)
"""All ways of counting at once: more than can be, for questions on which counting has no bearing."""


@dataclass(frozen=True, slots=True)
class Decision:
    """``same``: no run differs. ``differ``: the two part on ``run``, which is still to be confirmed by the engine.
    ``open``: neither was found; ``why`` says what stood in the way. ``classes`` were looked at."""

    kind: Literal["same", "differ", "open"]
    why: str
    classes: int
    run: Run | None = None


def decide(
    old: Protocol,
    new: Protocol,
    found: Differences,
    *,
    limit: Limit = BOUND,
    injects: bool = True,
    progress: Callable[[int], None] | None = None,
) -> Decision:
    """Decide whether two versions run alike. Every inject of either can be thrown at any time, as often as its file
    says, any number of them open at once; with ``injects`` False none is, and ``same`` holds for such runs only.

    Where the two declare timers in another order, that is a difference only where the file itself leads two to one
    millisecond: see :mod:`coach.check.compare.ties`."""
    decider = _Decider(old, new, found, limit, injects, progress)
    decision = _decided(decider)
    order = next((way.aligned.order for way in decider.ways.values()), ())
    return _in_order(new, order, decider) if decision.kind == "same" else decision


def _in_order(protocol: Protocol, order: tuple[str, ...], decider: _Decider) -> Decision:
    """Whether a protocol's timers could as well be declared in ``order``; ``decider`` found all else alike."""
    machines = [build(protocol, resolve(protocol, counting=counting)) for counting in ("each", "marks")]
    names = [info.name for info in machines[0].timers]
    steps = list(swaps(order, names))
    if not steps:
        return Decision("same", "", decider.classes)
    meet = {frozenset(names[timer] for timer in pair) for machine in machines for pair in candidates(machine)}
    found, classes = differences_of(protocol, protocol), decider.classes
    for before, place in steps:
        if frozenset(before[place : place + 2]) not in meet:
            continue
        limit = decider.limit._replace(seconds=max(decider.until - time.process_time(), 0.0))
        tied = _Decider(
            protocol, protocol, found, limit, any(decider.injects), decider.progress, (place, place + 1), before
        )
        decision = _decided(tied)
        classes += decision.classes
        if decision.kind != "same":
            first, second = before[place : place + 2]
            why = f"whether it matters that {second} is declared before {first} now: {decision.why}"
            return replace(decision, why=why, classes=classes)
    return Decision("same", "", classes)


def decide_orders(
    protocol: Protocol, pairs: Iterable[tuple[int, int]], limit: Limit
) -> Iterator[tuple[tuple[int, int], Decision]]:
    """Decide whether it matters which of two timers (places in the machine, the first declared first) goes first where
    the file leads both to one millisecond, ``limit`` for each pair. No inject is thrown. A run of ``differ`` is still
    to be confirmed."""
    found = differences_of(protocol, protocol)
    known: dict[tuple[str, ...], Aligned] = {}
    for pair in pairs:
        decider = _Decider(protocol, protocol, found, limit, False, None, pair)
        decider.aligned = known
        yield pair, _decided(decider)


def _decided(decider: _Decider) -> Decision:
    try:
        return decider.decide()
    except (NotAligned, Puzzled) as problem:
        return Decision("open", str(problem), decider.classes)


class _Seen:
    """What has turned out to matter: see :class:`Grow`, whose members these are."""

    def __init__(self) -> None:
        self.differs = Reads()
        self.keeps = Reads()
        self.events: set[str] = set()
        self.shown: set[str] = set()

    def copy(self) -> _Seen:
        """A copy that grows by itself."""
        made = _Seen()
        made.grow(Grow(self.differs, self.keeps, self.events, self.shown))
        return made

    def grow(self, more: Grow) -> None:
        """Take in more."""
        self.differs.add(more.differs)
        self.keeps.add(more.keeps)
        self.keeps.add(more.differs)
        self.events |= more.events
        self.shown |= more.shown

    def size(self) -> tuple[object, ...]:
        """Grows with every addition."""
        return self.differs.size(), self.keeps.size(), len(self.events), len(self.shown)


class _Decider:
    def __init__(
        self,
        old: Protocol,
        new: Protocol,
        found: Differences,
        limit: Limit,
        injects: bool,
        progress: Callable[[int], None] | None,
        pair: tuple[int, int] | None = None,
        order: tuple[str, ...] = (),
    ) -> None:
        self.both = (old, new)
        self.found = found
        self.limit = limit
        self.until = time.process_time() + limit.seconds
        # an answer counts for the first open inject of a file: their order is no change, so it is the old one's in both
        first = [name for name in old.inject if name in new.inject]
        orders = (old.inject, (*first, *(name for name in new.inject if name not in old.inject)))
        self.injects = tuple(tuple(order) if injects else () for order in orders)
        self.progress = progress
        self.classes = 0
        self.pair = pair
        self.order = order
        self.aligned: dict[tuple[str, ...], Aligned] = {}
        self.seen = _Seen()
        self.ways: dict[tuple[str, ...], _Way] = {}

    def decide(self) -> Decision:
        if self.pair is not None:
            first = self._ways(True, self.limit)
            return first if first.kind == "same" else self._ways(False, self.limit)
        quick = self._ways(False, self.limit._replace(classes=min(QUICK, self.limit.classes)))
        if quick.kind != "open":
            return quick
        first = self._ways(True, self.limit._replace(seconds=self.limit.seconds / 2))
        if first.kind == "same":
            return first
        return self._ways(False, self.limit)

    def _ways(self, loose: bool, limit: Limit) -> Decision:
        """The decision for every way of counting. ``loose`` takes in more than can be: timers that run out at any time,
        injects thrown in any state. What it finds alike is alike; what it does not says nothing."""
        seen = self.seen.copy() if loose else self.seen
        until = min(self.until, time.process_time() + limit.seconds)
        whole = self._way(ALL, loose, seen, limit.classes, until)
        if whole is not None:
            return whole
        for counting in (EACH, PLACED):
            decision = self._way(counting, loose, seen, limit.classes, until)
            assert decision is not None, "each way by itself has an answer"
            if decision.kind != "same":
                return decision
        return Decision("same", "", self.classes)

    def _way(self, counting: tuple[str, ...], loose: bool, seen: _Seen, classes: int, until: float) -> Decision | None:
        """The decision for some ways of counting; None where ``ALL`` at once is no answer."""
        if counting not in self.ways:
            self.ways[counting] = _Way(self, counting)
        way = self.ways[counting]
        for need in way.needs:
            seen.grow(need)
        while True:
            twin = way.twin(seen, loose)
            if counting == ALL and way.counts():
                return None
            before = seen.size()
            try:
                graph = self._explored(twin, classes, until)
            except Grow as more:
                seen.grow(more)
                assert seen.size() != before, "what is looked at grows"
                continue
            if graph.broken is not None:
                if loose:
                    return Decision("open", "", self.classes)
                run = way.run(graph)
                return Decision("differ", "", self.classes, run) if run is not None else None
            if not graph.complete:
                return Decision("open", f"given up after {self.classes} classes", self.classes)
            return Decision("same", "", self.classes)

    def _explored(self, twin: Twin, classes: int, until: float) -> Graph:
        told, before = self.progress, self.classes
        explorer = Explorer(
            twin,
            Watch(),
            keep_edges=False,
            limit=Limit(classes, max(until - time.process_time(), 0.0)),
            progress=(lambda count: told(before + count)) if told is not None else None,
        )
        try:
            return explorer.run()
        finally:
            self.classes += len(explorer.graph.nodes)


class _Way:
    """The two machines under some ways of counting."""

    def __init__(self, decider: _Decider, counting: tuple[str, ...]) -> None:
        self.decider = decider
        self.counting = counting
        old, new = decider.both
        made = [build(each, resolve(each, counting=counting[0] or "each")) for each in decider.both]
        if decider.order:
            made = [arranged(each, one, decider.order) for each, one in zip(decider.both, made, strict=True)]
        machines: tuple[Machine, Machine] = (made[0], made[1])
        renamed = decider.found.renamed
        if counting not in decider.aligned:
            decider.aligned[counting] = align(old, new, machines, renamed)
        self.aligned = decider.aligned[counting]
        arrow_of = arrow_names(old, new, list(decider.found.pairs))
        step_of = {now: was for was, now in renamed.items()}
        self.sights = (Sight(machines[0], {}, {}, None), Sight(machines[1], arrow_of, step_of, machines[0]))
        self.base = self.aligned.turned | {
            spot for spot in self.aligned.spots if self._acts(0, spot) != self._acts(1, spot)
        }
        self.armed = self.aligned.machines[0].armed != self.aligned.machines[1].armed
        self.needs = list(self._other_timers())
        if decider.pair is not None:
            self.base = places(self.aligned, decider.pair)
            self.leading = leading_to(self.aligned.machines[0], decider.pair)
            self.needs.append(needed(self.aligned, decider.pair, self.leading))
        self.parts: tuple[Part, Part]

    # --- where they may differ ----------------------------------------------------------------------------------------

    def _acts(self, side: int, spot: Spotted) -> tuple[object, ...]:
        """What one version does at a place: each arrow's guard and deed."""
        found = []
        for move in self.aligned.tried(side, spot):
            tokens = self.sights[side].tokens(tuple(Effect(0, *said) for said in move.says), "")
            found.append((self.aligned.exprs[move.arrow], deed(move, tokens)))
        return tuple(found)

    def _other_timers(self) -> Iterator[Grow]:
        """Timers that are not the same in both differ from the first."""
        one, two = self.aligned.machines
        for place, (old, new) in enumerate(zip(one.timers, two.timers, strict=True)):
            if replace(old, name="", event="", step="") != replace(new, name="", event="", step=""):
                yield Grow(Reads(timers={place}))
            elif old.late and (f"late:{old.step}" in one.cues) != (f"late:{new.step}" in two.cues):
                yield Grow(keeps=Reads(timers={place}))

    def _look(self, seen: _Seen) -> Look:
        aligned, differs = self.aligned, seen.differs
        tracks = {name: place for place, name in enumerate(info.name for info in aligned.machines[0].tracks)}
        fired = {machine.timers[timer].event for timer in differs.timers for machine in aligned.machines}
        events = seen.events | fired
        suspects = {
            spot
            for spot, reads in aligned.spots.items()
            if spot in self.base or spot[0] in events or spot[1] in differs.tracks or _touches(reads, differs)
        }
        while True:  # an inject that its own track may not take may be taken by none
            thrown = {event for event, track, _ in suspects if tracks.get(event) == track} - events
            if not thrown:
                break
            events |= thrown
            suspects |= {spot for spot in aligned.spots if spot[0] in thrown}
        armed = self.armed or any(track in differs.tracks for machine in aligned.machines for track, _ in machine.armed)
        if armed:
            suspects |= {spot for spot in aligned.spots if spot[0] == "shock_pressed"}
        return Look(frozenset(suspects), differs, frozenset(seen.events), frozenset(seen.shown), armed)

    # --- machines cut down to what matters ----------------------------------------------------------------------------

    def twin(self, seen: _Seen, loosely: bool) -> Twin:
        """The two as one, cut down to what is looked at; ``loosely`` with more than can be."""
        look = self._look(seen)
        decider, (old, new) = self.decider, self.aligned.machines
        keeps = Reads()
        keeps.add(seen.keeps)
        if look.armed:
            keeps.tracks |= {track for machine in (old, new) for track, _ in machine.armed}
        loose: Loose = "all" if self.counting == ALL else ""
        gates = [
            Gate(machine, injects, max(len(injects), 1), loose, free=loosely)
            for machine, injects in zip((old, new), decider.injects, strict=True)
        ]
        free = self._free(look) if loosely else ()
        while True:
            exprs: tuple[Expr, ...] = tuple(Compare(old.counters[place], ">=", 0) for place in sorted(keeps.counters))
            interest = Interest(
                shown=look.shown,
                tracks=frozenset(keeps.tracks),
                marks=keeps.marks,
                timers=frozenset(keeps.timers),
                exprs=exprs,
                spots=look.suspects,
            )
            parts = [
                cut(
                    machine,
                    interest,
                    inputs_of(protocol, machine, self.counting[0], injects),
                    injects,
                    bool(loose),
                    free,
                    loosely,
                )
                for machine, protocol, injects in zip((old, new), decider.both, decider.injects, strict=True)
            ]
            more = Reads(
                parts[0].kept.tracks | parts[1].kept.tracks,
                keeps.counters | self._scripts(parts[0].moving ^ parts[1].moving),
                parts[0].kept.marks | parts[1].kept.marks,
                parts[0].kept.timers | parts[1].kept.timers,
            )
            same = all(
                (part.kept.tracks, part.kept.marks, part.kept.timers) == (more.tracks, more.marks, more.timers)
                for part in parts
            )
            if same and more.counters == keeps.counters:
                break
            keeps.add(more)
        self.parts = (parts[0], parts[1])
        frame = Frame(old, {}, parts[0].moving, (*new.guards.values(), *new.layout.terms.values()))
        if self.counting != ALL:
            frame.classes[old.layout.facts["counting"][0]] = self.counting
        kept = parts[0].kept.timers | parts[1].kept.timers
        untimed = frozenset(kept - seen.keeps.timers) if loosely else frozenset[int]()
        made = (self.aligned, self.parts, frame, (gates[0], gates[1]), self.sights, look, untimed)
        return Twin(*made) if decider.pair is None else Tied(decider.pair, self.leading, *made)

    def _free(self, look: Look) -> list[str]:
        """The injects whose own steps do not matter, but for what they set off when thrown."""
        names = {info.name: place for place, info in enumerate(self.aligned.machines[0].tracks)}
        looked = {track for _, track, _ in look.suspects} | look.differs.tracks
        injects = dict.fromkeys(name for each in self.decider.injects for name in each)
        return [name for name in injects if names[f"inject:{name}"] not in looked]

    def _scripts(self, names: Iterable[str]) -> set[int]:
        layout = self.aligned.machines[0].layout
        return {layout.counters[layout.facts[name][1].counter] for name in names}

    def counts(self) -> bool:
        """Whether the ways of counting could matter to what is looked at."""
        layout = self.aligned.machines[0].layout
        hands, fact = layout.tracks[HANDS_TRACK], layout.facts["counting"][0]
        return any(hands in part.kept.tracks or part.kept.push or fact in part.kept.facts for part in self.parts)

    # --- the run that shows it ----------------------------------------------------------------------------------------

    def run(self, graph: Graph) -> Run | None:
        """The run on which the two part; None where no way of counting has it."""
        assert graph.broken is not None
        at, edge = graph.broken
        way = [*(graph.way(at) if at >= 0 else []), edge]
        counting = self.counting[0]
        if not counting:
            pushed = {one.trigger for one in way} & PUSHES
            counting = "each" if pushed <= {"compression"} else "marks" if pushed <= {"hands_placed"} else ""
        if not counting:
            return None
        old, new = self.decider.both
        facts = {**new.facts, **old.facts}
        return run_of(graph, old.model_copy(update={"facts": facts}), way, counting)


def _touches(reads: Reads, differs: Reads) -> bool:
    return bool(
        reads.tracks & differs.tracks
        or reads.counters & differs.counters
        or reads.marks & differs.marks
        or reads.timers & differs.timers
    )
