"""A drill with its view: what screens, scripts and the demo hold in their hands."""

from __future__ import annotations

from coach.clock import Clock
from coach.drill.choosing import pads_view
from coach.drill.running import Running
from coach.drill.setup import Setup
from coach.drill.showing import Showing
from coach.drill.view import View
from coach.engine.machine import Machine
from coach.engine.plan import Plan
from coach.log.writing import Log


class Drill(Running):
    """A running drill that can be looked at."""

    def __init__(self, setup: Setup, plan: Plan, machine: Machine, clock: Clock, log: Log, drill_id: str = "") -> None:
        super().__init__(setup, plan, machine, clock, log, drill_id)
        self._showing = Showing(self, pads_view(setup, plan))

    def view(self, now_ms: int) -> View:
        """What a screen may know now; ``now_ms`` is the clock's monotonic ms."""
        return self._showing.view(now_ms)
