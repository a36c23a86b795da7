"""Random learners: runs of a protocol as people might drive it, slips and idle time included, on the engine alone.

Each learner is fixed by a seed and a number. Some do what the protocol waits for and rarely slip, some are hasty, some
press anything; facts, way of counting and unit differ from one to the next. They are made to get about in a protocol,
not to stand for real people.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random
from typing import NamedTuple, TypeVar

from coach.check.states.inputs import Gate, inputs_of
from coach.check.states.openfacts import Frame
from coach.engine.build import build
from coach.engine.machine import Machine, Move
from coach.engine.plan import COUNTINGS, UNITS, resolve
from coach.engine.state import Effect, FactValue, State
from coach.engine.step import advance, choose, feed, start
from coach.protocol.model import Protocol

T = TypeVar("T")

DRILL_MS = (90_000, 600_000)
"""How long a learner's drill lasts: beyond the third analysis of the longest shipped protocol."""

PUSH_MS = (430, 750)
"""From push to push: 80 to 140 a minute."""

RUN = (1, 34)
"""Pushes in a run."""


class Temper(NamedTuple):
    """How a learner behaves: shares (out of 1) of deeds that are slips, waits, and injects thrown at them; ``rest`` of
    the deeds are what the protocol waits for. ``pause`` is the longest usual ms between two deeds."""

    slip: float
    wait: float
    inject: float
    pause: int


TEMPERS = (
    Temper(0.02, 0.08, 0.03, 3_000),
    Temper(0.15, 0.15, 0.06, 6_000),
    Temper(0.70, 0.20, 0.10, 12_000),
)
"""The careful, the hasty, and those who press anything, in turn."""


def rewritten(machine: Machine, change: Callable[[str, Move], Move]) -> Machine:
    """The same machine with every move of its table changed, by the event that it is taken on."""
    table = {
        event: tuple(
            (track, tuple(tuple(change(event, move) for move in moves) for moves in by_step)) for track, by_step in row
        )
        for event, row in machine.table.items()
    }
    return replace(machine, table=table)


class Learners:
    """Learners of one protocol. ``listening`` may wrap the machine that steps their states, to listen in; what a
    learner looks ahead at is the protocol's own. ``open_at_once`` bounds the injects that are open together."""

    def __init__(
        self,
        protocol: Protocol,
        seed: int,
        listening: Callable[[Machine], Machine] = lambda one: one,
        open_at_once: int | None = None,
    ) -> None:
        self._protocol = protocol
        self._seed = seed
        # The built-in hands track is another one for each way of counting.
        self._machines = {counting: build(protocol, resolve(protocol, counting=counting)) for counting in COUNTINGS}
        self._heard = {counting: listening(machine) for counting, machine in self._machines.items()}
        self._own = self._machines[COUNTINGS[0]]
        self._classes = Frame(self._own, {}).classes
        most = len(protocol.inject) if open_at_once is None else open_at_once
        self._gate = Gate(self._own, protocol.inject, most)
        self._inputs = {
            counting: inputs_of(protocol, machine, counting, protocol.inject)
            for counting, machine in self._machines.items()
        }
        self._waited: dict[tuple[int, ...], tuple[str, ...]] = {}

    def run(self, number: int) -> Iterator[tuple[Effect, ...]]:
        """The effects of each event of one learner's drill, in order."""
        rng = Random(f"{self._seed}:{number}")
        temper = TEMPERS[number % len(TEMPERS)]
        facts = self._facts(rng)
        counting = str(facts[self._own.layout.facts["counting"][0]])
        heard = self._heard[counting]
        state, effects = start(replace(heard, facts=facts))
        yield effects
        inputs = self._inputs[counting]
        end = _between(rng, *DRILL_MS)
        e = 0
        while e < end:
            for e, event in self._deed(rng, temper, state, inputs):
                state, effects = advance(heard, state, e)
                yield effects
                if event and self._gate.allows(event, state.steps, facts):
                    state, effects, _ = feed(heard, state, event, e)
                    yield effects
            e = max(e, state.e)

    def facts_of(self, number: int) -> dict[str, FactValue]:
        """The facts that a learner meets, the unit and the way of counting among them."""
        values = self._facts(Random(f"{self._seed}:{number}"))
        return dict(zip(self._own.fact_names, values, strict=True))

    def _facts(self, rng: Random) -> tuple[FactValue, ...]:
        values: list[FactValue] = []
        for index, name in enumerate(self._own.fact_names):
            fact = self._own.layout.facts[name][1]
            if fact.kind == "script":
                values.append(tuple(_pick(rng, fact.of) for _ in range(_between(rng, 1, 5))))
            elif name in ("unit", "counting"):
                values.append(_pick(rng, UNITS if name == "unit" else COUNTINGS))
            else:
                values.append(_pick(rng, self._classes[index]))
        return tuple(values)

    def _deed(self, rng: Random, temper: Temper, state: State, inputs: list[str]) -> Iterator[tuple[int, str]]:
        """What the learner does next: (ms, event) one after the other, "" for time that only passes."""
        e = state.e + _pause(rng, temper)
        luck = rng.random()
        if luck < temper.slip:
            yield e, _pick(rng, inputs)
            return
        luck -= temper.slip
        if luck < temper.wait:
            yield self._wait(rng, state), ""
            return
        luck -= temper.wait
        injects = [event for event in inputs if ":" in event]
        if luck < temper.inject and injects:
            yield e, _pick(rng, injects)
            return
        waited = self._expected(state)
        if not waited:
            yield self._wait(rng, state), ""
            return
        event = _pick(rng, waited)
        if event in ("compression", "probe_tap"):
            yield from self._pushes(rng, e, event)
        else:
            yield e, event

    def _pushes(self, rng: Random, e: int, event: str) -> Iterator[tuple[int, str]]:
        beat = _between(rng, *PUSH_MS)
        for _ in range(30 if rng.random() < 0.6 else _between(rng, *RUN)):
            yield e, event
            e += beat + _between(rng, -40, 40)
        if rng.random() < 0.8:
            for _ in range(_between(rng, 1, 3)):
                e += _between(rng, 700, 2_500)
                yield e, "breath"

    def _wait(self, rng: Random, state: State) -> int:
        """Until the next timer, to the ms, or for a time between a second and three minutes."""
        if state.timers and rng.random() < 0.5:
            return state.timers[0][0]
        return state.e + int(1_000 * 180 ** rng.random())

    def _expected(self, state: State) -> list[str]:
        """The events that the protocol waits for: some track of its own would take them, and without a fault."""
        own = self._machines[str(state.facts[self._own.layout.facts["counting"][0]])]
        waited = self._waited.get(state.steps)
        if waited is None:
            waited = self._waited[state.steps] = tuple(
                event
                for event, rows in self._own.table.items()
                if ":" not in event or event.startswith("answered:")
                if any(rows_of[state.steps[track]] for track, rows_of in rows)
            )
        return [
            event
            for event in waited
            if self._gate.allows(event, state.steps, state.facts)
            and any(_sound(move) for move in choose(own, state, event, state.facts))
        ]


def _sound(move: Move) -> bool:
    return not move.fault


def _pause(rng: Random, temper: Temper) -> int:
    """Some ms to the next deed; now and then none at all."""
    return 0 if rng.random() < 0.03 else _between(rng, 150, temper.pause)


def _between(rng: Random, low: int, high: int) -> int:
    # random() alone is promised to give the same numbers in every version of Python.
    return low + int(rng.random() * (high - low + 1))


def _pick(rng: Random, choices: list[T] | tuple[T, ...]) -> T:
    return choices[int(rng.random() * len(choices))]
