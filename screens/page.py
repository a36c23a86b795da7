"""A quiet page: a headline, a body that scrolls, and key caps. Home, briefing and debrief are pages.

Everything on a page is one piece of text made anew from what is true, so that a page has no state to get out of step.
A page's keys stand in one list (:class:`Cap`); the caps at its foot, what a key does and the help come from that list.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Input, Static

from screens.keyboard import name_of

GUTTER, NARROW_GUTTER = 12, 11
"""Columns that the labels at the left take, from 60 columns on and below."""

USUAL_WIDTH, USUAL_HEIGHT = 60, 20
"""From here on there is room for margins and for what explains."""

PLAIN = ""
STRONG = "bold"
QUIET = "$quiet"
LOUD = "bold $loud-ink on $loud-ground"
CAP = "bold $cap-ink on $cap-ground"


class Cap(NamedTuple):
    """One key of a page: the terminal's name, what the cap shows, what it does in a word or two, and the method.

    An empty ``label`` keeps the key off the foot of the page (a second key for the same thing).
    """

    key: str
    shown: str
    label: str
    action: str


class Ask(Horizontal):
    """A label and a line to type into, hidden until the page asks."""

    def __init__(self, name: str, label: str, hint: str) -> None:
        super().__init__(id=f"ask-{name}", classes="ask")
        self.display = False
        self.label = Static(label, markup=False)
        self.entry = Input(id=name, placeholder=hint, max_length=200)
        self.entry.cursor_blink = False

    def compose(self) -> ComposeResult:
        """The label, the line."""
        yield self.label
        yield self.entry


class Lines:
    """The body of a page, line by line, wrapped to a width. Text is text: no markup anywhere."""

    def __init__(self, width: int) -> None:
        self.width = max(width, 12)
        self.gutter = GUTTER if width >= 58 else NARROW_GUTTER
        self.made: list[Content] = []
        self.marks: dict[str, int] = {}

    def blank(self) -> None:
        """An empty line, but never two and never first."""
        if self.made and self.made[-1].plain:
            self.made.append(Content(""))

    def text(self, words: str | Content, style: str = PLAIN, indent: int = 0) -> None:
        """A paragraph, wrapped, each line ``indent`` columns in."""
        content = words if isinstance(words, Content) else Content.styled(words, style)
        for line in content.wrap(self.width - indent):
            self.made.append(line.pad_left(indent) if indent else line)

    def row(
        self,
        label: str,
        words: str | Content,
        style: str = PLAIN,
        *,
        chosen: bool | None = None,
        name: str = "",
        gutter: int = 0,
    ) -> None:
        """A labelled line; what does not fit hangs under it.

        Rows to choose from give ``chosen`` and leave room for the pointer, so that the choice shows by shape too.
        """
        if name:
            self.marks[name] = len(self.made)
        pointer = "" if chosen is None else "▸ " if chosen else "  "
        lead = Content.styled(f"{pointer}{label}", STRONG if chosen else QUIET)
        room = max(gutter, self.gutter)
        if lead.cell_length >= room:
            self.made.append(lead.truncate(self.width, ellipsis=True))
            lead = Content("")
        self._hang(lead.pad_right(room - lead.cell_length), words, style)

    def bullet(self, words: str | Content, style: str = PLAIN) -> None:
        """A paragraph with a dot before it."""
        self._hang(Content.styled("· ", style), words, style)

    def _hang(self, lead: Content, words: str | Content, style: str) -> None:
        content = words if isinstance(words, Content) else Content.styled(words, style)
        room = lead.cell_length
        for number, line in enumerate(content.wrap(max(self.width - room, 8))):
            self.made.append((lead if number == 0 else Content(" " * room)) + line)

    @property
    def content(self) -> Content:
        """All lines as one content."""
        return Content("\n").join(self.made)


def caps_content(caps: Sequence[Cap], width: int, most: int) -> Content:
    """Key caps in as few lines as they need, at most ``most``; a cap is never cut in half."""
    lines: list[Content] = []
    line = Content("")
    for cap in caps:
        if not cap.label:
            continue
        piece = Content.assemble((f" {cap.shown} ", CAP), f" {cap.label}")
        joined = line + Content("  ") + piece if line.plain else piece
        if joined.cell_length > width and line.plain:
            lines.append(line)
            joined = piece
        line = joined
    lines.append(line)
    return Content("\n").join(lines[:most])


class Page(Screen[object]):
    """A screen made of :class:`Lines`. Subclasses give :meth:`title_words`, :meth:`body` and :attr:`CAPS`."""

    AUTO_FOCUS = ""
    CAPS: ClassVar[tuple[Cap, ...]] = ()
    CAUTION: ClassVar[str] = "training only"

    def __init__(self) -> None:
        super().__init__()
        self.notice = ""
        """What must be read now; it stands over the foot, where no scrolling hides it."""

    def compose(self) -> ComposeResult:
        """Head, body, notice, foot."""
        yield Static(id="head", markup=False)
        with VerticalScroll(id="body", can_focus=False):
            yield Static(id="words", markup=False)
        yield from self.between()
        yield Static(id="notice", markup=False)
        yield Static(id="foot", markup=False)

    def between(self) -> ComposeResult:
        """What stands between body and foot: lines to type into, on pages that have any."""
        yield from ()

    def on_mount(self) -> None:
        """Paint for the first time."""
        self.paint()

    def on_resize(self, event: events.Resize) -> None:
        """Wrap anew."""
        self.paint()

    def on_screen_resume(self) -> None:
        """Paint what may have changed while another screen lay over this one."""
        self.paint()

    def title_words(self) -> str:
        """The page's headline."""
        raise LookupError("a page has a headline")

    def caution_words(self) -> str:
        """What stands beside the headline, always."""
        return self.CAUTION

    def body(self, lines: Lines) -> None:
        """Write the body."""

    def caps(self) -> Sequence[Cap]:
        """The keys that work now."""
        return self.CAPS

    def paint(self) -> None:
        """Write head, body and foot anew."""
        if not self.is_mounted:
            return
        width, height = self.size
        self.set_class(width < USUAL_WIDTH, "-narrow")
        self.set_class(height < USUAL_HEIGHT, "-short")
        side = 1 if width >= USUAL_WIDTH else 0
        inner = max(width - 2 * side, 1)
        title, caution = self.title_words(), self.caution_words()
        room = inner - len(title) - len(caution)
        head = Content.styled(title, STRONG)
        if room >= 2:
            head = Content.assemble((title, STRONG), " " * room, (caution, QUIET))
        self.query_one("#head", Static).update(head)
        lines = Lines(inner - 1)
        self.body(lines)
        self.query_one("#words", Static).update(lines.content)
        notice = self.query_one("#notice", Static)
        notice.update(Content.styled(self.notice, STRONG))
        notice.display = bool(self.notice)
        self.query_one("#foot", Static).update(caps_content(self.caps(), inner, 2 if height < USUAL_HEIGHT else 3))
        self.painted(lines)

    def room(self) -> int:
        """Rows of the body that are on screen at once, for pages that show a piece of something long."""
        width, height = self.size
        usual = height >= USUAL_HEIGHT
        inner = max(width - 2 * (width >= USUAL_WIDTH), 1)
        foot = caps_content(self.caps(), inner, 3 if usual else 2).plain.count("\n") + 1
        told = min(len(Content(self.notice).wrap(inner)), 6) if self.notice else 0
        margins = (2 + bool(told)) if usual else 0
        return max(height - 1 - foot - told - margins, 1)

    def painted(self, lines: Lines) -> None:
        """Called after each paint; a page may scroll to one of ``lines.marks``."""

    def show_line(self, line: int, context: int = 1) -> None:
        """Scroll so that a line of the body is on screen, with a little of what stands around it."""
        body = self.query_one("#body", VerticalScroll)
        top, height = body.scroll_offset.y, max(body.size.height, 1)
        if line - context < top:
            body.scroll_to(y=max(line - context, 0), animate=False)
        elif line + context >= top + height:
            body.scroll_to(y=line + context - height + 1, animate=False)

    async def take_key(self, event: events.Key) -> bool:
        """Do what the key's cap says; True where it says something."""
        key = name_of(event)
        for cap in self.caps():
            if cap.key == key:
                await self.run_action(cap.action)
                return True
        return False

    async def on_key(self, event: events.Key) -> None:
        """A key that a line to type into left over; all others come through the app."""
        if await self.take_key(event):
            event.stop()
            event.prevent_default()

    def action_down(self) -> None:
        """Scroll down by a line."""
        self.query_one("#body", VerticalScroll).scroll_relative(y=1, animate=False)

    def action_up(self) -> None:
        """Scroll up by a line."""
        self.query_one("#body", VerticalScroll).scroll_relative(y=-1, animate=False)

    def action_further(self) -> None:
        """Scroll down by a page."""
        self.query_one("#body", VerticalScroll).scroll_page_down(animate=False)

    def action_back_up(self) -> None:
        """Scroll up by a page."""
        self.query_one("#body", VerticalScroll).scroll_page_up(animate=False)


SCROLL: tuple[Cap, ...] = (
    Cap("down", "↓", "", "down"),
    Cap("up", "↑", "", "up"),
    Cap("page_down", "PgDn", "", "further"),
    Cap("page_up", "PgUp", "", "back_up"),
)
"""Keys that every page that can be longer than the screen has."""
