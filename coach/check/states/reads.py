"""What a question looks at, what a guard reads and what moves touch: sets of a machine's places.

:mod:`coach.check.states.slicing` cuts a machine down by them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.engine.machine import GuardFunction, Machine, Move
from coach.protocol import guards
from coach.protocol.guards import Choice, Compare, Expr, InStep, Name, Running


@dataclass(frozen=True, slots=True)
class Interest:
    """What a question looks at.

    ``events``: whether they are taken, and over a fault or not; ``shown``: whether they are taken at all; ``cues``:
    keys of wordings, or ``timer:NAME`` for any cue said on that timer; ``tracks``: steps entered; ``exprs``: guards
    read; ``cells``: (event, track) whose single arrows matter; ``spots``: (event, track, step) likewise, in that step
    alone; ``faults``: every fault taken.
    """

    events: frozenset[str] = frozenset()
    shown: frozenset[str] = frozenset()
    cues: frozenset[str] = frozenset()
    tracks: frozenset[int] = frozenset()
    marks: int = 0
    timers: frozenset[int] = frozenset()
    exprs: tuple[Expr, ...] = ()
    cells: frozenset[tuple[str, int]] = frozenset()
    spots: frozenset[tuple[str, int, int]] = frozenset()
    faults: bool = False

    def __or__(self, other: Interest) -> Interest:
        return Interest(
            self.events | other.events,
            self.shown | other.shown,
            self.cues | other.cues,
            self.tracks | other.tracks,
            self.marks | other.marks,
            self.timers | other.timers,
            tuple(dict.fromkeys((*self.exprs, *other.exprs))),
            self.cells | other.cells,
            self.spots | other.spots,
            self.faults or other.faults,
        )


@dataclass(slots=True)
class Reads:
    """What something reads, or what is kept: sets of indices, marks as bits."""

    tracks: set[int] = field(default_factory=set)
    counters: set[int] = field(default_factory=set)
    marks: int = 0
    timers: set[int] = field(default_factory=set)
    facts: set[int] = field(default_factory=set)
    push: bool = False

    def add(self, other: Reads) -> None:
        """Take in all of another one."""
        self.tracks |= other.tracks
        self.counters |= other.counters
        self.marks |= other.marks
        self.timers |= other.timers
        self.facts |= other.facts
        self.push = self.push or other.push

    def common(self, other: Reads) -> Reads:
        """What both have."""
        return Reads(
            self.tracks & other.tracks,
            self.counters & other.counters,
            self.marks & other.marks,
            self.timers & other.timers,
            self.facts & other.facts,
            self.push and other.push,
        )

    def size(self) -> tuple[int, ...]:
        """Grows with every addition."""
        return (
            *map(len, (self.tracks, self.counters, self.timers, self.facts)),
            self.marks.bit_count(),
            int(self.push),
        )

    def within(self, other: Reads) -> bool:
        """True where the other one has all of it."""
        return (
            self.tracks <= other.tracks
            and self.counters <= other.counters
            and self.marks & ~other.marks == 0
            and self.timers <= other.timers
            and (other.push or not self.push)
        )


def reads_of(expr: Expr, machine: Machine) -> Reads:
    """Everything that a guard may read, through its terms."""
    layout, found = machine.layout, Reads()
    waiting, seen = [expr], set[str]()
    while waiting:
        for test in guards.tests(waiting.pop()):
            match test:
                case Name(name) if name in layout.terms:
                    if name not in seen:
                        seen.add(name)
                        waiting.append(layout.terms[name])
                case Name(name) if name in layout.facts:
                    found.facts.add(layout.facts[name][0])
                case Name(name):
                    found.marks |= 1 << layout.marks[name]
                case Compare(name) if name in layout.counters:
                    found.counters.add(layout.counters[name])
                case Choice(name) if name not in layout.facts:
                    index, fact = layout.facts[name.removeprefix("this_")]
                    found.facts.add(index)
                    found.counters.add(layout.counters[fact.counter])
                case InStep(track):
                    found.tracks.add(layout.tracks[track])
                case Running(timer):
                    found.timers.add(layout.timers[timer])
                case Compare(name) | Choice(name):
                    found.facts.add(layout.facts[name][0])
                case guards.Unknown(name):
                    found.facts.add(layout.facts[name][0])
    return found


@dataclass(frozen=True, slots=True)
class Touched:
    """What the moves of one event in one track write or show."""

    counters: frozenset[int]
    marks: int
    timers: frozenset[int]
    emits: frozenset[str]
    cues: frozenset[str]
    push: bool
    faults: bool


def _touched(by_step: tuple[tuple[Move, ...], ...]) -> Touched:
    moves = [move for moves in by_step for move in moves]
    marks = 0
    for move in moves:
        marks |= move.clear | move.mark
    return Touched(
        frozenset(count.counter for move in moves for count in move.counts),
        marks,
        frozenset(timer for move in moves for _, timer in move.timing),
        frozenset(event for move in moves for event in move.emits),
        frozenset(said.name for move in moves for said in move.says if said.kind == "cue"),
        any(move.pushed for move in moves),
        any(move.fault for move in moves),
    )


class Lookups:
    """What the moves of a machine touch and what its guards read, worked out once for all of its parts."""

    def __init__(self, machine: Machine) -> None:
        self._machine = machine
        self._touched: dict[tuple[str, int], Touched] = {}
        self._reads: dict[GuardFunction, Reads] = {}

    def touched(self, event: str, track: int, by_step: tuple[tuple[Move, ...], ...]) -> Touched:
        """What the moves of an event in a track write or show."""
        place = (event, track)
        if place not in self._touched:
            self._touched[place] = _touched(by_step)
        return self._touched[place]

    def reads(self, guard: GuardFunction) -> Reads:
        """What a guard of the machine reads."""
        if guard not in self._reads:
            self._reads[guard] = reads_of(self._machine.guards[guard], self._machine)
        return self._reads[guard]
