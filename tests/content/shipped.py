"""The shipped files, found and read once, and a small drill on the bare engine."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import Effect
from coach.engine.step import advance, feed, start
from coach.protocol.model import Protocol, Scenario
from coach.protocol.overlay import effective_text
from coach.protocol.reading import read_pads, read_protocol, read_scenario
from coach.resources import data_dir

BODIES = ("erc-2025", "aha-2025")
ADULT = ("adult-one-rescuer", "adult-two-rescuers")
PROTOCOLS = tuple(f"{body}/{name}" for body in BODIES for name in ADULT)
"""The adult files with breaths, whose conduct every other file shares by standing over them."""
YOUNG = ("child-one-rescuer", "child-two-rescuers", "infant-one-rescuer", "infant-two-rescuers")
WITHOUT_BREATHS = ("adult-compressions-one-rescuer", "adult-compressions-two-rescuers")
EVERY = (
    *(f"{body}/{name}" for body in BODIES for name in (*ADULT, *WITHOUT_BREATHS, *YOUNG)),
    *(f"anzcor-2021/{name}" for name in ADULT),
)


def path_of(ident: str) -> Path:
    return data_dir("protocols") / f"{ident}.toml"


@functools.cache
def protocol(ident: str) -> Protocol:
    return read_protocol(path_of(ident))


@functools.cache
def raw(ident: str) -> dict[str, Any]:
    """The whole in force, as plain tables."""
    return tomllib.loads(effective_text(path_of(ident).read_text(encoding="utf-8"), ident))


def pads(body: str) -> Any:
    return read_pads(path_of(f"{body}/pads"))


def scenario_paths() -> list[Path]:
    return sorted((data_dir("protocols") / "scenarios").rglob("*.toml"))


@functools.cache
def scenarios() -> dict[str, Scenario]:
    return {found.id: found for found in (read_scenario(path) for path in scenario_paths())}


def walk(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """Every value of a raw file with its path, tables and lists included."""
    yield path, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from walk(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from walk(inner, (*path, place))


@functools.cache
def _machine(ident: str, unit: str, counting: str) -> Machine:
    """The machine of a drill without a scenario; it never changes."""
    return build(protocol(ident), resolve(protocol(ident), None, unit=unit, counting=counting))


class Bench:
    """A drill on the bare engine. Times in seconds."""

    def __init__(
        self, ident: str, scenario: Scenario | None = None, unit: str = "floor", counting: str = "each"
    ) -> None:
        self.machine: Machine = (
            _machine(ident, unit, counting)
            if scenario is None
            else build(protocol(ident), resolve(protocol(ident), scenario, unit=unit, counting=counting))
        )
        self.state, effects = start(self.machine)
        self.effects: list[Effect] = list(effects)
        self.outcomes: list[tuple[str, str]] = []

    def at(self, seconds: float, *events: str) -> Bench:
        for event in events:
            self.state, effects, outcome = feed(self.machine, self.state, event, round(seconds * 1000))
            self.effects += effects
            self.outcomes.append((event, outcome))
        return self

    def wait(self, seconds: float) -> Bench:
        self.state, effects = advance(self.machine, self.state, round(seconds * 1000))
        self.effects += effects
        return self

    def play(self, events: Iterable[tuple[float, str]]) -> Bench:
        for seconds, event in sorted(events, key=lambda entry: entry[0]):
            self.at(seconds, event)
        return self

    def step(self, track: str) -> str:
        return self.machine.step_name(self.state.steps, track)

    def counter(self, name: str) -> int:
        return self.state.counters[self.machine.layout.counters[name]]

    @property
    def armed(self) -> bool:
        return self.machine.is_armed(self.state.steps)

    @property
    def faults(self) -> list[str]:
        return [effect.name for effect in self.effects if effect.kind == "fault"]

    def emitted(self, name: str) -> list[float]:
        return [effect.e / 1000 for effect in self.effects if effect.kind == "emit" and effect.name == name]

    def cues(self, since: float = 0.0) -> list[tuple[float, str]]:
        """Cues as (seconds, English words)."""
        return [
            (effect.e / 1000, self.machine.cues[effect.name]["en"])
            for effect in self.effects
            if effect.kind == "cue" and effect.e >= since * 1000
        ]

    def voices(self) -> list[str]:
        return [self.machine.voices[effect.name]["en"] for effect in self.effects if effect.kind == "voice"]


def pushes(first: float, count: int, push: str = "compression") -> list[tuple[float, str]]:
    """A run at 109 a minute from ``first`` seconds."""
    return [(round(first + 0.55 * number, 3), push) for number in range(count)]


SETUP = (
    (2.0, "scene_checked"),
    (5.0, "response_checked"),
    (8.0, "helper_sent"),
    (10.0, "call_made"),
    (15.0, "not_breathing"),
)
TO_PADS = (
    (60.0, "unit_arrived"),
    (63.0, "unit_on"),
    (65.0, "chest_bared"),
    (70.0, "pad_right"),
    (75.0, "pad_left"),
)


def good_drill() -> list[tuple[float, str]]:
    """From go to the first pushes after the first shock: each deed in order, pushes going on while the pads go on."""
    events = [
        *SETUP,
        *pushes(20.0, 30),
        (38.0, "breath"),
        (39.5, "breath"),
        *pushes(41.0, 70),
        *TO_PADS,
        (82.0, "analysis_begins"),
        (89.0, "shock_advised"),
        (92.0, "clear_called"),
        (94.0, "shock_pressed"),
        *pushes(97.0, 5),
    ]
    return sorted(events, key=lambda entry: entry[0])
