"""Small models for the checker's tests: written as an author would, random by seed, and slow exact searches."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from coach.check.proof.checked import Checked, check_rules
from coach.check.proof.replay import fire_first
from coach.check.proof.rules import read_rules
from coach.check.states.classes import Explorer, Graph, Limit
from coach.check.states.discrete import Discrete
from coach.check.states.inputs import Gate
from coach.check.states.openfacts import Frame
from coach.check.states.reads import Reads
from coach.check.states.slicing import Part
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import State
from coach.engine.step import feed, start
from coach.protocol.model import Protocol
from coach.protocol.reading import read_protocol

HEAD = """
format = 1
id = "none/small"
version = "1"
guidance = "none"
title = "Small"

[sources.made-up]
title = "Made up for a test"
grade = "local"
"""

TINY = """format = 1
id = "tiny-1/{name}"
version = "1"
guidance = "Tiny 1"
title = "Tiny"
[sources.own]
title = "made up"
grade = "local"
checked = "2026-01-01"
"""
"""The head of a file whose source has a date, so that it draws no finding; ``name`` is for its id."""


def protocol(body: str) -> Protocol:
    """A protocol of the given tables, read as any file is."""
    return read_protocol(HEAD + body)


def prove(body: str, **how: Any) -> Checked:
    """The verdicts on the rules of a body."""
    authored = protocol(body)
    return check_rules(authored, read_rules(authored, HEAD + body), **how)


# --- random models ----------------------------------------------------------------------------------------------------

INPUTS = ("touch", "call_made", "unit_on")


def random_body(seed: int, unit_ms: int) -> str:
    """Two tracks of a few steps, three timers of one to four units, marks, a counter; one in three with pushes."""
    draw = random.Random(seed)
    timers = {f"t{n}": draw.randint(1, 4) * unit_ms for n in range(3)}
    pushes = draw.random() < 0.34
    lines = ["[counters]", "n = { max = 2 }", "[timers]"]
    for name, ms in timers.items():
        since = ', since = "last_push"' if pushes and draw.random() < 0.5 else ""
        every = draw.random() < 0.3
        most = f", most = {draw.randint(1, 3)}" if every else ""
        lines.append(f'{name} = {{ {"every" if every else "after"} = "{ms} ms"{most}{since} }}')
    events = [
        *INPUTS,
        *(["hands_placed", "hands_lifted", "hands_off"] if pushes else []),
        *(f"timer:{t}" for t in timers),
    ]
    for number, track in enumerate(("one", "two")):
        steps = [f"{track}_{n}" for n in range(draw.randint(2, 3))]
        lines += [f"[track.{track}]", f'start = "{steps[0]}"']
        if number == 0:
            lines += [f'go = [{{ on = "{draw.choice(events)}", add = {{ n = 1 }} }}]']
        for step in steps:
            lines.append(f"[track.{track}.step.{step}]")
            if draw.random() < 0.6:
                lines.append(f'restart = "{draw.choice(list(timers))}"')
            if draw.random() < 0.3:
                lines.append(f'within = "{draw.randint(1, 4) * unit_ms} ms"')
            for _ in range(draw.randint(1, 3)):
                lines += [f"[[track.{track}.step.{step}.go]]", f'on = "{draw.choice(events)}"']
                if draw.random() < 0.6:
                    lines.append(f'to = "{draw.choice(steps)}"')
                if draw.random() < 0.4:
                    lines.append(f'{draw.choice(("mark", "unmark"))} = "m_{track}"')
                else:
                    lines.append(f'mark = "m_{track}"')
                guards = [f"running({draw.choice(list(timers))})", "n < 1", "m_one", "not m_two"]
                if draw.random() < 0.4:
                    lines.append(f'when = "{draw.choice(guards)}"')
    # both marks are set somewhere, so that every guard reads
    lines += ["[track.marks]", 'start = "marking"', "[track.marks.step.marking]"]
    lines += ['go = [{ on = "swapped", mark = ["m_one", "m_two"] }]']
    return "\n".join(lines)


class Tried(NamedTuple):
    """A random model that reads: its protocol, machine and inputs."""

    protocol: Protocol
    machine: Machine
    inputs: tuple[str, ...]


def random_models(count: int, unit_ms: int, first: int = 0) -> Iterator[tuple[int, Tried]]:
    """Random models by seed; those that do not read (a timer started twice, say) are passed over."""
    seed, given = first, 0
    while given < count:
        seed += 1
        try:
            authored = protocol(random_body(seed, unit_ms))
        except ValueError:
            continue
        machine = build(authored, resolve(authored, counting="marks"))
        inputs = tuple(
            event for event in (*INPUTS, "hands_placed", "hands_lifted", "swapped") if event in machine.table
        )
        given += 1
        yield seed, Tried(authored, machine, inputs)


# --- exact searches ---------------------------------------------------------------------------------------------------

Shape = tuple[tuple[int, ...], tuple[int, ...], int, tuple[tuple[int, int], ...]]
"""The discrete part of a state: steps, counters, marks, running timers with their firings left."""


def shape(state: Any) -> Shape:
    """The discrete part of a state of the engine or of a spot."""
    return state.steps, state.counters, state.marks, tuple(sorted((entry[1], entry[2]) for entry in state.timers))


def whole(machine: Machine, inputs: Iterable[str]) -> Part:
    """A machine with nothing left out."""
    everything = Reads(
        set(range(len(machine.tracks))),
        set(range(len(machine.counters))),
        (1 << len(machine.marks)) - 1,
        set(range(len(machine.timers))),
        set(range(len(machine.fact_names))),
        True,
    )
    return Part(machine, everything, tuple(inputs), {}, frozenset())


def classes(machine: Machine, inputs: Iterable[str], keep: bool = True) -> Graph:
    """The class graph of a whole machine, facts as its plan has them."""
    part = whole(machine, inputs)
    fixed = dict(zip(machine.fact_names, machine.facts, strict=True))
    frame = Frame(machine, fixed)
    return Explorer(
        Discrete(part, frame, Gate(machine, (), 2, "all")), keep_edges=keep, limit=Limit(200_000, 120)
    ).run()


def relative(state: State, far: int) -> tuple[object, ...]:
    """A state with its times counted from now, and pushes longer ago than ``far`` ms all alike."""
    timers = tuple((entry[0] - state.e, *entry[1:]) for entry in state.timers)
    age = -1 if state.last_push < 0 else min(state.e - state.last_push, far)
    return state.steps, state.counters, state.marks, timers, age


def stepwise(machine: Machine, inputs: Iterable[str], tick_ms: int, most: int = 12_000) -> set[Shape] | None:
    """Every discrete state that is reached with inputs at multiples of ``tick_ms``: by the engine itself, one by one.
    None where there are more than ``most`` states with their times."""
    events = tuple(inputs)
    far = max([info.first for info in machine.timers if info.since_push], default=0) + 1
    first, _ = start(machine)
    seen = {relative(first, far)}
    found = {shape(first)}
    waiting = [first]
    while waiting:
        state = waiting.pop()
        if state.timers and state.timers[0][0] <= state.e:
            nexts = [fire_first(machine, state)[0]]  # a timer that is due comes before every input
        else:
            nexts = [feed(machine, state, event, state.e)[0] for event in events]
            later = state._replace(e=state.e + tick_ms)
            nexts.append(later)
        for following in nexts:
            key = relative(following, far)
            if key not in seen:
                seen.add(key)
                found.add(shape(following))
                waiting.append(following)
        if len(seen) > most:
            return None
    return found
