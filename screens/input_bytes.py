"""Escape, told apart from the beginning of an escape sequence by when its bytes arrived.

A terminal without the Kitty protocol sends one byte for Esc, and the same byte begins every arrow key, focus report and
Alt+key. The stock parser waits about 100 ms for what follows and swallows Esc when anything does: Esc, then Space, is
a Space; Esc, then Enter, is the key for a shock. Here the bytes are looked at as they arrive:

* ESC and, over :data:`TOGETHER_S` later, a further byte: the Escape key, and then whatever the byte means;
* ESC and nothing: the Escape key, as soon as that time has passed;
* ESC and one character within that time: Alt and that key, one event named ``alt+...``, which no drill takes;
* ESC [ ... and ESC O ... arriving together: left to the stock parser (a Kitty terminal sends nothing else);
* a bracketed paste: one event, whatever stands in it.

Every event carries the time at which its byte arrived.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Generator, Iterator
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from textual.driver import Driver

ESC = "\x1b"

TOGETHER_S = 0.010
"""Bytes at most this far apart (seconds) came from one key. Measured: a terminal writes Alt+key and escape sequences at
one go, and no hand strikes two keys in a row faster than this."""

PASTE_SILENCE_S = 0.5
"""An ESC inside a paste and this much silence (seconds): the paste's end was lost, and a person is pressing Esc."""

_PASTE_BEGINS = "\x1b[200~"
_PASTE_ENDS = "\x1b[201~"
_NAMES = {"\r": "enter", "\n": "enter", "\t": "tab", " ": "space", "\x7f": "backspace", "\x08": "backspace"}


class Text(NamedTuple):
    """Characters for the stock parser, and when they arrived (seconds on the event clock)."""

    text: str
    at: float


class Escape(NamedTuple):
    """The Escape key, and when its byte arrived."""

    at: float


class Alt(NamedTuple):
    """Alt with the key ``name`` ("c", "enter"): one press, not Escape and a key."""

    name: str
    at: float


class Pasted(NamedTuple):
    """The whole of a bracketed paste, and when its end arrived."""

    text: str
    at: float


Piece = Text | Escape | Alt | Pasted
Pieces = Generator[Piece, None, str]


class EscapeSplitter:
    """Characters and their arrival times in, pieces out. Reads no clock."""

    def __init__(self) -> None:
        self._held: float | None = None
        """When the ESC arrived that is not decided yet."""
        self._paste: str | None = None
        """What was pasted so far, None outside a paste."""

    def wait_until(self) -> float | None:
        """When :meth:`passed` should be asked again (seconds), None while nothing is held."""
        if self._held is None:
            return None
        return self._held + (TOGETHER_S if self._paste is None else PASTE_SILENCE_S)

    def passed(self, now: float) -> Iterator[Piece]:
        """Nothing more had arrived by ``now``: a held ESC whose time has run out was the Escape key."""
        deadline = self.wait_until()
        if deadline is None or self._held is None or now <= deadline:
            return
        if self._paste is not None:
            yield Pasted(self._paste, now)
            self._paste = None
        yield Escape(self._held)
        self._held = None

    def feed(self, text: str, at: float) -> Iterator[Piece]:
        """Characters that arrived together at ``at``."""
        if not text:
            return
        yield from self.passed(at)
        if self._held is not None:
            text, self._held = ESC + text, None
        while text:
            if self._paste is not None:
                text = yield from self._pasting(text, at)
                continue
            plain, escape, rest = text.partition(ESC)
            if plain:
                yield Text(plain, at)
            if not escape:
                return
            text = yield from self._after_escape(rest, at)

    def _after_escape(self, rest: str, at: float) -> Pieces:
        """What an ESC and the characters beside it are; returns those that come after."""
        if not rest:
            self._held = at
            return ""
        if rest[0] == ESC:
            # Two at once are no two presses: Alt+Esc, kept as one Escape key, or Alt before a sequence.
            if rest[1:2] not in ("[", "O"):
                yield Escape(at)
                return rest[1:]
            return rest
        if rest.startswith(_PASTE_BEGINS[1:]):
            self._paste = ""
            return rest[len(_PASTE_BEGINS) - 1 :]
        if rest[0] in "[O" and len(rest) > 1:
            end = rest.find(ESC)
            end = len(rest) if end < 0 else end
            yield Text(ESC + rest[:end], at)
            return rest[end:]
        yield Alt(_NAMES.get(rest[0], rest[0]), at)
        return rest[1:]

    def _pasting(self, text: str, at: float) -> Pieces:
        """Gather a paste up to its end; returns what follows it. A last ESC may be the end's or a person's."""
        seen = (self._paste or "") + text
        pasted, end, rest = seen.partition(_PASTE_ENDS)
        if end:
            yield Pasted(pasted, at)
            self._paste = None
            return rest
        if seen.endswith(ESC):
            self._held = at
            seen = seen[:-1]
        self._paste = seen
        return ""


def driver_class() -> type[Driver] | None:
    """The driver that keeps Escape, for ``App(driver_class=...)``; None where the stock one must do.

    That is Windows, where the console reports key presses and not bytes in time, and wherever ``TEXTUAL_DRIVER`` asks
    for another driver.
    """
    if sys.platform == "win32" or os.environ.get("TEXTUAL_DRIVER"):
        return None
    from screens.posix_driver import EscapeKeepingDriver

    return EscapeKeepingDriver
