"""The stock driver for Linux and macOS with one change: what stands between the terminal's bytes and the parser."""

from __future__ import annotations

import codecs
import contextlib
import os
import selectors
from collections.abc import Iterable

from textual import events
from textual._parser import ParseError
from textual._time import get_time
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from screens.input_bytes import Alt, Escape, EscapeSplitter, Pasted, Piece

_IDLE_S = 0.1
"""How long one wait for input lasts at most (seconds), so that the end of the program is noticed."""

_SLACK_S = 0.001
"""Added to a wait for a held ESC (seconds): a wait may end a little before its time."""


class EscapeKeepingDriver(LinuxDriver):
    """Reads the keyboard through :class:`screens.input_bytes.EscapeSplitter`."""

    def run_input_thread(self) -> None:
        """Wait for input and hand on events until the program ends. Takes the place of the stock loop."""
        parser = XTermParser(self._debug)
        splitter = EscapeSplitter()
        decode = codecs.getincrementaldecoder("utf-8")(errors="replace").decode
        selector = selectors.SelectSelector()
        selector.register(self.fileno, selectors.EVENT_READ)
        try:
            while not self.exit_event.is_set():
                deadline = splitter.wait_until()
                wait = _IDLE_S if deadline is None else min(_IDLE_S, max(0.0, deadline - get_time()) + _SLACK_S)
                if selector.select(wait):
                    at = get_time()
                    data = os.read(self.fileno, 4096)
                    if not data:
                        # Input that is no terminal and has ended stays readable for ever.
                        self.exit_event.wait(_IDLE_S)
                    self._hand_on(parser, splitter.feed(decode(data), at))
                else:
                    self._hand_on(parser, splitter.passed(get_time()))
                for event in parser.tick():
                    self.process_message(event)
        finally:
            selector.close()
            with contextlib.suppress(EOFError, ParseError):
                for _ in parser.feed(""):
                    pass

    def _hand_on(self, parser: XTermParser, pieces: Iterable[Piece]) -> None:
        for piece in pieces:
            made: Iterable[Message]
            if isinstance(piece, Escape):
                made = [events.Key("escape", "\x1b")]
            elif isinstance(piece, Alt):
                made = [events.Key(f"alt+{piece.name}", None)]
            elif isinstance(piece, Pasted):
                made = [events.Paste(piece.text.replace("\x00", ""))]
            else:
                made = parser.feed(piece.text)
            for message in made:
                message.time = piece.at
                self.process_message(message)
