"""The debrief, in the order of the talk: how it felt, the learner's own words, and only then what the record shows.

One key leads forward, one back, and one writes everything into files beside the log. Nothing that was measured is on
the screen before the learner has spoken.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from textual import events
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Input

from coach.text import one_line
from screens.desk import DeskError, LookBack
from screens.page import CAP, QUIET, SCROLL, STRONG, Ask, Cap, Lines, Page
from screens.widgets.ink import Line, glyphs
from screens.widgets.tape import tape_rows

if TYPE_CHECKING:
    from screens.app import KneesideApp

Leaf = Literal["feel", "words", "tape", "figures", "one", "ask", "true", "cautions"]
LEAVES: tuple[Leaf, ...] = ("feel", "words", "tape", "figures", "one", "ask", "true", "cautions")

FEEL = "How did that feel?"
TITLES: dict[Leaf, str] = {
    "feel": "",
    "words": "In your words",
    "tape": "What happened",
    "figures": "In figures",
    "one": "One thing",
    "ask": "The crew is here. Tell them.",
    "true": "The handover",
    "cautions": "Before you file this",
}
_STYLES = {"slate": "$slate", "sand": "$sand", "strong": STRONG, "quiet": QUIET}


class DebriefScreen(Page):
    """The page after a drill."""

    CAUTION = ""

    app: KneesideApp

    def __init__(self, path: Path, look_back: LookBack) -> None:
        super().__init__()
        self.path = path
        self.look_back = look_back
        self.at = 0
        self.ticked = set(look_back.said)
        self.ticks_written = bool(look_back.said)
        self.words = ("", "")

    @property
    def leaf(self) -> Leaf:
        """The leaf that is open."""
        return LEAVES[self.at]

    def between(self) -> ComposeResult:
        """The two lines for the learner's words."""
        yield Ask("plus", "went well", "in a few words")
        yield Ask("change", "change", "in a few words")

    def title_words(self) -> str:
        """The leaf's headline; the first leaf has none."""
        return TITLES[self.leaf]

    def caps(self) -> Sequence[Cap]:
        """Forward, back, and what else the leaf takes."""
        if self.leaf == "words":
            return (Cap("", "Enter", "next", ""), Cap("escape", "Esc", "skip", "forward"))
        forward = "home" if self.at == len(LEAVES) - 1 else "on"
        caps = [Cap("enter", "Enter", forward, "forward"), Cap("space", "Space", "", "forward")]
        if self.leaf == "ask":
            number = len(self.look_back.handover)
            caps.append(Cap("", f"1-{number}", "said", ""))
            caps += [Cap(str(digit), str(digit), "", f"tick({digit - 1})") for digit in range(1, number + 1)]
        if self.at > 0:
            caps += [Cap("left", "←", "back", "back"), Cap("backspace", "Backspace", "", "back")]
            caps.append(Cap("right", "→", "", "forward"))
        if LEAVES.index("words") < self.at:
            caps.append(Cap("x", "X", "write to files", "export"))
        caps += [Cap("escape", "Esc", "home" if self.at < len(LEAVES) - 1 else "", "home"), Cap("q", "Q", "", "home")]
        return (*caps, *SCROLL)

    def body(self, lines: Lines) -> None:
        """Write the leaf."""
        getattr(self, f"_write_{self.leaf}")(lines)

    def _write_feel(self, lines: Lines) -> None:
        above = max((self.size.height - 6) // 2, 1)
        lines.made += [Content("")] * above
        lines.text(Content.styled(FEEL, STRONG).pad_left(max((lines.width - len(FEEL)) // 2, 0)))

    def _write_words(self, lines: Lines) -> None:
        lines.text("What went well?  What would you change?  Five words each are plenty.")
        lines.text("They are kept in a file beside the log that can be deleted. No names, please.", QUIET)

    def _write_tape(self, lines: Lines) -> None:
        look_back = self.look_back
        lines.text(look_back.head, QUIET)
        if look_back.ended:
            lines.text(look_back.ended)
        lines.blank()
        marks = glyphs()
        room = 60 if lines.width >= 67 else 30
        for start in range(0, max(len(look_back.tape), 1), room):
            stretch = look_back.tape[start : start + room]
            cells = tape_rows(stretch, len(stretch), room, marks)[0]
            lead = Content.styled(f"{start // 60}:{start % 60:02} ".rjust(7), QUIET)
            lines.made.append((lead + _content(cells)).rstrip())
        lines.blank()
        kinds = "".join(dict.fromkeys(look_back.tape))
        indent = 7 if lines.width >= 67 else 0
        lines.text(_content(tape_rows(kinds, len(kinds), lines.width - indent, marks)[2]).rstrip(), indent=indent)
        lines.text("one cell a second", QUIET, indent=indent)
        plus, change = self.words
        if plus or change:
            lines.blank()
            lines.row("well", f"“{plus}”" if plus else "–")
            lines.row("change", f"“{change}”" if change else "–")

    def _write_figures(self, lines: Lines) -> None:
        for section in self.look_back.sections:
            lines.blank()
            lines.text(section.title, STRONG)
            longest = max((len(label) for label, _ in section.rows), default=0)
            for label, words in section.rows:
                lines.row(label, words, gutter=min(longest + 2, lines.width // 3))

    def _write_one(self, lines: Lines) -> None:
        lines.row("well", self.look_back.strength)
        lines.blank()
        lines.row("again", Content.styled(self.look_back.one_thing, STRONG))
        if self.look_back.why:
            lines.row("", self.look_back.why, QUIET)

    def _write_ask(self, lines: Lines) -> None:
        lines.text("The learner speaks; tick what you hear. What was true comes after.", QUIET)
        lines.blank()
        for number, part in enumerate(self.look_back.handover, 1):
            ticked = part.id in self.ticked
            box = Content.styled(" said " if ticked else " –    ", CAP if ticked else QUIET)
            line = Content.assemble((f" {number} ", CAP), " ", box, " ", (part.asked, STRONG if ticked else ""))
            lines.made.append(line.truncate(lines.width, ellipsis=True))

    def _write_true(self, lines: Lines) -> None:
        said = sum(part.id in self.ticked for part in self.look_back.handover)
        lines.text(f"{said} of {len(self.look_back.handover)} said. What was true:", QUIET)
        lines.blank()
        for part in self.look_back.handover:
            lines.row("said" if part.id in self.ticked else "not said", part.asked, STRONG)
            lines.row("", part.true)

    def _write_cautions(self, lines: Lines) -> None:
        for words in self.look_back.cautions:
            lines.bullet(words)
        lines.blank()
        lines.row("log", str(self.path), QUIET)

    def painted(self, lines: Lines) -> None:
        """Show the two lines for words on their leaf only."""
        writing = self.leaf == "words"
        for name in ("plus", "change"):
            self.query_one(f"#ask-{name}").display = writing
        self.query_one("#body").set_class(writing, "short-body")
        self.query_one("#head").visible = self.leaf != "feel"

    async def take_key(self, event: events.Key) -> bool:
        """On the leaf for words the lines take the keys, all but Esc."""
        if self.leaf == "words" and event.key != "escape":
            return False
        return await super().take_key(event)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter leads from the first line to the second, and from there on."""
        event.stop()
        if event.input.id == "plus":
            self.set_focus(self.query_one("#change", Input))
            return
        plus, change = (one_line(self.query_one(f"#{name}", Input).value) for name in ("plus", "change"))
        self.words = (plus, change)
        if any(self.words):
            self.notice = self.app.desk.say(self.path, *self.words)
        self._turn(self.at + 1, keep_notice=True)

    def _turn(self, to: int, keep_notice: bool = False) -> None:
        if not keep_notice:
            self.notice = ""
        self.at = to
        self.query_one("#body").scroll_to(y=0, animate=False)
        self.paint()
        self.set_focus(self.query_one("#plus", Input) if self.leaf == "words" else None)

    def action_forward(self) -> None:
        """The next leaf; home after the last."""
        if self.leaf == "ask":
            self._write_ticks()
        if self.at + 1 < len(LEAVES):
            self._turn(self.at + 1, keep_notice=self.leaf == "ask" and bool(self.notice))
        else:
            self.dismiss(None)

    def action_back(self) -> None:
        """The leaf before."""
        if self.at > 0:
            self._turn(self.at - 1)

    def action_tick(self, place: int) -> None:
        """The learner said this part; again: they did not."""
        self.ticked ^= {self.look_back.handover[place].id}
        self.ticks_written = False
        self.paint()

    def _write_ticks(self) -> None:
        if not self.ticks_written and (self.ticked or self.look_back.said):
            ids = tuple(part.id for part in self.look_back.handover if part.id in self.ticked)
            self.notice = self.app.desk.ticks(self.path, ids)
            self.ticks_written = not self.notice

    def action_export(self) -> None:
        """Write the debrief in every form beside the log and say where."""
        try:
            paths = self.app.desk.export(self.path)
        except DeskError as error:
            self.notice = str(error)
        else:
            endings = ", ".join(path.suffix.removeprefix(".") for path in paths)
            self.notice = f"Written beside the log: {paths[0].stem} ({endings}) in {paths[0].parent}"
        self.paint()

    def action_home(self) -> None:
        """Leave the debrief; it can be opened again."""
        self.dismiss(None)


def _content(line: Line) -> Content:
    """A line of pieces as content."""
    return Content.assemble(*((text, _STYLES.get(role, "")) for text, role in line))
