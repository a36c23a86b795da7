"""The quieter pages: drills kept, protocols found, what each key means, the settings in force."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, ClassVar

from textual.content import Content

from coach.keys import KeyClash, shown
from coach.observations import CONTROLS, OBSERVATIONS, label
from screens.desk import Desk, DrillCard
from screens.page import CAP, LOUD, QUIET, SCROLL, STRONG, Cap, Lines, Page

if TYPE_CHECKING:
    from screens.app import KneesideApp

HOME = (Cap("escape", "Esc", "home", "home"), Cap("q", "Q", "", "home"), Cap("backspace", "Backspace", "", "home"))


class ShelfPage(Page):
    """A page to read, closed by Esc."""

    CAPS: ClassVar[tuple[Cap, ...]] = (Cap("", "↑ ↓", "scroll", ""), *HOME, *SCROLL)

    app: KneesideApp

    def __init__(self, title: str, write: Callable[[Desk, Lines], None]) -> None:
        super().__init__()
        self._headline = title
        self._write = write

    def title_words(self) -> str:
        """The page's name."""
        return self._headline

    def body(self, lines: Lines) -> None:
        """What stands on the shelf."""
        self._write(self.app.desk, lines)

    def action_home(self) -> None:
        """Close the page."""
        self.dismiss(None)


def write_protocols(desk: Desk, lines: Lines) -> None:
    """Every protocol found: title, guidance, approval, audience, where; or why it cannot be used."""
    cards = desk.protocols()
    if not cards:
        lines.text("No protocol was found.", STRONG)
    for card in cards:
        lines.blank()
        lines.text(Content.assemble((card.title or card.id, STRONG), (f"  {card.guidance}", QUIET)))
        if card.problem:
            lines.text(Content.assemble((" cannot be used ", LOUD), f" {card.problem}"))
        else:
            approval = (
                Content.styled(card.approval, "") if card.sound else Content.assemble((f" {card.approval} ", LOUD))
            )
            lines.row("approval", approval)
            lines.row("for", card.audience)
        if card.about:
            lines.row("about", card.about)
        lines.row("file", f"{card.id} {card.version}  {card.where}".rstrip(), QUIET)


_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("the chest", ("compression", "breath", "hands_lifted", "swapped")),
    ("the start", ("next", "response_checked", "not_breathing", "call_made")),
    ("the unit", ("unit_on", "pad_right", "pad_left", "analysis_begins", "advice_planned", "advice_other")),
    ("the shock", ("clear_called", "shock_pressed", "touch")),
    ("what you saw", ("pin_fault", "pin_good", "something_else", "prompted", "concern", "no_concern")),
    ("injects", ("answered_wrong",)),
    ("the end", ("recovery", "handover", "end")),
    ("the record", ("void", "earlier", "later", "period_cut", "plan")),
    ("to stop", ("pause", "stop", "stop_too", "help")),
)


def write_keys(desk: Desk, lines: Lines) -> None:
    """Each key and what it means in a drill, grouped; changes against the built-in map are marked."""
    kept, _ = desk.remembered()
    try:
        keys = desk.keys(kept.protocol)
    except KeyClash as error:
        lines.text(Content.assemble((" keys clash ", LOUD), f" {error}"))
        lines.text(f"Change them in {desk.settings.path}", QUIET)
        return
    by_id: dict[str, list[str]] = {}
    for key, ident in keys.items():
        by_id.setdefault(ident, []).append(key)
    listed = {ident for _, idents in _GROUPS for ident in idents}
    others = tuple(ident for ident in by_id if ident not in listed)
    for title, idents in (*_GROUPS, ("more", others)):
        rows = [(ident, by_id[ident]) for ident in idents if ident in by_id]
        if rows:
            lines.blank()
            lines.text(title, QUIET)
        for ident, names in rows:
            cap = Content(" ").join(Content.styled(f" {shown(name)} ", CAP) for name in names)
            moved = "" if names == [_default(ident)] else "  changed"
            words = Content.assemble(" " * max(13 - cap.cell_length, 1), label(ident), (moved, QUIET))
            lines.text(cap + words, indent=2)
    lines.blank()
    lines.text(
        f"Enter shocks only where a shock is armed. Esc stops at once, Esc again shows the emergency card; "
        f"{shown(_first(by_id, 'end'))} twice ends. To change a key: [keys] in {desk.settings.path}",
        QUIET,
    )


def _first(by_id: dict[str, list[str]], ident: str) -> str:
    return by_id.get(ident, [""])[0]


def _default(ident: str) -> str | None:
    if ident in OBSERVATIONS:
        return OBSERVATIONS[ident].key
    return CONTROLS[ident].key if ident in CONTROLS else None


def write_settings(desk: Desk, lines: Lines) -> None:
    """Where the settings are and what is in force."""
    settings = desk.settings
    lines.row("file", str(settings.path))
    if not settings.found:
        lines.row("", "There is none yet: everything is as built in. Make it with any editor.", QUIET)
    lines.row("logs", str(desk.folder))
    lines.blank()
    for entry in fields(settings):
        if entry.name not in ("path", "found", "room", "keys", "data_folder"):
            value = getattr(settings, entry.name)
            lines.row(entry.name, str(value) if value != "" else "as built in")
    lines.blank()
    lines.text("[room]  for the real-emergency card", QUIET)
    room = settings.room
    lines.row("number", room.emergency_number or "not set")
    lines.row("address", room.address or "not set")
    lines.row("real unit", room.real_unit or "not set")
    lines.blank()
    lines.text("[keys]", QUIET)
    if not settings.keys:
        lines.row("", "none changed")
    for choice in settings.keys:
        lines.row("", f"{choice.ident} = {shown(choice.key) if choice.key else 'no key'}")


SHELVES: dict[str, tuple[str, Callable[[Desk, Lines], None]]] = {
    "protocols": ("Protocols", write_protocols),
    "keys": ("Keys in a drill", write_keys),
    "settings": ("Settings", write_settings),
}


class DrillsScreen(Page):
    """All drills kept, newest first; Enter opens a debrief."""

    app: KneesideApp

    def __init__(self) -> None:
        super().__init__()
        self.cards: tuple[DrillCard, ...] = ()
        self.at = 0

    def on_mount(self) -> None:
        """See what is there."""
        self.cards = self.app.desk.drills()
        super().on_mount()

    def title_words(self) -> str:
        """The page's name and how many there are."""
        return f"Drills: {len(self.cards)}" if self.cards else "Drills"

    def caps(self) -> Sequence[Cap]:
        """Pick, open, leave."""
        return (
            Cap("enter", "Enter", "debrief", "open"),
            Cap("down", "↑ ↓", "pick", "move(1)"),
            Cap("up", "↑", "", "move(-1)"),
            Cap("page_down", "PgDn", "", "move(10)"),
            Cap("page_up", "PgUp", "", "move(-10)"),
            *HOME,
        )

    def body(self, lines: Lines) -> None:
        """One drill a line."""
        if not self.cards:
            lines.text("No drill is kept here yet.")
            lines.text(str(self.app.desk.folder), QUIET)
        for number, card in enumerate(self.cards):
            chosen = number == self.at
            if chosen:
                lines.marks["chosen"] = len(lines.made)
            words = f"{'▸ ' if chosen else '  '}{card.when}  {card.learner or '–':>2}  {card.what}"
            state = "" if card.state == "ended" else f"  {card.state}"
            line = Content.assemble((words, STRONG if chosen else ""), (state, QUIET))
            lines.made.append(line.truncate(lines.width, ellipsis=True))

    def painted(self, lines: Lines) -> None:
        """Keep the picked drill in sight."""
        if "chosen" in lines.marks:
            self.call_after_refresh(self.show_line, lines.marks["chosen"])

    def action_move(self, by: int) -> None:
        """Pick another."""
        if self.cards:
            self.at = min(max(self.at + by, 0), len(self.cards) - 1)
            self.paint()

    async def action_open(self) -> None:
        """The picked drill's debrief."""
        if self.cards:
            await self.app.look_back(self.cards[self.at].path)

    def action_home(self) -> None:
        """Close the list."""
        self.dismiss(None)
