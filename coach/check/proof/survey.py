"""What can happen at all: arrows taken, on which of their events, steps entered, timers run out.

Most of it some random learner comes by; the rest is searched for among all times and facts. What is not seen then is
either impossible, or "not decided" where a limit was hit.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial

from coach.check.proof.learners import Learners, rewritten
from coach.check.proof.minds import Seen
from coach.check.proof.prove import Prover, Scope, Tell
from coach.check.states.classes import BOUND, Explorer, Limit, Used
from coach.check.states.discrete import Moment
from coach.check.states.inputs import EACH, PLACED, PUSHES
from coach.check.states.reads import Interest, Reads
from coach.engine.machine import Machine, Move, Said
from coach.protocol.model import Protocol
from coach.protocol.names import HANDS_TRACK, arrow_ids, arrows

LEARNERS = 200
"""Random learners before the search: they come by nine of ten arrows of a shipped file in a second (a choice of this
program)."""

SEED = 1

Taken = tuple[str, str]
"""An arrow by its id and one of its events."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What can happen. ``arrows`` can be taken; ``steps`` are (track, step) that can be entered, ``left`` those that
    can be left again.

    ``never`` arrows are impossible; ``undecided`` ones were not found before a limit. ``silent`` timers never run out.
    """

    arrows: frozenset[Taken]
    steps: frozenset[tuple[str, str]]
    left: frozenset[tuple[str, str]]
    never: tuple[Taken, ...]
    undecided: tuple[Taken, ...]
    silent: tuple[str, ...]
    classes: int

    def dead_ends(self, protocol: Protocol) -> tuple[tuple[str, str], ...]:
        """Steps that can be entered and never left, of tracks that have more than one step."""
        return tuple(
            (name, step)
            for name, track in protocol.track.items()
            for step in track.step
            if len(track.step) > 1 and (name, step) in self.steps and (name, step) not in self.left
        )


def survey(
    protocol: Protocol, limit: Limit = BOUND, progress: Tell | None = None, *, learners: int = LEARNERS
) -> Survey:
    """Look for every arrow, step and timer of a protocol that was read without problems, with every inject thrown and
    one open at a time; so many random ``learners`` go first. Keys for what the unit does count as possible also where
    the laptop plays the unit."""
    return _Surveyor(protocol, limit, progress).survey(learners)


class _Surveyor:
    def __init__(self, protocol: Protocol, limit: Limit, progress: Tell | None) -> None:
        self.protocol = protocol
        self.scope = Scope(tuple(protocol.inject), 1, unit_keys=True)
        self.limit = limit
        self.progress = progress
        self.ids = arrow_ids(protocol)
        self.arrows: set[Taken] = set()
        self.timers: set[str] = set()
        self.open_timers: set[str] = set()
        self.undecided: set[Taken] = set()
        self.classes = 0

    def survey(self, learners: int) -> Survey:
        wanted = {
            (self.ids[id(placed.arrow)], event): placed.track
            for placed in arrows(self.protocol)
            for event in placed.arrow.on
        }
        self._watch(learners)
        for counting in (EACH, PLACED):
            prover = Prover(self.protocol, counting, self.scope, self.limit, self.progress)
            open_yet = {one for one in wanted if one not in self.arrows and _can_come(prover, one[1])}
            self._search(prover, open_yet, wanted)
            self._search_timers(prover)
        missing = [one for one in wanted if one not in self.arrows]
        steps, left = self._steps()
        return Survey(
            frozenset(self.arrows),
            steps,
            left,
            tuple(one for one in missing if one not in self.undecided),
            tuple(one for one in missing if one in self.undecided),
            tuple(name for name in self.protocol.timers if name not in self.timers | self.open_timers),
            self.classes,
        )

    def _watch(self, count: int) -> None:
        """Note what so many random learners come by: what a run does is possible, and needs no search."""
        learners = Learners(self.protocol, SEED, _noting, open_at_once=1)
        for number in range(count):
            for effects in learners.run(number):
                for effect in effects:
                    if effect.kind == "timer":
                        self.timers.add(effect.name)
                    elif effect.kind == "emit" and effect.track == _NOTED:
                        self.arrows.add((effect.arrow, effect.name))

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
            if goal in graph.used:
                self.arrows.add(taken)
                self.undecided.discard(taken)
            elif not graph.complete:
                self.undecided.add(taken)
        self.timers |= {prover.machine.timers[timer].name for timer in graph.fired}

    def _search_timers(self, prover: Prover) -> None:
        """Look for a run in which a timer runs out, for those that nothing has come by so far."""
        layout = prover.machine.layout
        for name in self.protocol.timers:
            if name in self.timers:
                continue
            event = prover.machine.timers[layout.timers[name]].event
            interest = Interest(timers=frozenset({layout.timers[name]}))
            discrete = prover.discrete(prover.part(interest), interest, [partial(_comes, event)])
            graph = Explorer(discrete, Seen(0), keep_edges=False, limit=self.limit).run()
            self.classes += len(graph.nodes)
            if graph.broken is not None:
                self.timers.add(name)
            elif not graph.complete:
                self.open_timers.add(name)

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


def _comes(event: str, moment: Moment) -> bool:
    return moment.event == event


def _can_come(prover: Prover, event: str) -> bool:
    return ":" in event or event in prover.inputs or event not in PUSHES


_NOTED = "noted"
"""Stands for the track in what the machine of a learner says of an arrow taken."""


def _noting(machine: Machine) -> Machine:
    """The same machine, which says of each arrow on which event it is taken."""

    def noted(event: str, move: Move) -> Move:
        return move._replace(says=(*move.says, Said("emit", event, _NOTED, "", move.arrow))) if move.arrow else move

    return rewritten(machine, noted)
