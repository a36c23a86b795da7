"""The machine: a protocol and a plan made ready to run, every look-up resolved beforehand.

``build`` makes it, ``step`` runs it, the checker walks it. Nothing in it changes after building.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from coach.engine.state import EffectKind, FactValue
from coach.protocol.guards import Expr, Layout
from coach.protocol.model import Fault, Wording

SEMANTICS = 2
"""Number of the engine's meaning; a log names the one it was made with. It goes up where the same inputs can lead to
other states than before. 1: an inject that was used up could still be observed. 2: it does nothing."""

GuardFunction = Callable[[Any, Any], bool]

STOP, START, RESTART = 0, 1, 2


class Said(NamedTuple):
    """An effect without its time."""

    kind: EffectKind
    name: str
    track: str = ""
    was: str = ""
    arrow: str = ""


class Count(NamedTuple):
    """One write of a counter: ``counters[counter] = value`` if ``put``, else plus ``value``, never beyond ``most``."""

    counter: int
    put: bool
    value: int
    most: int


class Move(NamedTuple):
    """One arrow as taken from one step: what it asks and everything that it does, in order.

    ``to`` is -1 where the arrow stays; ``clear`` and ``mark`` are bit sets, clear first; ``timing`` holds (what, timer)
    pairs in the order of application; ``pushed`` makes ``last_push`` the present time.
    """

    guard: GuardFunction | None
    arrow: str
    track: int
    source: int
    to: int
    clear: int
    mark: int
    counts: tuple[Count, ...]
    timing: tuple[tuple[int, int], ...]
    emits: tuple[str, ...]
    says: tuple[Said, ...]
    pushed: bool
    fault: str


Row = tuple[tuple[int, tuple[tuple[Move, ...], ...]], ...]
"""For one event: (track, the moves to try for each step of the track), for the tracks that listen at all."""


@dataclass(frozen=True, slots=True)
class TrackInfo:
    """A track of the machine: names of its steps by index, where it starts, and what entering each step does."""

    name: str
    steps: tuple[str, ...]
    start: int
    entries: tuple[Move, ...]
    built_in: bool


@dataclass(frozen=True, slots=True)
class TimerInfo:
    """A timer: first firing after ``first`` ms, then every ``every`` ms (0: once), ``most`` firings (-1: no bound).

    ``late`` is the bit of the mark that a ``within`` timer sets, 0 for an ordinary one; ``step`` is its step.
    """

    name: str
    event: str
    first: int
    every: int
    most: int
    since_push: bool
    late: int = 0
    track: str = ""
    step: str = ""


@dataclass(frozen=True, slots=True)
class Machine:
    """A protocol with its plan, compiled. Two machines built from equal files and plans are alike in every bit.

    ``guards`` keeps the tree of every compiled guard, for whoever asks what it reads.
    """

    protocol: str
    tracks: tuple[TrackInfo, ...]
    counters: tuple[str, ...]
    counter_most: tuple[int, ...]
    marks: tuple[str, ...]
    timers: tuple[TimerInfo, ...]
    fact_names: tuple[str, ...]
    facts: tuple[FactValue, ...]
    table: dict[str, Row]
    armed: frozenset[tuple[int, int]]
    cues: dict[str, Wording]
    voices: dict[str, Wording]
    faults: dict[str, Fault]
    layout: Layout
    guards: dict[GuardFunction, Expr]

    def step_name(self, steps: tuple[int, ...], track: str) -> str:
        """The name of the step that ``track`` is in; ``KeyError`` for an unknown track."""
        index = self.layout.tracks[track]
        return self.tracks[index].steps[steps[index]]

    def is_armed(self, steps: tuple[int, ...]) -> bool:
        """True while some track is in a step in which a shock can be given."""
        return any((track, step) in self.armed for track, step in enumerate(steps))
