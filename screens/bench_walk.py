"""Walking a protocol on the bench: no clock runs; a key is something seen, or an amount of time that passes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import events
from textual.content import Content
from textual.timer import Timer

from coach.check.golden.walk import Pressable, Walk
from coach.keys import shown
from coach.text import one_line
from coach.units import clock
from screens.page import CAP, QUIET, STRONG, USUAL_HEIGHT, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

KEYS = 4
"""Rows that what can be pressed keeps, however much a deed came to."""

SPEED_S = 0.7
"""Seconds between two deeds of a story that plays by itself."""


class WalkScreen(Page):
    """A protocol being walked, or a story of it being watched."""

    app: KneesideApp

    def __init__(self, walk: Walk, rule: str = "") -> None:
        """``rule``: the broken one whose story is watched."""
        super().__init__()
        self.walk = walk
        self.rule = rule
        self.at = 0
        self.help = False
        self.choosing = False
        """True while the facts are listed instead of the walk."""
        self._playing: Timer | None = None

    def title_words(self) -> str:
        """Walk or story, and the time."""
        what = "Walk" if self.walk.story is None else "Story"
        return f"{what}: {clock(self.walk.state.e)}.{self.walk.state.e % 1000:03d}"

    def caps(self) -> Sequence[Cap]:
        """Deeds of the walk; those with a label stand at the foot."""
        first = (
            (
                Cap("space", "Space", "next", "follow"),
                Cap("s", "S", "play, halt", "play"),
                Cap("enter", "Enter", "press it", "press"),
            )
            if self.walk.story is not None
            else (Cap("enter", "Enter", "press it", "press"), Cap("f", "F", "facts", "facts"))
        )
        if self.choosing:
            return (
                Cap("enter", "Enter", "next value, from go again", "turn"),
                Cap("down", "↑ ↓", "pick", "move(1)"),
                Cap("up", "↑", "", "move(-1)"),
                Cap("f", "F", "to the walk", "facts"),
                Cap("escape", "Esc", "", "facts"),
            )
        return (
            *first,
            Cap("down", "↑ ↓", "pick", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("page_down", "PgDn", "", "move(8)"),
            Cap("page_up", "PgUp", "", "move(-8)"),
            Cap("tab", "Tab", "next timer", "to_timer"),
            Cap("backspace", "Backspace", "step back", "back"),
            Cap("question_mark", "?", "keys", "help"),
            Cap("1", "1", "0.1 s", "ahead(100)"),
            Cap("2", "2", "1 s", "ahead(1000)"),
            Cap("3", "3", "10 s", "ahead(10000)"),
            Cap("4", "4", "1 min", "ahead(60000)"),
            Cap("escape", "Esc", "leave", "leave"),
        )

    async def take_key(self, event: events.Key) -> bool:
        """A key of the page, else the drill's own key for something that can be seen now."""
        if await super().take_key(event):
            return True
        if self.choosing or self.help:
            return False
        for one in self.walk.pressable():
            if self._typed(one) == event.key:
                self._press(one)
                return True
        return False

    def _typed(self, one: Pressable) -> str:
        """The drill's key for it, unless the page has that key for itself: then it is picked from the list."""
        return "" if any(cap.key == one.key for cap in self.caps()) else one.key

    def body(self, lines: Lines) -> None:
        """Where it stands, what the last deed did, and what can be pressed."""
        if self.help:
            for cap in self.caps():
                if cap.label:
                    lines.row(cap.shown, cap.label)
            lines.text("Any other key is what it means in a drill, where that can be seen now.", QUIET)
            return
        walk = self.walk
        if self.choosing:
            for number, (name, value) in enumerate(walk.facts()):
                mark = "chosen" if number == self.at else ""
                lines.row(name.replace("_", " "), one_line(value), chosen=number == self.at, name=mark, gutter=24)
            return
        room, small = self.room(), self.size.height < USUAL_HEIGHT
        keys = walk.pressable()
        if walk.story is not None:
            lines.row("rule", f"{one_line(self.rule)}: {walk.followed} of {walk.whole}", STRONG)
        steps = Lines(lines.width)
        steps.text("  ".join(f"{track}: {step}" for track, step in walk.steps()), STRONG)
        lines.made += _most(steps.made, 2 if small else room)
        for label, told in (("timers", self._timers_row()), ("marks", self._marks_row())):
            rows = Lines(lines.width)
            rows.row(label, told)
            lines.made += _most(rows.made, 1 if small else room)
        lines.row(f"{walk.deeds}. deed" if walk.deeds else "go", walk.what, STRONG)
        fired = walk.fired()
        left = room - len(lines.made)
        most = max(min(room // 3, left - KEYS), 1)
        if len(fired) > most:  # what came last is what the deed came to
            row = Content.styled(f"    … {len(fired) - most + 1} before these", QUIET)
            lines.made.append(row.truncate(lines.width, ellipsis=True))
            fired = fired[len(fired) - most + 1 :] if most > 1 else []
        for one in fired:
            line = f"{one.where.line:>5} " if one.where is not None else "    · "
            elsewhere = one.where is not None and one.where.file != walk.name
            beside = f"  in {Path(one.where.file).name}" if one.where is not None and elsewhere else ""
            row = Content.assemble((line, QUIET), one.what, (beside, QUIET))
            lines.made.append(row.truncate(lines.width, ellipsis=True))
        self.at = min(self.at, max(len(keys) - 1, 0))
        left = max(room - len(lines.made), 2)
        top = min(max(self.at - left // 2, 0), max(len(keys) - left, 0))
        for number in range(top, min(top + left, len(keys))):
            lines.made.append(self._row(keys[number], number == self.at).truncate(lines.width, ellipsis=True))

    def _timers_row(self) -> str:
        return "  ".join(f"{name} {left / 1000:g} s" for name, left in self.walk.timers()) or "none runs"

    def _marks_row(self) -> str:
        counters = [f"{name} {count}" for name, count in self.walk.counters()]
        return "  ".join([*self.walk.marks(), *counters]) or "none"

    def _row(self, one: Pressable, picked: bool) -> Content:
        typed = self._typed(one)
        cap = Content.styled(f" {shown(typed)} ", CAP) if typed else Content(" · ")
        words = Content.styled(one.name, STRONG if picked else "" if one.taken else QUIET)
        row = Content("▸ " if picked else "  ") + cap + Content(" ") + words
        return row if one.taken else row + Content.styled("  not expected", QUIET)

    def _press(self, one: Pressable) -> None:
        self.walk.press(one.event)
        self.at = 0
        self.paint()

    def action_press(self) -> None:
        """Press what is picked."""
        keys = self.walk.pressable()
        if keys:
            self._press(keys[self.at])

    def action_move(self, by: int) -> None:
        """Pick another."""
        count = len(self.walk.facts()) if self.choosing else len(self.walk.pressable())
        self.at = min(max(self.at + by, 0), max(count - 1, 0))
        self.paint()

    def action_facts(self) -> None:
        """List the facts, or walk on."""
        self.choosing = not self.choosing
        self.at = 0
        self.paint()

    def action_turn(self) -> None:
        """The next value of the picked fact."""
        self.walk.turn_fact(self.walk.facts()[self.at][0])
        self.paint()

    def painted(self, lines: Lines) -> None:
        """Keep the picked fact in sight."""
        if "chosen" in lines.marks:
            self.call_after_refresh(self.show_line, lines.marks["chosen"])

    def action_ahead(self, ms: int) -> None:
        """Let time pass."""
        self.walk.ahead(ms)
        self.paint()

    def action_to_timer(self) -> None:
        """Let time pass to the next timer."""
        self.notice = "" if self.walk.to_next_timer() else "No timer runs."
        self.paint()

    def action_back(self) -> None:
        """Undo the last deed."""
        self.notice = "" if self.walk.back() else "This is go: there is nothing to undo."
        self.paint()

    def action_follow(self) -> None:
        """The story's next event."""
        if not self.walk.follow():
            self._halt()
            note = self.walk.story.note if self.walk.story is not None else ""
            self.notice = f"The story is over: {note}" if note else "The story is over."
        self.paint()

    def action_play(self) -> None:
        """Let the story play by itself, or halt it."""
        if self._playing is None:
            self._playing = self.set_interval(SPEED_S, self.action_follow)
        else:
            self._halt()

    def _halt(self) -> None:
        if self._playing is not None:
            self._playing.stop()
            self._playing = None

    def action_help(self) -> None:
        """All keys, or the walk again."""
        self.help = not self.help
        self.paint()

    def action_leave(self) -> None:
        """Back to the bench, or out of the help."""
        if self.help:
            self.action_help()
        else:
            self.dismiss(None)


def _most(rows: list[Content], most: int) -> list[Content]:
    """The first rows; a mark where there are more."""
    return rows if len(rows) <= most else [*rows[: most - 1], (rows[most - 1] + Content(" …"))]
