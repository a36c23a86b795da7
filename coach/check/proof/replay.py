"""Running a story in the drill's own engine, moment by moment, with a rule's automaton listening.

The engine itself steps the state; beside it each event is taken apart into the moves that make it, and the two must
come to the same state.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from coach.check.states.classes import Heard, Mind, MindState
from coach.check.states.discrete import Moment, Pair, Question
from coach.engine.machine import Machine
from coach.engine.state import Effect, State
from coach.engine.step import advance, apply_moves, choose, feed, start


class NotTheSame(AssertionError):
    """The engine and the checker's account of it differ: a mistake in the checker, never the author's."""


@dataclass(slots=True)
class Seen:
    """A moment of a run: when, what, and what was said in it."""

    e: int
    moment: Moment
    effects: tuple[Effect, ...]
    state: State
    outside: bool


def moments(machine: Machine, events: Iterable[tuple[int, str]], end: int) -> Iterator[Seen]:
    """Every moment of a run: go, each timer that runs out, each event from outside."""
    state, effects = start(machine)
    pairs: list[Pair] = []
    shadow = _begin(machine, pairs)
    if shadow != state:
        raise NotTheSame("the state at go")
    yield Seen(0, Moment(None, state, "go", pairs, "", state.facts), effects, state, True)
    for e, event in (*events, (end, "")):
        while state.timers and state.timers[0][0] <= e:
            deadline, index, _ = state.timers[0]
            before = state
            state, effects, moment = fire_first(machine, state)
            yield Seen(deadline, moment, effects, state, False)
            assert before.timers[0][1] == index
        if not event:
            return
        before = state
        pairs = []
        out: list[Effect] = []
        standing = before._replace(e=e)
        armed = event != "shock_pressed" or machine.is_armed(before.steps)
        shadow = _drain(machine, standing, event, pairs, out) if armed else standing
        state, effects, _ = feed(machine, before, event, e)
        if shadow != state:
            raise NotTheSame(f"the state after {event} at {e} ms")
        yield Seen(e, Moment(before, state, event, pairs, "", state.facts), effects, state, True)
    return


def _begin(machine: Machine, pairs: list[Pair]) -> State:
    steps = tuple(track.start for track in machine.tracks)
    state = State(0, steps, (0,) * len(machine.counters), 0, (), -1, machine.facts)
    entries = [track.entries[track.start] for track in machine.tracks]
    pairs.extend(("go", entry) for entry in entries)
    queue: list[str] = []
    out: list[Effect] = []
    state = apply_moves(machine, state, entries, 0, out, queue)
    for event in queue:  # grows while it is read
        moves = choose(machine, state, event, state.facts)
        pairs.extend((event, move) for move in moves)
        if moves:
            state = apply_moves(machine, state, moves, 0, out, queue)
    return state


def _drain(machine: Machine, state: State, event: str, pairs: list[Pair], out: list[Effect]) -> State:
    queue = [event]
    for name in queue:  # grows while it is read
        moves = choose(machine, state, name, state.facts)
        pairs.extend((name, move) for move in moves)
        if moves:
            state = apply_moves(machine, state, moves, state.e, out, queue)
    return state


def fire_first(machine: Machine, state: State) -> tuple[State, tuple[Effect, ...], Moment]:
    """The first timer that is due. Where more are due in the same millisecond the engine's own step is compared after
    the last of them."""
    deadline, index, left = state.timers[0]
    info = machine.timers[index]
    rest = list(state.timers[1:])
    if info.every and left != 1:
        rest.append((deadline + info.every, index, left - 1 if left > 0 else left))
    standing = state._replace(e=deadline, timers=tuple(sorted(rest)))
    pairs: list[Pair] = []
    out: list[Effect] = []
    if info.late:
        out.append(Effect(deadline, "late", info.step, info.track))
        if f"late:{info.step}" in machine.cues:
            out.append(Effect(deadline, "cue", f"late:{info.step}", info.track, info.step))
        after = standing._replace(marks=standing.marks | info.late)
    else:
        out.append(Effect(deadline, "timer", info.name))
        after = _drain(machine, standing, info.event, pairs, out)
    if not (after.timers and after.timers[0][0] <= deadline):
        engine, _ = advance(machine, state, deadline)
        if engine != after:
            raise NotTheSame(f"the state after {info.name} at {deadline} ms")
    late = info.step if info.late else ""
    moment = Moment(state, after, info.event, pairs, late, state.facts)
    return after, tuple(out), moment


@dataclass(slots=True)
class Listener:
    """A mind with real clocks. ``broken_at`` is the first ms at which its rule was broken, None so far; ``outside``
    becomes True where the run leaves what the rule assumes; ``faulty`` where a fault was taken up to the break."""

    mind: Mind
    questions: tuple[Question, ...]
    state: MindState | None = None
    clocks: dict[int, int] = field(default_factory=dict)
    broken_at: int | None = None
    outside: bool = False
    faulty: bool = False
    _begun: bool = False

    def until(self, e: int) -> None:
        """Let the mind's clocks run to ``e``: those due there go before everything else."""
        while self.clocks and not self.outside and self.broken_at is None:
            due, clock = min((due, clock) for clock, due in self.clocks.items())
            if due > e:
                return
            del self.clocks[clock]
            assert self.state is not None
            self._take(self.mind.ran_out(self.state, tuple(sorted(self.clocks)), clock), due)

    def hear(self, seen: Seen) -> None:
        """One moment, its own time let come first."""
        self.until(seen.e)
        if self.outside or self.broken_at is not None:
            return
        truth = sum(1 << bit for bit, question in enumerate(self.questions) if question(seen.moment))
        faults = any(move.fault for _, move in seen.moment.pairs)
        self.faulty = self.faulty or faults
        if not self._begun:
            self._begun = True
            self._take(self.mind.start(truth, faults), seen.e)
        else:
            assert self.state is not None
            self._take(self.mind.hear(self.state, tuple(sorted(self.clocks)), truth, faults), seen.e)

    def _take(self, heard: Heard, e: int) -> None:
        if heard.broken and self.broken_at is None:
            self.broken_at = e
        if heard.state is None:
            self.outside = True
            return
        self.state = heard.state
        self.clocks = {clock: self.clocks[clock] if ms < 0 else e + ms for clock, ms in heard.clocks}


def listen(
    machine: Machine,
    events: Iterable[tuple[int, str]],
    end: int,
    listener: Listener,
    watch: Callable[[Seen], None] | None = None,
) -> Listener:
    """Run events with a listener until ``end``."""
    for seen in moments(machine, events, end):
        listener.hear(seen)
        if watch is not None:
            watch(seen)
    listener.until(end)
    return listener
