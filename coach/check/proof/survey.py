"""What can happen at all: arrows taken, on which of their events, steps entered, timers run out.

Each has a shortest run as a witness. What is not seen is either impossible, or "not decided" where a limit was hit.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from coach.check.proof.prove import Prover, Scope, Tell
from coach.check.proof.story import Story, tell
from coach.check.proof.witness import run_of
from coach.check.states.classes import BOUND, Edge, Explorer, Graph, Limit, Used
from coach.check.states.inputs import EACH, PLACED, PUSHES
from coach.check.states.slicing import Interest, Reads
from coach.engine.build import build
from coach.protocol.model import Protocol
from coach.protocol.names import HANDS_TRACK, arrow_ids, arrows

PLAIN = Scope()
"""Nothing thrown, no fact settled."""

Taken = tuple[str, str]
"""An arrow by its id and one of its events."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What can happen. ``arrows`` and ``timers`` have the function that tells the shortest story to each; ``steps`` are
    (track, step) that can be entered, ``left`` those that can be left again.

    ``never`` arrows are impossible; ``undecided`` ones were not found before a limit; ``beside`` ones wait for what is
    out of scope (an inject that was not asked for). ``silent`` timers never run out.
    """

    arrows: dict[Taken, Callable[[], Story]]
    steps: frozenset[tuple[str, str]]
    left: frozenset[tuple[str, str]]
    timers: dict[str, Callable[[], Story]]
    never: tuple[Taken, ...]
    undecided: tuple[Taken, ...]
    beside: tuple[Taken, ...]
    silent: tuple[str, ...]
    classes: int
    seconds: float

    def dead_ends(self, protocol: Protocol) -> tuple[tuple[str, str], ...]:
        """Steps that can be entered and never left, of tracks that have more than one step."""
        return tuple(
            (name, step)
            for name, track in protocol.track.items()
            for step in track.step
            if len(track.step) > 1 and (name, step) in self.steps and (name, step) not in self.left
        )


def survey(protocol: Protocol, scope: Scope = PLAIN, limit: Limit = BOUND, progress: Tell | None = None) -> Survey:
    """Look for every arrow, step and timer of a protocol that was read without problems. Keys for what the unit does
    count as possible also where the laptop plays the unit."""
    return _Surveyor(protocol, replace(scope, unit_keys=True), limit, progress).survey()


class _Surveyor:
    def __init__(self, protocol: Protocol, scope: Scope, limit: Limit, progress: Tell | None) -> None:
        self.protocol = protocol
        self.scope = scope
        self.limit = limit
        self.progress = progress
        self.ids = arrow_ids(protocol)
        self.arrows: dict[Taken, Callable[[], Story]] = {}
        self.timers: dict[str, Callable[[], Story]] = {}
        self.undecided: set[Taken] = set()
        self.classes = 0

    def survey(self) -> Survey:
        began = time.process_time()
        wanted = {
            (self.ids[id(placed.arrow)], event): placed.track
            for placed in arrows(self.protocol)
            for event in placed.arrow.on
        }
        possible: set[Taken] = set()
        for counting in (EACH, PLACED):
            prover = Prover(self.protocol, counting, self.scope, self.limit, self.progress)
            here = {one for one in wanted if one not in self.arrows and self._can_come(prover, one[1])}
            possible |= here
            self._search(prover, here, wanted)
        never = tuple(one for one in wanted if one in possible - self.undecided and one not in self.arrows)
        beside = tuple(one for one in wanted if one not in possible)
        undecided = tuple(one for one in wanted if one in self.undecided and one not in self.arrows)
        steps, left = self._steps()
        silent = tuple(name for name in self.protocol.timers if name not in self.timers)
        return Survey(
            self.arrows,
            steps,
            left,
            self.timers,
            never,
            undecided,
            beside,
            silent,
            self.classes,
            time.process_time() - began,
        )

    def _can_come(self, prover: Prover, event: str) -> bool:
        kind, colon, name = event.partition(":")
        if colon:
            return kind == "timer" or name in self.scope.injects
        return event in prover.inputs or event not in PUSHES

    def _search(self, prover: Prover, wanted: Iterable[Taken], tracks: dict[Taken, str]) -> None:
        groups: dict[object, set[Taken]] = {}
        for one in sorted(wanted):
            groups.setdefault(self._needs(prover, tracks[one], one[1]), set()).add(one)
        for group in groups.values():
            self._look(prover, group, tracks)

    def _needs(self, prover: Prover, track: str, event: str) -> object:
        """What a cell reads, as a key: cells that read the same are searched together."""
        machine = prover.machine
        reads = Reads({machine.layout.tracks[track]})
        for place, by_step in machine.table.get(event, ()):
            if place == machine.layout.tracks[track]:
                for moves in by_step:
                    for move in moves:
                        if move.guard is not None:
                            reads.add(prover.lookups.reads(move.guard))
        if event.startswith("timer:"):
            reads.timers.add(machine.layout.timers[event.removeprefix("timer:")])
        if event in ("hands_on", "hands_off"):
            reads.tracks.add(machine.layout.tracks[HANDS_TRACK])
        key = (reads.tracks, reads.counters, reads.timers)
        return (*(frozenset(one) for one in key), reads.marks)

    def _look(self, prover: Prover, group: set[Taken], tracks: dict[Taken, str]) -> None:
        layout = prover.machine.layout
        goals: set[Used] = {(layout.tracks[tracks[one]], one[0], one[1]) for one in group}
        interest = Interest(cells=frozenset((event, track) for track, _, event in goals))
        discrete = prover.discrete(prover.part(interest), interest)
        told = self.progress
        graph = Explorer(
            discrete,
            keep_edges=False,
            note=True,
            goals=set(goals),
            limit=self.limit,
            progress=(lambda count: told("survey", self.classes + count)) if told is not None else None,
        ).run()
        self.classes += len(graph.nodes)
        for goal in goals:
            taken = (goal[1], goal[2])
            found = graph.used.get(goal)
            if found is not None:
                self.arrows[taken] = self._teller(prover, graph, found, f"arrow {taken[0]} on {taken[1]}")
                self.undecided.discard(taken)
            elif not graph.complete:
                self.undecided.add(taken)
        for timer, found in graph.fired.items():
            name = prover.machine.timers[timer].name
            if name in self.protocol.timers and name not in self.timers:
                self.timers[name] = self._teller(prover, graph, found, f"timer {name} runs out")

    def _teller(self, prover: Prover, graph: Graph, found: tuple[int, Edge], title: str) -> Callable[[], Story]:
        def story() -> Story:
            at, edge = found
            way = [*(graph.way(at) if at >= 0 else []), edge]
            if edge.outcome.idle:
                way[-1] = edge._replace(target=at)
            run = run_of(graph, self.protocol, way, prover.counting[0])
            return tell(self.protocol, build(self.protocol, run.plan), run, title)

        return story

    def _steps(self) -> tuple[frozenset[tuple[str, str]], frozenset[tuple[str, str]]]:
        entered = {(name, track.start) for name, track in self.protocol.track.items()}
        leaving: set[tuple[str, str]] = set()
        taken = {ident for ident, _ in self.arrows}
        for placed in arrows(self.protocol):
            arrow = placed.arrow
            if self.ids[id(arrow)] not in taken or not arrow.to:
                continue
            entered.add((placed.track, arrow.to))
            track = self.protocol.track[placed.track]
            if not placed.step:
                leaving |= {(placed.track, step) for step in track.step if step != arrow.to}
            elif arrow.to != placed.step:
                leaving.add((placed.track, placed.step))
                if placed.step in track.spine and set(arrow.on) & set(track.step[placed.step].done):
                    earlier = track.spine[: track.spine.index(placed.step)]
                    leaving |= {(placed.track, step) for step in earlier if step != arrow.to}
        return frozenset(entered), frozenset(leaving)
