"""Key caps at the foot of the drill screen, made from the keys in force; what does not fit is left to the help."""

from __future__ import annotations

from functools import lru_cache

from coach.drill.view import View
from screens.keyboard import Caps, foot_entries
from screens.widgets.ink import Line, ends, fill, plain, width_of

STOP_CELLS = 30
"""Cells that stop, pause and end keep, whatever would be voided; the word for help gives way before they do."""


def capped(cap: str, word: str) -> Line:
    """One key cap and what it does."""
    return [(f" {cap} ", "cap"), (f" {word}", "")]


@lru_cache(maxsize=64)
def caps_rows(entries: tuple[tuple[str, str], ...], width: int, rows: int) -> list[Line]:
    """Exactly ``rows`` lines of key caps, filled in order; an entry is shown whole or not at all."""
    gap = 1 if width < 98 else 2
    lines: list[Line] = []
    line: Line = []
    for cap, word in entries:
        piece = capped(cap, word)
        if line and width_of(line) + gap + width_of(piece) > width:
            lines.append(line)
            line = []
            if len(lines) == rows:
                break
        line += [(" " * gap, ""), *piece] if line else piece
    if len(lines) < rows:
        lines.append(line)
    lines += [[] for _ in range(rows - len(lines))]
    return [fill(made, width) for made in lines]


def stop_keys(caps: Caps, width: int) -> Line:
    """The keys that must be found at once: stop, pause, end, help. The first of them is never left out."""
    end = caps.cap("end")
    line: Line = []
    for ident, cap, word in (
        ("stop", caps.cap("stop"), "stop"),
        ("pause", caps.cap("pause"), "pause"),
        ("end", f"{end} {end}", "end"),
        ("help", caps.cap("help"), "keys"),
    ):
        piece = capped(cap, word)
        if caps.cap(ident) and width_of(line) + 2 + width_of(piece) <= width:
            line += [("  ", ""), *piece] if line else piece
    return line


def void_words(view: View, caps: Caps, narrow: bool) -> Line:
    """What the void key would take back, by name."""
    cap = caps.cap("void")
    cap = "Bksp" if narrow and cap == "Backspace" else cap
    word = plain(view.would_void)
    if not cap:
        return []
    return [(f" {cap} ", "cap"), (" voids ", ""), (word or "nothing", "strong" if word else "quiet")]


def drill_foot(view: View, caps: Caps, width: int) -> list[Line]:
    """Three lines: what would be voided and how to stop, then the keys that mean something now."""
    if view.phase == "running":
        void = void_words(view, caps, width < 98)
        first = ends(void, stop_keys(caps, max(STOP_CELLS, width - width_of(void) - 2)), width)
        return [first, *caps_rows(foot_entries(caps), width, 2)]
    return [*caps_rows(rest_keys(view, caps), width, 1), [], []]


def rest_keys(view: View, caps: Caps) -> tuple[tuple[str, str], ...]:
    """The keys that mean something while no drill runs."""
    end = f"{caps.cap('end')} {caps.cap('end')}"
    if view.phase == "ready":
        return (caps.cap("go"), "go"), (caps.cap("help"), "keys")
    if view.phase == "paused":
        return (caps.cap("pause"), "goes on"), (end, "ends"), (caps.cap("stop"), "safety stop")
    return (caps.cap("stop"), "real emergency"), (caps.cap("pause"), "goes on"), (end, "ends")
