"""The SCXML export, run by python-statemachine's reader: after every event the same steps, counters, marks and timers.

Its delayed sends are taken out, and "due" is sent as the engine's own history has it: time is ours, the rest is theirs.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as xml

import pytest
from statemachine.io.scxml.processor import SCXMLProcessor

from coach.check.draw.scxml import NAMESPACE, as_scxml, counter_id, event_id, mark_id, state_id, timer_id
from coach.check.proof.replay import fire_first
from coach.check.states.inputs import inputs_of
from coach.commands import main
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import State
from coach.engine.step import choose, feed, start
from coach.protocol.library import list_protocols, load_protocol

SHIPPED = [entry.id for entry in list_protocols() if entry.where == "shipped"]
EVENTS = 120
TO_A_SHOCK = ("unit_arrived", "unit_on", "pad_right", "pad_left", "analysis_begins", "shock_advised", "shock_pressed")


def machine_of(ident: str, unit: str, counting: str) -> tuple[Machine, list[str]]:
    protocol, _ = load_protocol(ident)
    plan = resolve(protocol, unit=unit, counting=counting)
    machine = build(protocol, plan)
    return machine, inputs_of(protocol, machine, counting, protocol.inject)


def without_delays(document: str) -> str:
    """The document with delayed sends and their cancels taken out."""
    root = xml.fromstring(document)
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in (f"{{{NAMESPACE}}}send", f"{{{NAMESPACE}}}cancel"):
                parent.remove(child)
    return xml.tostring(root, encoding="unicode")


class Theirs:
    """The document in the other program."""

    def __init__(self, machine: Machine) -> None:
        processor = SCXMLProcessor()
        processor.parse_scxml("drill", without_delays(as_scxml(machine)))
        self.run: Any = processor.start()

    def send(self, event: str) -> None:
        self.run.send(event_id(event))

    def values(self) -> tuple[frozenset[str], dict[str, int]]:
        data = {key: value for key, value in vars(self.run.model).items() if key[:2] in ("c_", "m_", "t_")}
        return frozenset(str(one) for one in self.run.configuration_values), data


def ours(machine: Machine, state: State) -> tuple[frozenset[str], dict[str, int]]:
    regions = {event_id(track.name) for track in machine.tracks}
    steps = {state_id(machine, track, step) for track, step in enumerate(state.steps)}
    left = {index: more for _, index, more in state.timers}
    data = {counter_id(name): state.counters[place] for place, name in enumerate(machine.counters)}
    data |= {mark_id(name): state.marks >> place & 1 for place, name in enumerate(machine.marks)}
    data |= {timer_id(info.name): left.get(place, 0) for place, info in enumerate(machine.timers)}
    return frozenset(steps | regions | {"drill", "timers", "timers.all"}), data


def trace(machine: Machine, inputs: list[str], seed: int) -> Iterator[tuple[str, State]]:
    """A random run of the engine: each event from outside and each timer, with the state after it."""
    draws = random.Random(seed)
    state, _ = start(machine)
    yield "", state
    for _ in range(EVENTS):
        able = [event for event in inputs if choose(machine, state, event, state.facts)]
        due = state.timers[0][0] if state.timers else state.e + 3_000
        if state.timers and (due <= state.e + 1 or draws.random() < 0.35):
            info = machine.timers[state.timers[0][1]]
            state, _, _ = fire_first(machine, state)
            yield f"due:{info.name}", state
            continue
        towards = [event for event in able if event in TO_A_SHOCK and draws.random() < 0.5]
        event = draws.choice(towards or (able if able and draws.random() < 0.9 else inputs))
        state, _, _ = feed(machine, state, event, draws.randrange(state.e, due))
        yield event, state


@pytest.mark.parametrize(
    ("ident", "unit", "counting"),
    [(ident, *(("floor", "each"), ("laptop", "probe"))[place % 2]) for place, ident in enumerate(SHIPPED)],
)
def test_both_stand_alike_after_every_event(ident: str, unit: str, counting: str) -> None:
    machine, inputs = machine_of(ident, unit, counting)
    shocks = 0
    for seed in range(2):
        theirs = Theirs(machine)
        for number, (event, state) in enumerate(trace(machine, inputs, seed)):
            if event:
                theirs.send(event)
            assert theirs.values() == ours(machine, state), (seed, number, event)
        shocks += state.counters[machine.counters.index("shocks")]
    assert shocks or unit == "laptop", "the runs are long enough to reach a shock; a played unit seldom gets there"


@pytest.mark.parametrize("ident", SHIPPED[::3])
def test_every_target_and_every_place_asked_for_is_a_state_of_its_own(ident: str) -> None:
    machine, _ = machine_of(ident, "floor", "each")
    root = xml.fromstring(as_scxml(machine, "es"))
    states = [one.get("id") for one in root.iter(f"{{{NAMESPACE}}}state")]
    assert len(states) == len(set(states))
    conditions = " ".join(one.get("cond", "") for one in root.iter())
    targets = {one.get("target") for one in root.iter() if one.get("target")}
    assert targets | set(re.findall(r"In\('([^']+)'\)", conditions)) <= set(states)
    data = {one.get("id") for one in root.iter(f"{{{NAMESPACE}}}data")}
    assert {one.get("location") for one in root.iter(f"{{{NAMESPACE}}}assign")} <= data
    assert set(re.findall(r"\b[cmtf]_\w+", conditions)) <= data
    delays = {(one.get("id"), one.get("delay")) for one in root.iter(f"{{{NAMESPACE}}}send")}
    lengths = {(event_id(info.name), f"{ms}ms") for info in machine.timers for ms in {info.first, info.every} - {0}}
    assert delays == lengths


def test_it_says_what_scxml_has_no_word_for() -> None:
    document = as_scxml(machine_of(SHIPPED[0], "floor", "each")[0])
    assert "due at the same moment" in document
    assert document.count("<!-- since the last push -->") >= 1


def test_the_command_writes_it_and_takes_no_marks(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["map", SHIPPED[0], "--as", "scxml"]) == 0
    assert xml.fromstring(capsys.readouterr().out).tag == f"{{{NAMESPACE}}}scxml"
    assert main(["map", SHIPPED[0], "--as", "scxml", "--findings", str(tmp_path / "found.json")]) == 2
    assert "no marks" in capsys.readouterr().err
