"""The bench's quieter pages: a protocol to pick, and a report that is worked out while one waits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.content import Content
from textual.message import Message

from coach.protocol.library import Entry, list_protocols
from coach.text import clean, one_line
from screens.page import QUIET, SCROLL, STRONG, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

LEAVE = (Cap("escape", "Esc", "back", "leave"), Cap("q", "Q", "", "leave"))
WHERE = {"own": "yours", "shipped": "shipped", "given": "given"}
Tell = Callable[[str], None]


class Superseded(Exception):
    """Nobody waits for this work any more."""


class PickScreen(Page):
    """Every protocol within reach; Enter puts one on the bench."""

    app: KneesideApp

    def __init__(self) -> None:
        super().__init__()
        self.entries: list[Entry] = []
        self.at = 0

    def on_mount(self) -> None:
        """See what is there, one's own first."""
        self.entries = sorted(list_protocols(), key=lambda entry: entry.where == "shipped")
        super().on_mount()

    def title_words(self) -> str:
        """The page's name."""
        return "Bench: which protocol?"

    def caps(self) -> Sequence[Cap]:
        """Pick, open, leave."""
        return (
            Cap("enter", "Enter", "to the bench", "open"),
            Cap("down", "↑ ↓", "pick", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("page_down", "PgDn", "", "move(10)"),
            Cap("page_up", "PgUp", "", "move(-10)"),
            *LEAVE,
        )

    def body(self, lines: Lines) -> None:
        """One protocol a line."""
        for number, entry in enumerate(self.entries):
            chosen = number == self.at
            if chosen:
                lines.marks["chosen"] = len(lines.made)
            lead = Content.styled(f"{'▸ ' if chosen else '  '}{one_line(entry.id)}", STRONG if chosen else "")
            line = lead + Content.styled(f"  {WHERE[entry.where]}", QUIET)
            lines.made.append(line.truncate(lines.width, ellipsis=True))
        lines.blank()
        lines.text("kneeside bench FILE opens any other file.", QUIET)

    def painted(self, lines: Lines) -> None:
        """Keep the picked one in sight."""
        if "chosen" in lines.marks:
            self.call_after_refresh(self.show_line, lines.marks["chosen"])

    def action_move(self, by: int) -> None:
        """Pick another."""
        self.at = min(max(self.at + by, 0), max(len(self.entries) - 1, 0))
        self.paint()

    async def action_open(self) -> None:
        """To the bench with it."""
        if self.entries:
            entry = self.entries[self.at]
            await self.app.bench(entry.path, shipped=entry.where == "shipped")

    def action_leave(self) -> None:
        """Back to where one came from."""
        self.dismiss(None)


class ReportPage(Page):
    """A text that a thread works out: how far it is, then the text; Esc gives it up."""

    CAPS: ClassVar[tuple[Cap, ...]] = (Cap("", "↑ ↓", "scroll", ""), *LEAVE, *SCROLL)

    class Came(Message):
        """How far the work is, or its text."""

        def __init__(self, words: str, done: bool) -> None:
            super().__init__()
            self.words = words
            self.done = done

    def __init__(self, title: str, work: Callable[[Tell], str]) -> None:
        super().__init__()
        self._headline = title
        self._work = work
        self._given_up = False
        self.done = False
        self.words = "…"

    def on_mount(self) -> None:
        """Begin."""
        super().on_mount()
        self.run_worker(self._run, thread=True)

    def _run(self) -> None:
        try:
            text = self._work(self._tell)
        except Superseded:
            return
        except (ValueError, LookupError, OSError) as problem:  # what reading, finding and planning say in words
            text = str(problem)
        if not self._given_up:
            self.post_message(self.Came(text, True))

    def _tell(self, words: str) -> None:
        """Called by the work, on its thread."""
        if self._given_up:
            raise Superseded
        self.post_message(self.Came(words, False))

    def on_report_page_came(self, event: Came) -> None:
        """Show it."""
        self.words, self.done = event.words, event.done
        self.paint()

    def title_words(self) -> str:
        """The report's name."""
        return self._headline

    def body(self, lines: Lines) -> None:
        """The text, its own lines kept."""
        if not self.done:
            lines.text(one_line(self.words), QUIET)
            return
        for line in clean(self.words).expandtabs(4).split("\n"):
            indent = min(len(line) - len(line.lstrip(" ")), lines.width // 3)
            lines.text(line.strip(), indent=indent) if line.strip() else lines.blank()

    def action_leave(self) -> None:
        """Close it, and give the work up if it still runs."""
        self._given_up = True
        self.dismiss(None)


def read_or_words(path: Path) -> tuple[str | None, str]:
    """The text of a file, or None and why not, in words."""
    from coach.protocol.problems import FileProblems
    from coach.protocol.reading import read_text

    try:
        return read_text(path), ""
    except FileProblems as problems:
        return None, "; ".join(one.what for one in problems.problems)
