"""Small protocols for tests of the engine, written as their author would."""

from __future__ import annotations

import tomllib
from typing import Any

from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import PlannedThrow, resolve
from coach.engine.state import Effect, State
from coach.engine.step import feed, start
from coach.protocol.model import Protocol

HEAD = """
format = 1
id = "test/small"
version = "1"
guidance = "none"
title = "Small"
"""


def protocol(body: str) -> Protocol:
    """A protocol of the given tables."""
    return Protocol.model_validate(tomllib.loads(HEAD + body))


def machine(body: str, *, throws: tuple[PlannedThrow, ...] = (), **facts: Any) -> Machine:
    """Its machine; ``unit`` and ``counting`` and the protocol's facts may be given."""
    authored = protocol(body)
    plan = resolve(authored, unit=facts.pop("unit", "floor"), counting=facts.pop("counting", "each"))
    plan.facts.update(facts)
    object.__setattr__(plan, "throws", throws)
    return build(authored, plan)


def run(made: Machine, *events: tuple[int, str]) -> tuple[State, list[Effect], list[str]]:
    """Start, feed the events (time in ms, name); the state, all effects, the outcomes."""
    state, first = start(made)
    effects, outcomes = list(first), []
    for e, event in events:
        state, more, outcome = feed(made, state, event, e)
        effects += more
        outcomes.append(outcome)
    return state, effects, outcomes


def names(effects: list[Effect], kind: str) -> list[tuple[int, str]]:
    """(time, name) of the effects of one kind."""
    return [(effect.e, effect.name) for effect in effects if effect.kind == kind]


def marks(made: Machine, state: State) -> set[str]:
    """The marks that are set."""
    return {name for place, name in enumerate(made.marks) if state.marks >> place & 1}
