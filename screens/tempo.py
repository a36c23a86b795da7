"""The own tempo on the screen: taps with no beat given, how many they were, then a beat to see at a chosen pace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from textual import events
from textual.content import Content

from coach.rehearse.days import today_of
from coach.rehearse.history import History, TempoTaken, Unkept
from coach.rehearse.matter import Matter
from coach.rehearse.tempo import (
    PACES,
    STOPPED_MS,
    TAPS,
    Tempo,
    band_of,
    beat_on,
    count_words,
    tempo_of,
    words_of_tempo,
)
from screens.page import LOUD, QUIET, STRONG, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

Leaf = Literal["ready", "tapping", "count", "result"]
MOST = TAPS + 30
"""Taps after which a run ends by itself, far beyond thirty so that the count is the learner's own."""
LONGEST_COUNT = 3


class TempoScreen(Page):
    """Tap, count, see."""

    app: KneesideApp

    def __init__(self, matter: Matter, history: History) -> None:
        super().__init__()
        self.matter = matter
        self.history = history
        self.leaf: Leaf = "ready"
        self.pace = 0
        self.stamps: list[int] = []
        self.began = 0
        self.lit = False
        self.counted = ""
        self.found: Tempo | None = None

    def on_mount(self) -> None:
        """Paint, and look often enough for a beat to be seen."""
        super().on_mount()
        self.set_interval(1 / 30, self._tick)

    def title_words(self) -> str:
        """The page's name."""
        return "Own tempo"

    def caps(self) -> Sequence[Cap]:
        """The keys that work now."""
        home = Cap("escape", "Esc", "back", "back")
        if self.leaf == "tapping":
            return (Cap("", "any key", "tap", ""), home)
        if self.leaf == "count":
            return (Cap("", "0-9", "how many", ""), Cap("enter", "Enter", "that many", "counted"), home)
        paces = tuple(
            Cap(str(place), str(place), f"beat {pace}", f"start({pace})") for place, pace in enumerate(PACES, 1)
        )
        return (Cap("enter", "Enter", "no beat", "start(0)"), *paces, home)

    def body(self, lines: Lines) -> None:
        """What the leaf shows: never a count while somebody taps."""
        if self.leaf == "ready":
            lines.text(f"Tap any key as you would push, about {TAPS} times, and count. Then stop: two seconds end it.")
            lines.text("A keyboard shows the pace of your mind, not the depth of your hands.", QUIET)
        elif self.leaf == "tapping":
            lines.text(
                "Tap. Stop when you think that it was thirty." if self.stamps else "The first tap starts it.", STRONG
            )
            if self.pace:
                lines.blank()
                lines.text(f"beat at {self.pace} a minute", QUIET)
                mark = Content.styled("   PUSH   ", LOUD) if self.lit else Content.styled("    ·     ", QUIET)
                lines.made += [mark, mark, mark]
        elif self.leaf == "count":
            lines.text("How many did you make?", STRONG)
            lines.text(self.counted or "…")
        elif self.found is None:
            lines.text("Under six taps make no rate.", STRONG)
        else:
            lines.text(words_of_tempo(self.found), STRONG)
            lines.text(count_words(int(self.counted or 0), self.found.taps))
            lines.text(f"with a beat at {self.pace}" if self.pace else "with no beat given", QUIET)
            for taken in self.history.tempos[-6:-1]:
                beat = f"beat {taken.pace}" if taken.pace else "no beat"
                lines.row(taken.day.isoformat(), f"{taken.rate:.0f} ± {taken.plus_minus:.0f} a minute, {beat}")

    async def take_key(self, event: events.Key) -> bool:
        """While tapping every key is a tap, stamped as the terminal gave it."""
        if self.leaf == "tapping" and event.key != "escape":
            if event.key.startswith(("left_", "right_")):  # a modifier alone, where the terminal tells of it
                return True
            self.stamps.append(self.app.clock.from_event_time(event.time))
            if len(self.stamps) == 1:
                self.paint()
            if len(self.stamps) >= MOST:
                self._stop()
            return True
        if self.leaf == "count" and len(event.key) == 1 and event.key in "0123456789":
            if len(self.counted) < LONGEST_COUNT:
                self.counted += event.key
                self.paint()
            return True
        if self.leaf == "count" and event.key == "backspace":
            self.counted = self.counted[:-1]
            self.paint()
            return True
        return await super().take_key(event)

    def _tick(self) -> None:
        if self.leaf != "tapping":
            return
        now = self.app.clock.mono_ms()
        if self.stamps and now - self.stamps[-1] > STOPPED_MS:
            self._stop()
        elif self.pace:
            lit = beat_on(now - self.began, self.pace)
            if lit != self.lit:
                self.lit = lit
                self.paint()

    def _stop(self) -> None:
        self.found = tempo_of(self.stamps, self.app.desk.settings.sigma_ms, band_of(self.matter.protocol))
        self.counted = ""
        self.leaf = "result" if self.found is None else "count"
        self.paint()

    def action_start(self, pace: int) -> None:
        """A new run, with a beat or with none."""
        self.leaf, self.pace, self.stamps, self.found = "tapping", pace, [], None
        self.began = self.app.clock.mono_ms()
        self.paint()

    def action_counted(self) -> None:
        """Show what it was, and keep it."""
        if self.found is None:
            return
        self.leaf = "result"
        taken = TempoTaken(
            today_of(self.app.clock), self.found.rate, self.found.plus_minus, self.found.taps,
            int(self.counted or 0), self.pace, self.history.drills,
        )  # fmt: skip
        try:
            self.history.add_tempo(taken)
        except Unkept as error:
            self.notice = str(error)
        self.paint()

    def action_back(self) -> None:
        """Out of a run first, then off the page."""
        if self.leaf in ("tapping", "count"):
            self.leaf, self.stamps, self.found = "ready", [], None
            self.paint()
        else:
            self.dismiss(None)
