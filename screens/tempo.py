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
    row_of,
    tempo_of,
    words_of_tempo,
)
from coach.rehearse.wording import words
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

    def __init__(self, matter: Matter, history: History, language: str = "en") -> None:
        super().__init__()
        self.language = language
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
        return self._say("title:tempo")

    def caution_words(self) -> str:
        """Beside the headline."""
        return self._say("training only")

    def _say(self, ident: str, **values: object) -> str:
        return words(self.language, ident, **values)

    def caps(self) -> Sequence[Cap]:
        """The keys that work now."""
        say = self._say
        home = Cap("escape", "Esc", say("cap:back"), "back")
        if self.leaf == "tapping":
            return (Cap("", say("cap:any key"), say("cap:tap"), ""), home)
        if self.leaf == "count":
            many = Cap("", "0-9", say("cap:how many"), "")
            return (many, Cap("enter", "Enter", say("cap:that many"), "counted"), home)
        paces = tuple(
            Cap(str(place), str(place), say("cap:beat", pace=pace), f"start({pace})")
            for place, pace in enumerate(PACES, 1)
        )
        return (Cap("enter", "Enter", say("cap:no beat"), "start(0)"), *paces, home)

    def body(self, lines: Lines) -> None:
        """What the leaf shows: never a count while somebody taps."""
        say = self._say
        if self.leaf == "ready":
            lines.text(say("tempo:intro", taps=TAPS))
            lines.text(say("tempo:mind"), QUIET)
        elif self.leaf == "tapping":
            lines.text(say("tempo:tap" if self.stamps else "tempo:first"), STRONG)
            if self.pace:
                lines.blank()
                lines.text(say("tempo:beat", pace=self.pace), QUIET)
                push = f"   {say('tempo:push')}   "
                mark = Content.styled(push, LOUD) if self.lit else Content.styled("·".center(len(push)), QUIET)
                lines.made += [mark, mark, mark]
        elif self.leaf == "count":
            lines.text(say("tempo:how many"), STRONG)
            lines.text(self.counted or "…")
        elif self.found is None:
            lines.text(say("tempo:few"), STRONG)
        else:
            lines.text(words_of_tempo(self.found, self.language), STRONG)
            lines.text(count_words(int(self.counted or 0), self.found.taps, self.language))
            lines.text(say("tempo:with", pace=self.pace) if self.pace else say("tempo:without"), QUIET)
            for taken in self.history.tempos[-6:-1]:
                lines.row(taken.day.isoformat(), row_of(taken, self.language))

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
