"""Running the machine: pure functions of integers, no clock, no chance, no order that is not written down.

``choose`` (which moves an event makes, from the discrete state and the facts alone) stands apart from time, so that
the drill and the checker share one transition relation.
"""

from __future__ import annotations

from bisect import insort
from typing import Any, Literal

from coach.engine.machine import RESTART, START, Machine, Move
from coach.engine.state import Effect, Pending, State, tuple_of

Outcome = Literal["taken", "not expected", "not armed"]


class TimeRunsBack(ValueError):
    """An input whose time lies before the state's."""


def choose(machine: Machine, state: Any, event: str, facts: Any) -> list[Move]:
    """The moves that ``event`` makes: in each track the first whose guard holds, all reading the same snapshot.

    ``state`` needs ``steps``, ``counters``, ``marks`` and ``timers`` only; ``facts`` is read by index, if a guard asks.
    An inject that its own track does not take (used up, open already, not now) was not thrown: no track takes it.
    """
    chosen: list[Move] = []
    steps = state.steps
    for track, by_step in machine.table.get(event, ()):
        for move in by_step[steps[track]]:
            guard = move.guard
            if guard is None or guard(state, facts):
                chosen.append(move)
                break
    if chosen and event.startswith("inject:") and not any(machine.tracks[move.track].name == event for move in chosen):
        return []
    return chosen


def _start_timer(machine: Machine, timers: list[Pending], index: int, e: int, last_push: int) -> None:
    info = machine.timers[index]
    base = last_push if info.since_push and last_push >= 0 else e
    deadline = base + info.first
    insort(timers, (deadline if deadline > e else e, index, info.most))


def apply_moves(
    machine: Machine, state: State, moves: list[Move], e: int, out: list[Effect], queue: list[str]
) -> State:
    _, steps, counters, marks, timers, last_push, facts = state
    for _, _, track, _, to, clear, mark, counts, timing, emits, says, pushed, _ in moves:
        if pushed:
            last_push = e
        if to >= 0:
            steps = (*steps[:track], to, *steps[track + 1 :])
        if clear:
            marks &= ~clear
        if mark:
            marks |= mark
        if counts:
            changed = list(counters)
            for index, put, value, most in counts:
                total = value if put else changed[index] + value
                changed[index] = total if total < most else most
            counters = tuple(changed)
        if timing:
            timers = _time(machine, timers, timing, e, last_push)
        for said in says:
            out.append(Effect(e, *said))
        if emits:
            queue.extend(emits)
    return tuple_of(State, (e, steps, counters, marks, timers, last_push, facts))


def _time(
    machine: Machine, timers: tuple[Pending, ...], timing: tuple[tuple[int, int], ...], e: int, last_push: int
) -> tuple[Pending, ...]:
    changed = list(timers)
    for what, index in timing:
        running = False
        for place, entry in enumerate(changed):
            if entry[1] == index:
                running = True
                if what != START:
                    del changed[place]
                break
        if what == RESTART or (what == START and not running):
            _start_timer(machine, changed, index, e, last_push)
    return tuple(changed)


def _event(machine: Machine, state: State, event: str, e: int, out: list[Effect]) -> tuple[State, bool]:
    """Run one event to completion, its emitted events included; True if any track took the event itself."""
    moves = choose(machine, state, event, state.facts)
    if not moves:
        return (state if state.e == e else tuple_of(State, (e, *state[1:]))), False
    queue: list[str] = []
    state = apply_moves(machine, state, moves, e, out, queue)
    place = 0
    while place < len(queue):
        moves = choose(machine, state, queue[place], state.facts)
        place += 1
        if moves:
            state = apply_moves(machine, state, moves, e, out, queue)
    return state, True


def _fire_due(machine: Machine, state: State, e: int, out: list[Effect]) -> State:
    while state.timers and state.timers[0][0] <= e:
        (deadline, index, left), rest = state.timers[0], state.timers[1:]
        info = machine.timers[index]
        if info.every and left != 1:
            again = list(rest)
            insort(again, (deadline + info.every, index, left - 1 if left > 0 else left))
            rest = tuple(again)
        state = State(deadline, state.steps, state.counters, state.marks, rest, state.last_push, state.facts)
        if info.late:
            out.append(Effect(deadline, "late", info.step, info.track))
            if f"late:{info.step}" in machine.cues:
                out.append(Effect(deadline, "cue", f"late:{info.step}", info.track, info.step))
            state = state._replace(marks=state.marks | info.late)
        else:
            out.append(Effect(deadline, "timer", info.name))
            state, _ = _event(machine, state, info.event, deadline, out)
    return state


def start(machine: Machine) -> tuple[State, tuple[Effect, ...]]:
    """The state at go (e = 0) and what the machine says on entering its first steps."""
    state = State(
        0,
        tuple(track.start for track in machine.tracks),
        tuple(0 for _ in machine.counters),
        0,
        (),
        -1,
        machine.facts,
    )
    out: list[Effect] = []
    queue: list[str] = []
    entries = [track.entries[track.start] for track in machine.tracks]
    state = apply_moves(machine, state, entries, 0, out, queue)
    place = 0
    while place < len(queue):
        moves = choose(machine, state, queue[place], state.facts)
        place += 1
        if moves:
            state = apply_moves(machine, state, moves, 0, out, queue)
    return state, tuple(out)


def advance(machine: Machine, state: State, e: int) -> tuple[State, tuple[Effect, ...]]:
    """Fire every timer due at or before ``e`` (ms), then stand at ``e``. ``advance(a)`` then ``advance(b)`` is
    ``advance(b)``. Raises :class:`TimeRunsBack` where ``e`` lies before the state's time."""
    if e < state.e:
        raise TimeRunsBack(f"the state is at {state.e} ms, the clock says {e} ms")
    if not state.timers or state.timers[0][0] > e:
        return (state if state.e == e else tuple_of(State, (e, *state[1:]))), ()
    out: list[Effect] = []
    state = _fire_due(machine, state, e, out)
    return (state if state.e == e else state._replace(e=e)), tuple(out)


def feed(machine: Machine, state: State, event: str, e: int) -> tuple[State, tuple[Effect, ...], Outcome]:
    """:func:`step`, with the judgement of the input: ``taken``, ``not expected`` (no track took it) or ``not armed``
    (a shock where none could be given: the event is kept out of every track)."""
    if event == "shock_pressed":
        state, before = advance(machine, state, e)
        if not machine.is_armed(state.steps):
            return state, before, "not armed"
        state, effects = step(machine, state, event, e)
        effects = before + effects
    else:
        state, effects = step(machine, state, event, e)
    ignored = bool(effects) and effects[-1].kind == "ignored"
    return state, effects, "not expected" if ignored else "taken"


def step(machine: Machine, state: State, event: str, e: int) -> tuple[State, tuple[Effect, ...]]:
    """Fire the timers due at or before ``e`` (ms), then run ``event``; an event that no track takes is said to be
    ``ignored``. Raises :class:`TimeRunsBack` where ``e`` lies before the state's time."""
    if e < state.e:
        raise TimeRunsBack(f"the state is at {state.e} ms, the event {event!r} at {e} ms")
    out: list[Effect] = []
    if state.timers and state.timers[0][0] <= e:
        state = _fire_due(machine, state, e, out)
    state, taken = _event(machine, state, event, e, out)
    if not taken:
        out.append(Effect(e, "ignored", event))
    return state, tuple(out) if out else ()
