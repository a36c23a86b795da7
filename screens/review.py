"""Afterwards, line by line: move one in time, name it otherwise, add what a video shows.

Nothing is ever rewritten: each change is a line of its own, with who and why, and what was pressed stays in the log.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input

from coach.observations import OBSERVATIONS, label
from coach.text import one_line
from coach.units import clock
from screens.desk import DeskError, LineCard
from screens.page import CAP, QUIET, STRONG, Ask, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

STEP_MS = 500
"""How far one press moves a line, as in a drill."""

Doing = Literal["", "retime", "relabel", "added_later"]
WHAT: dict[Doing, str] = {"retime": "Move it to", "relabel": "Name it otherwise", "added_later": "Seen on video, at"}
EVENTS = tuple(OBSERVATIONS)


class ReviewScreen(Page):
    """The lines of a log. Closes with whether anything was changed."""

    CAUTION = ""

    app: KneesideApp

    def __init__(self, path: Path, who: str) -> None:
        super().__init__()
        self.path = path
        self.who = who
        self.cards: tuple[LineCard, ...] = ()
        self.at = 0
        self.doing: Doing = ""
        self.to_e = 0
        self.event = 0
        self.changed = False

    def on_mount(self) -> None:
        """Read the lines."""
        self._read()
        super().on_mount()

    def between(self) -> ComposeResult:
        """Who changes it, and why."""
        yield Ask("who", "who", "your id, no name")
        yield Ask("why", "why", "in a few words")

    def title_words(self) -> str:
        """The page's name and where it stands."""
        return f"Review: {self.at + 1} of {len(self.cards)}" if self.cards else "Review"

    def caps(self) -> Sequence[Cap]:
        """What can be done now."""
        if self._asking:
            return (Cap("", "Enter", "write it down", ""), Cap("escape", "Esc", "leave it", "drop"))
        if self.doing:
            caps = [Cap("enter", "Enter", "who and why", "ask"), Cap("escape", "Esc", "leave it", "drop")]
            if self.doing != "relabel":
                caps += [Cap("comma", ",", "earlier", "shift(-1)"), Cap("full_stop", ".", "later", "shift(1)")]
            if self.doing != "retime":
                caps += [Cap("down", "↑ ↓", "which", "event(1)"), Cap("up", "↑", "", "event(-1)")]
            return caps
        caps = [
            Cap("down", "↑ ↓", "step", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("page_down", "PgDn", "", "move(10)"),
            Cap("page_up", "PgUp", "", "move(-10)"),
            Cap("home", "Home", "", "move(-100000)"),
            Cap("end", "End", "", "move(100000)"),
            Cap("v", "V", "seen on video", "begin('added_later')"),
        ]
        if self.card is not None and self.card.moves:
            caps += [Cap("comma", ", .", "move in time", "shift(-1)"), Cap("full_stop", ".", "", "shift(1)")]
            caps.append(Cap("l", "L", "name otherwise", "begin('relabel')"))
        return (*caps, Cap("escape", "Esc", "debrief", "leave"), Cap("q", "Q", "", "leave"))

    @property
    def card(self) -> LineCard | None:
        """The line that the pointer is on."""
        return self.cards[self.at] if self.cards else None

    @property
    def _asking(self) -> bool:
        return bool(self.query("#ask-why")) and bool(self.query_one("#ask-why").display)

    def body(self, lines: Lines) -> None:
        """The lines around the pointer, or the change that is being made."""
        if not self.cards:
            lines.text("No key was pressed in this drill.")
        if self.doing:
            self._write_change(lines)
            return
        for number, card in enumerate(self.cards):
            chosen = number == self.at
            if chosen:
                lines.marks["chosen"] = len(lines.made)
            lead = f"{'▸ ' if chosen else '  '}{card.line:>4}  {_tenths(card.e):>7}  "
            line = Content.assemble((f"{lead}{card.what}", STRONG if chosen else ""))
            line += Content.styled(f"  {card.note}" if card.note else "", QUIET)
            lines.made.append(line.truncate(lines.width, ellipsis=True))

    def _write_change(self, lines: Lines) -> None:
        card = self.card
        if card is not None and self.doing != "added_later":
            lines.row("line", f"{card.line}  {_tenths(card.e)}  {card.what}")
        if self.doing != "relabel":
            lines.row("moment", Content.assemble(WHAT[self.doing], " ", (f" {_tenths(self.to_e)} ", CAP)))
        if self.doing != "retime":
            lines.row("event", Content.styled(label(EVENTS[self.event]), STRONG))
            around = [label(EVENTS[(self.event + by) % len(EVENTS)]) for by in (-2, -1, 1, 2)]
            lines.row("", f"{around[0]}, {around[1]} ▸ {around[2]}, {around[3]}", QUIET)
        lines.blank()
        lines.text("What was pressed stays in the log; this is a line of its own, flagged.", QUIET)

    def painted(self, lines: Lines) -> None:
        """Keep the pointer in sight."""
        if "chosen" in lines.marks:
            self.call_after_refresh(self.show_line, lines.marks["chosen"], 3)

    async def take_key(self, event: events.Key) -> bool:
        """While somebody types, the lines take the keys, all but Esc."""
        if self._asking and event.key != "escape":
            return False
        return await super().take_key(event)

    def _read(self) -> None:
        try:
            self.cards = self.app.desk.lines(self.path)
        except DeskError as error:
            self.notice = str(error)
        self.at = min(self.at, max(len(self.cards) - 1, 0))

    def action_move(self, by: int) -> None:
        """Step on, or back."""
        self.notice = ""
        self.at = min(max(self.at + by, 0), max(len(self.cards) - 1, 0))
        self.paint()

    def action_shift(self, by: int) -> None:
        """Move the moment by half a second."""
        if not self.doing:
            self.action_begin("retime")
        self.to_e = max(self.to_e + by * STEP_MS, 0)
        self.paint()

    def action_begin(self, doing: Doing) -> None:
        """Begin a change; nothing is written yet."""
        self.notice = ""
        self.doing = doing
        self.to_e = self.card.e if self.card is not None else 0
        self.paint()

    def action_event(self, by: int) -> None:
        """Another event."""
        self.event = (self.event + by) % len(EVENTS)
        self.paint()

    def action_ask(self) -> None:
        """Who, and why."""
        for name in ("who", "why"):
            self.query_one(f"#ask-{name}").display = True
        self.query_one("#who", Input).value = self.who
        self.query_one("#why", Input).value = ""
        self.set_focus(self.query_one("#why" if self.who else "#who", Input))
        self.paint()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter leads from who to why, and from there into the log."""
        event.stop()
        who, why = (one_line(self.query_one(f"#{name}", Input).value) for name in ("who", "why"))
        if not who or not why:
            self.notice = "Who, and why: both are kept with the change."
            self.set_focus(self.query_one("#why" if who else "#who", Input))
            self.paint()
            return
        self.who = who
        self.notice = self._write(who, why)
        if not self.notice:
            self.changed = True
            self.notice = "Written down; the figures are worked out again."
            self._read()
        self.action_drop(keep_notice=True)

    def _write(self, who: str, why: str) -> str:
        note, card = self.app.desk.note, self.card
        if self.doing == "added_later":
            return note(self.path, "added_later", input=EVENTS[self.event], e=self.to_e, who=who, why=why)
        if card is None:
            return "There is no line to change."
        if self.doing == "retime":
            return note(self.path, "retime", line=card.line, to_e=self.to_e, who=who, why=why)
        return note(self.path, "relabel", line=card.line, to=EVENTS[self.event], who=who, why=why)

    def action_drop(self, keep_notice: bool = False) -> None:
        """Leave the change."""
        if not keep_notice:
            self.notice = ""
        self.doing = ""
        self.set_focus(None)
        for name in ("who", "why"):
            self.query_one(f"#ask-{name}").display = False
        self.paint()

    def action_leave(self) -> None:
        """Back to the debrief."""
        self.dismiss(self.changed)


def _tenths(ms: int) -> str:
    """A moment to the tenth of a second, as a review needs it."""
    return f"{clock(ms)}.{ms // 100 % 10}"
