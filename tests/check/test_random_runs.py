"""Random runs of the shipped protocols in the drill's own engine: what was proved never breaks in them, and no state is
reached that the classes do not have."""

from __future__ import annotations

import functools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.check.proof.prove import Prover, Scope
from coach.check.proof.questions import Asker
from coach.check.proof.replay import Listener, listen, moments
from coach.check.proof.rules import read_rules
from coach.check.states.classes import Explorer, Graph, Limit
from coach.check.states.inputs import EACH, is_units
from coach.check.states.reads import Interest
from coach.check.states.slicing import Part
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import Plan, resolve
from coach.protocol.library import load_protocol
from coach.protocol.model import Protocol

IDENTS = ("erc-2025/adult-one-rescuer", "aha-2025/adult-two-rescuers")
WEIGHTS = {
    "compression": 6,
    "breath": 3,
    "not_breathing": 2,
    "pad_right": 3,
    "pad_left": 3,
    "analysis_begins": 4,
    "shock_advised": 4,
    "no_shock_advised": 2,
    "clear_called": 5,
    "shock_pressed": 5,
    "touch": 2,
}
"""Uniform draws would seldom come to a shock."""


@functools.cache
def loaded(ident: str) -> tuple[Protocol, str]:
    return load_protocol(ident)


def random_run(ident: str, seed: int) -> tuple[Machine, list[tuple[int, str]]]:
    """A machine with random facts and a few minutes of events."""
    draw = random.Random(seed)
    protocol, _ = loaded(ident)
    unit = draw.choice(("floor", "laptop"))
    plan: Plan = resolve(protocol, unit=unit)
    for name, fact in protocol.facts.items():
        if fact.kind == "flag":
            plan.facts[name] = draw.random() < 0.5
        elif fact.kind == "choice":
            plan.facts[name] = draw.choice(fact.of)
        elif fact.kind == "script":
            plan.facts[name] = tuple(draw.choice(fact.of) for _ in range(12))
    machine = build(protocol, plan)
    prover_inputs = _prover(ident).inputs
    events = [event for event in prover_inputs if unit == "floor" or not is_units(event)]
    weights = [WEIGHTS.get(event, 1) for event in events]
    e, out = 0, []
    for _ in range(draw.randint(10, 80)):
        e += draw.choice((0, 1, 550, 1_000, 2_000, 2_000, 5_000, draw.randint(0, 30_000)))
        out.append((e, draw.choices(events, weights)[0]))
    return machine, out


@functools.cache
def _prover(ident: str) -> Prover:
    return Prover(loaded(ident)[0], EACH, Scope(), Limit())


@functools.cache
def graph_of(ident: str) -> tuple[Part, Graph]:
    """The classes of the rescuer's and the unit's tracks, hands and reminders left out."""
    prover = _prover(ident)
    layout = prover.machine.layout
    interest = Interest(tracks=frozenset({layout.tracks["rescuer"], layout.tracks["unit"]}))
    part = prover.part(interest)
    graph = Explorer(prover.discrete(part, interest), keep_edges=False).run()
    assert graph.complete
    return part, graph


def projected(part: Part, steps: tuple[int, ...], marks: int, timers: list[tuple[int, int]]) -> object:
    kept = part.kept
    return (
        tuple(steps[track] for track in sorted(kept.tracks)),
        marks & kept.marks,
        tuple(sorted(entry for entry in timers if entry[0] in kept.timers)),
    )


@functools.cache
def spots(ident: str) -> frozenset[object]:
    part, graph = graph_of(ident)
    return frozenset(
        projected(part, node.spot.steps, node.spot.marks, [entry[1:] for entry in node.spot.timers])
        for node in graph.nodes
    )


@pytest.mark.parametrize("ident", IDENTS)
@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32))
def test_every_state_of_a_random_run_is_in_the_class_graph(ident: str, seed: int) -> None:
    part, _ = graph_of(ident)
    machine, events = random_run(ident, seed)
    for seen in moments(machine, events, events[-1][0] + 200_000):
        state = seen.state
        shape = projected(part, state.steps, state.marks, [entry[1:] for entry in state.timers])
        assert shape in spots(ident), f"{seen.e} ms, {seen.moment.event}"


@pytest.mark.parametrize("ident", IDENTS)
@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32))
def test_a_rule_that_was_proved_never_breaks_in_a_random_run(ident: str, seed: int) -> None:
    protocol, text = loaded(ident)
    machine, events = random_run(ident, seed)
    for rule in read_rules(protocol, text):
        if rule.form in ("pads", "always_possible", "possible"):
            continue
        asked = Asker(machine).ask(rule)
        listener = listen(machine, events, events[-1][0] + 60_000, Listener(asked.mind(0), tuple(asked.questions)))
        assert listener.broken_at is None, rule.id


@pytest.mark.parametrize("ident", IDENTS)
def test_random_runs_come_to_shocks_and_to_every_step_of_the_unit(ident: str) -> None:
    """What the two tests above rest on: the runs do reach what matters."""
    seen_steps: set[str] = set()
    shocks = 0
    for seed in range(150):
        machine, events = random_run(ident, seed)
        unit = machine.layout.tracks["unit"]
        for seen in moments(machine, events, events[-1][0]):
            seen_steps.add(machine.tracks[unit].steps[seen.state.steps[unit]])
            shocks += any(event == "shock_pressed" for event, _ in seen.moment.pairs)
    protocol, _ = loaded(ident)
    assert seen_steps >= set(protocol.track["unit"].step) - {"pad_loose"}
    assert shocks > 50
