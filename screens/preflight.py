"""Before class, on the screen: the machine looked at, a key held, twenty signs. The result widens what is uncertain.

The reckoning is that of :mod:`coach.preflight`. A press counts by its own stamp, a sign from when it was on the screen.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Literal

from textual import events
from textual.content import Content

from coach.preflight import (
    HELD_S,
    LAPSE_MS,
    STIMULI,
    WAIT_S,
    Check,
    Jitter,
    in_lines,
    jitter_of,
    kept_of,
    reaction_of,
)
from screens.page import LOUD, QUIET, SCROLL, STRONG, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

Leaf = Literal["look", "hold", "let go", "signs", "result"]
QUIET_MS = 1_000
"""How long keys are thrown away after the held one: some are still on their way."""
AGAIN_MS = 500
"""What is waited more after a press that came too early."""
MARKS = {"fine": "", "mind": " mind ", "bad": " bad "}


class PreflightScreen(Page):
    """Look, hold, react, read."""

    app: KneesideApp

    def __init__(self, who: str, draw: Callable[[float, float], float] = random.uniform) -> None:
        super().__init__()
        self.who = who
        self.draw = draw
        self.leaf: Leaf = "look"
        self.checks: tuple[Check, ...] = ()
        self.stamps: list[int] = []
        self.waits: list[float | None] = []
        self.due = 0
        self.shown: int | None = None
        self.lit = False
        self.jitter: Jitter | None = None
        self.result: list[tuple[str, str]] = []

    def on_mount(self) -> None:
        """Look at the machine, paint, and look often enough for a sign to come when it is due."""
        self.checks = self.app.desk.checks()
        super().on_mount()
        self.set_interval(1 / 60, self._tick)

    def title_words(self) -> str:
        """The page's name."""
        return "Before class"

    def caps(self) -> Sequence[Cap]:
        """The keys that work now."""
        leave = Cap("escape", "Esc", "home" if self.leaf in ("look", "result") else "leave it", "leave")
        if self.leaf in ("look", "result"):
            label = "test keyboard and hand" if self.leaf == "look" else "test again"
            return (Cap("enter", "Enter", label, "begin"), leave, *SCROLL)
        return (
            Cap("", "Space", "hold" if self.leaf == "hold" else "at NOW" if self.leaf == "signs" else "", ""),
            leave,
        )

    def body(self, lines: Lines) -> None:
        """What the leaf asks for or shows."""
        if self.leaf == "look":
            for check in self.checks:
                mark = Content.styled(MARKS[check.state], LOUD)
                lines.row(check.name, mark + Content(f"{' ' if mark.plain else ''}{check.said}"))
            lines.blank()
            lines.text("Two tests, a minute and a half: hold the space bar, then press it at twenty signs.")
            lines.text("The result widens the ± of a drill, and never narrows it.", QUIET)
            lines.text(
                f"Kept for assessor {self.who}." if self.who else "Kept for whoever has no result of their own.", QUIET
            )
        elif self.leaf == "hold":
            lines.text("Hold the space bar down until told to let go.", STRONG)
            lines.text("holding …" if self.stamps else "")
        elif self.leaf == "let go":
            lines.text(Content.styled("   LET GO   ", LOUD))
        elif self.leaf == "signs":
            lines.text("Press space as soon as NOW stands here.", STRONG)
            lines.text(f"{min(len(self.waits) + 1, STIMULI)} of {STIMULI}", QUIET)
            lines.blank()
            early = bool(self.waits) and self.waits[-1] == -1.0 and not self.lit
            mark = Content.styled("   NOW   ", LOUD) if self.lit else Content.styled("    ·    ", QUIET)
            lines.made += [mark, mark, mark]
            lines.text("too early" if early else "", QUIET)
        else:
            for label, words in self.result:
                lines.row(label, words)

    async def take_key(self, event: events.Key) -> bool:
        """While a test runs every key is a press, stamped as the terminal gave it."""
        if self.leaf in ("look", "result") or event.key == "escape":
            return await super().take_key(event)
        if event.key.startswith(("left_", "right_")):  # a modifier alone, where the terminal tells of it
            return True
        stamp = self.app.clock.from_event_time(event.time)
        if self.leaf == "hold":
            self.stamps.append(stamp)
            if len(self.stamps) == 1:
                self.paint()
        elif self.leaf == "signs":
            self._pressed(stamp)
        return True

    def _pressed(self, stamp: int) -> None:
        if self.lit:
            if self.shown is not None:
                self._next(float(stamp - self.shown), 0)
        else:
            self._next(-1.0, AGAIN_MS)

    def _next(self, wait: float | None, more_ms: int) -> None:
        """The sign is over; the next one is drawn, or all are done."""
        self.waits.append(wait)
        self.lit, self.shown = False, None
        if len(self.waits) == STIMULI:
            self._done()
        else:
            self.due = self.app.clock.mono_ms() + more_ms + round(1000 * self.draw(*WAIT_S))
        self.paint()

    def _tick(self) -> None:
        now = self.app.clock.mono_ms()
        if self.leaf == "hold" and self.stamps and now - self.stamps[0] >= HELD_S * 1000:
            self.jitter = jitter_of(self.stamps)
            self.leaf, self.due = "let go", now + QUIET_MS
            self.paint()
        elif self.leaf == "let go" and now >= self.due:
            self.leaf, self.due = "signs", now + round(1000 * self.draw(*WAIT_S))
            self.paint()
        elif self.leaf == "signs" and not self.lit and now >= self.due:
            self.lit = True
            self.paint()
            self.call_after_refresh(self._on_screen)
        elif self.leaf == "signs" and self.shown is not None and now - self.shown > LAPSE_MS:
            self._next(None, 0)

    def _on_screen(self) -> None:
        """The sign has been painted: its time runs from here."""
        if self.lit and self.shown is None:
            self.shown = self.app.clock.mono_ms()

    def _done(self) -> None:
        reaction = reaction_of(self.waits)
        self.result = in_lines(self.jitter, reaction)
        self.leaf = "result"
        if self.jitter is not None or reaction is not None:
            self.notice = self.app.desk.keep_test(self.who, kept_of(self.jitter, reaction, self.app.clock)) or "Kept."

    def action_begin(self) -> None:
        """Both tests from the start."""
        self.notice = ""
        self.leaf, self.stamps, self.waits = "hold", [], []
        self.jitter, self.lit, self.shown = None, False, None
        self.paint()

    def action_leave(self) -> None:
        """Out of a test first, with nothing kept; then home."""
        if self.leaf in ("look", "result"):
            self.dismiss(None)
        else:
            self.leaf = "look"
            self.notice = "Left: nothing was kept."
            self.paint()
