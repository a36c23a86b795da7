"""The one widget of the drill screen: lines in, and only those that changed are painted."""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from screens.widgets.ink import Line

_KINDS = ("ready", "on", "calm", "off", "loud", "paused", "stopped", "clock")
ROLES: tuple[str, ...] = (
    *("strong", "quiet", "slate", "sand", "faint", "cap", "flag", "notice", "cue", "voice", "halt-strong"),
    *("on-bead", "on-hollow", "loud-chip", "on-chip"),
    *(f"{kind}{part}" for kind in _KINDS for part in ("", "-big", "-strong", "-word")),
)
"""Every role that a piece may have, besides "" for plain text. Each is a component class ``face--ROLE``."""


class Face(Widget):
    """Draws lines of pieces. No layout, no children, no focus: a key costs the cells that changed and no more."""

    DEFAULT_CSS = """
    Face {
        width: 100%;
        height: 100%;
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {f"face--{role}" for role in ROLES}
    ALLOW_SELECT = False
    can_focus = False

    def __init__(self) -> None:
        super().__init__()
        self._lines: list[Line] = []
        self._strips: list[Strip] = []
        self._styles_of: dict[str, Style] = {}
        self._stale = False

    def show(self, lines: list[Line]) -> None:
        """Put these lines on the screen; those that are there already are left alone."""
        if len(lines) != len(self._lines):
            self._lines, self._strips = lines, [self._strip(line) for line in lines]
            self.refresh()
            return
        changed: list[Region] = []
        width = self.size.width
        for row, line in enumerate(lines):
            if line != self._lines[row]:
                self._strips[row] = self._strip(line)
                changed.append(Region(0, row, width, 1))
        self._lines = lines
        if changed:
            self.refresh(*changed)

    def notify_style_update(self) -> None:
        """The theme changed: all colours are asked for anew, once the new ones are in force."""
        super().notify_style_update()
        self._stale = True

    def render_line(self, y: int) -> Strip:
        """One row, as it stands."""
        if self._stale:
            self._stale = False
            self._styles_of.clear()
            self._strips = [self._strip(line) for line in self._lines]
        return self._strips[y] if y < len(self._strips) else Strip.blank(self.size.width, self._style(""))

    def _style(self, role: str) -> Style:
        style = self._styles_of.get(role)
        if style is None:
            style = self.get_component_rich_style(f"face--{role}") if role else self.rich_style
            self._styles_of[role] = style
        return style

    def _strip(self, line: Line) -> Strip:
        return Strip([Segment(text, self._style(role)) for text, role in line if text])
