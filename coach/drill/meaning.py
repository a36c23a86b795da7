"""What a key means at the moment it is pressed: fixed then, whatever is voided or moved later."""

from __future__ import annotations

from dataclasses import dataclass

from coach.engine.machine import Machine
from coach.engine.plan import Plan
from coach.engine.state import State
from coach.observations import OBSERVATIONS
from coach.protocol.model import Protocol

PUSHING = frozenset({"compression", "hands_placed", "probe_tap"})
"""What the push key can mean, by way of counting."""

ADVICE = {"shockable": "shock_advised", "not_shockable": "no_shock_advised"}
"""The words that a rhythm script uses, and the verdict that each calls for."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """``meant`` is the id that the log names; ``event`` what the engine is fed, "" for nothing."""

    meant: str
    event: str = ""


def is_timed(protocol: Protocol, ident: str) -> bool:
    """True where the moment of the observation itself is measured."""
    if ident in OBSERVATIONS:
        return OBSERVATIONS[ident].timed
    own = protocol.observations.get(ident)
    return own.timed if own is not None else True


def is_learners(protocol: Protocol, ident: str) -> bool:
    """True where the observation is the learner's own deed."""
    if ident in OBSERVATIONS:
        return OBSERVATIONS[ident].by == "learner"
    own = protocol.observations.get(ident)
    return own.by == "learner" if own is not None else False


def expected(protocol: Protocol, machine: Machine, state: State) -> str:
    """What J logs; "" for nothing. See :func:`expected_in`."""
    return expected_in(protocol, machine, state)[1]


def expected_in(protocol: Protocol, machine: Machine, state: State) -> tuple[str, str]:
    """The track that waits for the learner, and what J logs: the first arrow, in file order, of the present step of
    the first track that has one, whose guard holds and whose observation is the learner's and untimed. ("", "") for
    nothing.

    Compressions, breaths, clear, shock, touch, analysis and verdicts are timed, so J can never log them.
    """
    for index, (track_name, track) in enumerate(protocol.track.items()):
        step_name = machine.tracks[index].steps[state.steps[index]]
        for arrow in (*track.step[step_name].go, *track.go):
            if arrow.fault is not None:
                continue
            for event in arrow.on:
                if not is_learners(protocol, event) or is_timed(protocol, event):
                    continue
                moves = machine.table.get(event, ())
                by_step = next((steps for place, steps in moves if place == machine.layout.tracks[track_name]), None)
                if by_step is None:
                    continue
                move = next(
                    (
                        move
                        for move in by_step[state.steps[index]]
                        if move.guard is None or move.guard(state, state.facts)
                    ),
                    None,
                )
                if move is not None and not move.fault:
                    return track_name, event
    return "", ""


def planned_advice(plan: Plan, machine: Machine, state: State) -> str:
    """The verdict that the scenario's rhythm script calls for at this analysis; a shock without a script."""
    script = plan.rhythm(machine, state)
    return ADVICE.get(script, "shock_advised")


def other_advice(advice: str) -> str:
    """The other verdict."""
    return "no_shock_advised" if advice == "shock_advised" else "shock_advised"


def meaning(ident: str, protocol: Protocol, machine: Machine, plan: Plan, state: State) -> Meaning:
    """What the mapped id means in ``state``: for observations and for the controls that stand for one."""
    if ident == "compression":
        if plan.counting in ("each", "counter"):
            return Meaning("compression", "compression")
        on = machine.step_name(state.steps, "hands") == "hands_on_chest"
        event = "probe_tap" if on and plan.counting == "probe" else "hands_placed"
        return Meaning(event, event)
    if ident == "next":
        event = expected(protocol, machine, state)
        return Meaning(event or "next", event)
    if ident in ("advice_planned", "advice_other"):
        planned = planned_advice(plan, machine, state)
        event = planned if ident == "advice_planned" else other_advice(planned)
        return Meaning(event, event)
    if ident.startswith("inject_"):
        name = plan.digits.get(int(ident.removeprefix("inject_")), "")
        if not name:
            return Meaning(ident)
        status = inject_status(machine, state, name)
        return Meaning(ident, f"answered:{name}" if status in ("open", "late") else f"inject:{name}")
    if ident == "answered_wrong":
        name = open_inject(protocol, machine, state)
        return Meaning(ident, f"wrong:{name}" if name else "")
    if ident in OBSERVATIONS or ident in protocol.observations:
        return Meaning(ident, ident)
    return Meaning(ident)


def inject_status(machine: Machine, state: State, name: str) -> str:
    """How an inject stands: ``idle``, ``open``, ``closed`` or ``late``."""
    index = next(place for place, track in enumerate(machine.tracks) if track.name == f"inject:{name}")
    return machine.tracks[index].steps[state.steps[index]].rpartition(":")[2]


def open_inject(protocol: Protocol, machine: Machine, state: State) -> str:
    """The inject that waits for an answer, the first in file order; "" for none."""
    for name in protocol.inject:
        if inject_status(machine, state, name) in ("open", "late"):
            return name
    return ""
