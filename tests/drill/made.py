"""Drills for tests: a shipped protocol, a stepped clock, a log in memory."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from typing import Any

from coach.clock import SteppedClock
from coach.drill.session import Drill
from coach.drill.setup import Setup, header
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.log.writing import MemoryLog
from coach.protocol.reading import digest, read_protocol, read_text
from coach.resources import data_dir

SHIPPED = (
    "erc-2025/adult-one-rescuer",
    "erc-2025/adult-two-rescuers",
    "aha-2025/adult-one-rescuer",
    "aha-2025/adult-two-rescuers",
)


@cache
def setup(name: str = SHIPPED[0]) -> Setup:
    """A set-up of a shipped protocol with all its defaults."""
    path = data_dir("protocols") / f"{name}.toml"
    return Setup(protocol=read_protocol(path), protocol_text=read_text(path))


class Played:
    """A drill with its clock and its lines."""

    def __init__(self, name: str = SHIPPED[0], **changes: Any) -> None:
        self.setup = replace(setup(name), **changes)
        self.clock = SteppedClock(mono_ms=500_000)
        self.log = MemoryLog()
        plan = resolve(
            self.setup.protocol, self.setup.scenario, unit=self.setup.unit, counting=self.setup.counting, seed=1
        )
        self.drill = Drill(self.setup, plan, build(self.setup.protocol, plan), self.clock, self.log, "test")
        self.log.write(header(self.setup, plan, self.clock, "test", digest(self.setup.protocol_text).canonical, ""))

    def go(self) -> Played:
        self.drill.go(self.clock.mono_ms())
        return self

    def wait(self, seconds: float) -> Played:
        """Let time pass, looking five times a second as a screen does."""
        end = self.clock.mono_ms() + round(seconds * 1000)
        while self.clock.mono_ms() < end:
            self.clock.set(min(self.clock.mono_ms() + 200, end))
            self.drill.tick(self.clock.mono_ms())
        return self

    def keys(self, words: str, gap: float = 0.5) -> Played:
        """Press keys by name, ``gap`` seconds before each."""
        for word in words.split():
            self.wait(gap)
            self.drill.press(word, self.clock.mono_ms())
        return self

    def push(self, count: int, gap: float = 0.545) -> Played:
        return self.keys(" ".join(["space"] * count), gap)

    @property
    def lines(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.log.content.splitlines()]

    def of(self, kind: str) -> list[dict[str, Any]]:
        return [line for line in self.lines if line["kind"] == kind]

    def view(self) -> Any:
        return self.drill.view(self.clock.mono_ms())

    def step(self, track: str = "rescuer") -> str:
        return self.drill.machine.step_name(self.drill.state_now().steps, track)
