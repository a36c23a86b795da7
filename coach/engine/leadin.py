"""Beginning a drill at a step: what must have been seen before it, fed to the machine at the first moment.

The machine has one mechanism only, so a drill that begins again "from here" begins like every drill, and is then told
what went before: the observations that do the spine up to the step, or, for a step outside every spine, the shortest
story from there that leads to it. No arrow with a fault is taken on the way.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from functools import partial

from coach.engine.machine import Machine
from coach.engine.plan import PlanProblem
from coach.engine.state import State
from coach.engine.step import feed, start
from coach.observations import OBSERVATIONS
from coach.protocol import guards
from coach.protocol.model import Protocol, Step

DEEPEST = 8
"""Longest story searched for between two things that must come: files need two or three. A tool's choice."""

FIRST_BREATHS = 5
"""Breaths before the first push where a spine has them (ERC 2025, children, second-hand)."""

MARKED = ("probe", "marks")
"""Ways of counting in which pushing is seen by its marks."""


def lead_in(machine: Machine, protocol: Protocol, ident: str, counting: str = "each") -> tuple[str, ...]:
    """The observations that lead from go to the step ``ident``, in order; none for the step that a drill begins in.

    Raises :class:`coach.engine.plan.PlanProblem` where there is no such step, or nothing leads to it.
    """
    track = next((name for name, one in protocol.track.items() if ident in one.step), "")
    if not track:
        known = ", ".join(name for one in protocol.track.values() for name in one.spine)
        raise PlanProblem(f"there is no step {ident!r} to begin at; steps are: {known}")
    offered = _offered(protocol)
    state, fed = start(machine)[0], list[str]()

    def there(now: State) -> bool:
        return machine.step_name(now.steps, track) == ident

    for wanted in _waypoints(machine, protocol, track, ident, counting):
        story = _story(machine, state, (wanted, *offered), partial(_is, wanted))
        if story is None:
            raise PlanProblem(
                f"nothing leads to the step {ident!r}: {wanted!r} cannot be seen before it without a fault"
            )
        fed += story
        state = _after(machine, state, story)
    if not there(state):
        story = _story(machine, state, offered, lambda _, now: there(now))
        if story is None:
            raise PlanProblem(f"nothing leads to the step {ident!r} without a fault; begin at another one")
        fed += story
    return tuple(fed)


def _offered(protocol: Protocol) -> tuple[str, ...]:
    """What may be seen on the way: all that some arrow waits for, but what an instructor makes up."""
    names: dict[str, None] = {}
    for track in protocol.track.values():
        for arrow in (*(arrow for step in track.step.values() for arrow in step.go), *track.go):
            names.update(dict.fromkeys(arrow.on))
    return tuple(
        name
        for name in names
        if name in protocol.observations or (name in OBSERVATIONS and OBSERVATIONS[name].by != "instructor")
    )


def _is(wanted: str, seen: str, _: State) -> bool:
    return seen == wanted


def _waypoints(machine: Machine, protocol: Protocol, track: str, ident: str, counting: str) -> Iterable[str]:
    """What must have been seen: of the step's own spine all before it; of the first track's spine, where it stands in
    another one, all, so that pushing goes on; and of a unit's, where it stands outside every spine. Not asked for are
    steps that are not for this casualty."""
    own = protocol.track[track].spine
    inside = ident in own
    for name, one in protocol.track.items():
        armed = any(step.armed for step in one.step.values())
        if name == track:
            steps = own[: own.index(ident)] if inside else own
        elif name == next(iter(protocol.track)):
            steps = one.spine
        elif armed and not inside:
            steps = one.spine[:-1]  # the last is done by the unit: an analysis comes from the story, if at all
        else:
            continue
        for step in steps:
            if one.step[step].done and _asked(machine, one.step[step]):
                wanted = _seen(one.step[step], counting)
                yield from [wanted] * (FIRST_BREATHS if wanted == "breath" else 1)


def _asked(machine: Machine, step: Step) -> bool:
    """Whether a step is asked for, as far as the facts alone tell."""
    return not step.when or guards.may_hold(guards.parse(step.when), machine.layout, machine.facts)


def _seen(step: Step, counting: str) -> str:
    return "hands_placed" if counting in MARKED and "hands_placed" in step.done else step.done[0]


def _after(machine: Machine, state: State, story: Iterable[str]) -> State:
    for name in story:
        state = feed(machine, state, name, state.e)[0]
    return state


def _story(
    machine: Machine, state: State, offered: Iterable[str], found: Callable[[str, State], bool]
) -> list[str] | None:
    """The shortest story without a fault that ends in what is ``found``; of equal ones that of names offered first."""
    names = tuple(dict.fromkeys(offered))
    queue: deque[tuple[State, list[str]]] = deque([(state, [])])
    known = {(state.steps, state.marks)}
    while queue:
        now, so_far = queue.popleft()
        for name in names:
            after, effects, outcome = feed(machine, now, name, now.e)
            if outcome != "taken" or any(effect.kind == "fault" for effect in effects):
                continue
            story = [*so_far, name]
            if found(name, after):
                return story
            if len(story) < DEEPEST and (after.steps, after.marks) not in known:
                known.add((after.steps, after.marks))
                queue.append((after, story))
    return None
