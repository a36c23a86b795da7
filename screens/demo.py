"""The demo: a key script fed to a live drill on the real clock, until a person takes over."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from coach.drill.play import strike

if TYPE_CHECKING:
    from textual.app import App

    from coach.drill.script import Script
    from coach.drill.session import Drill
    from screens.drill import DrillScreen


class Demo:
    """A drill that stands ready, and the strokes of its script that are still to come.

    A stroke is stamped with the moment it is due, like the press of a hand that never is late, so the log of a demo
    left alone is the log that the script gives when it is played.
    """

    def __init__(self, drill: Drill, script: Script) -> None:
        self.drill = drill
        self._left = deque(script.strokes)
        self._start: int | None = None

    def run(self, app: App[object], screen: DrillScreen) -> None:
        """Feed what is due, show it, and wait for the next; zero is the first call."""
        clock = self.drill.clock
        now = clock.mono_ms()
        if self._start is None:
            self._start = now
        while self._left and self._start + self._left[0].at <= now:
            stroke = self._left.popleft()
            strike(self.drill, stroke, self._start + stroke.at)
            if stroke.verb == "go":
                self.drill.tell("A demo plays itself: any key takes the drill over.")
        if self.drill.phase == "ended":
            self._say_the_rest(now)
        screen.paint(now)
        if self._left:
            app.set_timer(
                max(self._start + self._left[0].at - clock.mono_ms(), 1) / 1000, lambda: self.run(app, screen)
            )

    def _say_the_rest(self, now: int) -> None:
        """The drill has ended: what the learner says to the crew is written down before the screen goes."""
        for stroke in self._left:
            if stroke.verb == "said":
                strike(self.drill, stroke, now)
        self._left.clear()

    def take_over(self) -> None:
        """A person pressed a key: the drill is theirs. A line says so, and how many strokes were dropped."""
        if self._left:
            self.drill.scribe.line("taken_over", self.drill.now_t, self.drill.e_now(), dropped=len(self._left))
            self._left.clear()
            self.drill.tell("The demo is dropped: the drill is yours. Z Z ends it.")
