"""Where every key and value of a TOML text stands: the standard parser gives values, this gives their places.

The text must be one that ``tomllib`` reads; the scanner then has to find borders only, and never judges.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

Path = tuple[str | int, ...]
"""Keys of tables and indices of arrays (from 0) that lead to a value."""


@dataclass(frozen=True, slots=True)
class Positions:
    """Places, as offsets into the text, of the keys and values of a file."""

    text: str
    keys: dict[Path, int] = field(default_factory=dict)
    values: dict[Path, int] = field(default_factory=dict)
    starts: list[int] = field(default_factory=lambda: [0])

    def line_column(self, offset: int) -> tuple[int, int]:
        """Line and column of an offset, both from 1; a tab is one column."""
        line = bisect_right(self.starts, offset)
        return line, offset - self.starts[line - 1] + 1

    def key(self, path: Path) -> tuple[int, int]:
        """Place of a key's name (of a table: its name in the header; of an array's item: the item)."""
        return self.line_column(self._nearest(self.keys, path))

    def value(self, path: Path) -> tuple[int, int]:
        """Place of a value's first character (quote, bracket or digit; of a table with a header: its name there)."""
        return self.line_column(self._nearest(self.values, path))

    def inside(self, path: Path, offset: int) -> tuple[int, int]:
        """Place of a character of a string value, counted from 0 in the string as the program reads it."""
        start = self.values.get(path)
        if start is None or self.text[start : start + 1] not in ('"', "'"):
            return self.value(path)
        places = _string_places(self.text, start)
        return self.line_column(places[min(offset, len(places) - 1)])

    def _nearest(self, table: dict[Path, int], path: Path) -> int:
        """Place of the longest part of the path that stands in the file; the file's start for none."""
        for length in range(len(path), 0, -1):
            if path[:length] in table:
                return table[path[:length]]
        return 0


@lru_cache(maxsize=4)
def locate(text: str) -> Positions:
    """The places of all keys and values in a text that is TOML; one file is asked for several times over."""
    starts = [0, *(match.end() for match in re.finditer(r"\n", text))]
    positions = Positions(text, starts=starts)
    _Scanner(positions).file()
    return positions


_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_OTHER = re.compile(r"[^,\]}#\r\n]+")  # numbers, booleans, dates (which may hold one blank)


class _Scanner:
    """One walk over the text. Depth is bounded by the reader before it comes here."""

    def __init__(self, positions: Positions) -> None:
        self._p = positions
        self._text = positions.text
        self._at = 0
        self._lengths: dict[Path, int] = {}  # of arrays of tables: the number of items so far

    def file(self) -> None:
        table: Path = ()
        self._blank()
        while self._at < len(self._text):
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._blank()

    def _blank(self) -> None:
        match = _BLANK.match(self._text, self._at)
        self._at = match.end() if match else self._at

    def _skip(self, signs: str) -> None:
        while self._text[self._at] in signs:
            self._at += 1

    def _header(self) -> Path:
        several = self._text.startswith("[[", self._at)
        self._at += 2 if several else 1
        path: Path = ()
        parts = self._key()
        for number, (name, at) in enumerate(parts, start=1):
            path = (*path, name)
            last = number == len(parts)
            self._note(path, at, fresh=last and path not in self._lengths)
            if last and several:
                self._lengths[path] = self._lengths.get(path, 0) + 1
            if path in self._lengths:
                path = (*path, self._lengths[path] - 1)
                self._note(path, at)
        self._at += 2 if several else 1
        return path

    def _note(self, path: Path, at: int, fresh: bool = False) -> None:
        """Keep the place of a table; a header of its own (``fresh``) beats an earlier mention inside another's."""
        if fresh or path not in self._p.keys:
            self._p.keys[path] = at
            self._p.values[path] = at

    def _pair(self, table: Path) -> None:
        path = table
        for name, at in self._key():
            path = (*path, name)
            self._note(path, at)
        self._skip(" \t=")
        self._value(path)

    def _key(self) -> list[tuple[str, int]]:
        parts: list[tuple[str, int]] = []
        while True:
            self._skip(" \t")
            start = self._at
            if self._text[start] in "\"'":
                self._at = string_end(self._text, start)
                parts.append((_decoded(self._text, start, self._at), start))
            else:
                match = _BARE.match(self._text, start)
                self._at = match.end() if match else start
                parts.append((self._text[start : self._at], start))
            self._skip(" \t")
            if self._text[self._at] != ".":
                return parts
            self._at += 1

    def _value(self, path: Path) -> None:
        self._p.values[path] = self._at
        sign = self._text[self._at]
        if sign in "\"'":
            self._at = string_end(self._text, self._at)
        elif sign == "[":
            self._array(path)
        elif sign == "{":
            self._inline_table(path)
        else:
            match = _OTHER.match(self._text, self._at)
            self._at = match.end() if match else self._at + 1

    def _array(self, path: Path) -> None:
        self._at += 1
        index = 0
        self._blank()
        while self._text[self._at] != "]":
            item = (*path, index)
            self._p.keys[item] = self._at
            self._value(item)
            index += 1
            self._blank()
            if self._text[self._at] == ",":
                self._at += 1
                self._blank()
        self._at += 1

    def _inline_table(self, path: Path) -> None:
        self._at += 1
        self._blank()
        while self._text[self._at] != "}":
            self._pair(path)
            self._blank()
            if self._text[self._at] == ",":
                self._at += 1
                self._blank()
        self._at += 1


_LONG = re.compile(r'"""|\'\'\'')
_SIMPLE_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


def string_end(text: str, start: int) -> int:
    """The offset after a string's closing quote."""
    quote = text[start]
    if not _LONG.match(text, start):
        at = start + 1
        while text[at] != quote:
            at += 2 if text[at] == "\\" and quote == '"' else 1
        return at + 1
    at = start + 3
    while not text.startswith(quote * 3, at):
        at += 2 if text[at] == "\\" and quote == '"' else 1
    at += 3
    while text[at : at + 1] == quote:  # up to two quotes may stand before the closing three
        at += 1
    return at


def _string_places(text: str, start: int) -> list[int]:
    """The offset in the text of each character of the string that starts at ``start``, and of its closing quote."""
    end = string_end(text, start)
    quote = text[start]
    width = 3 if _LONG.match(text, start) else 1
    at, end = start + width, end - width
    if width == 3 and text.startswith(("\n", "\r\n"), at):
        at += 1 if text[at] == "\n" else 2
    places: list[int] = []
    while at < end:
        if text[at] == "\\" and quote == '"':
            if text[at + 1] in " \t\r\n":
                while at < end and text[at] in "\\ \t\r\n":
                    at += 1
                    if text[at : at + 1] == "\\":
                        break
                continue
            places.append(at)
            at += {"u": 6, "U": 10}.get(text[at + 1], 2)
        elif text.startswith("\r\n", at):
            places.append(at + 1)
            at += 2
        else:
            places.append(at)
            at += 1
    return [*places, end]


def _decoded(text: str, start: int, end: int) -> str:
    """A quoted key as the parser reads it. Keys are never long strings."""
    places = _string_places(text, start)
    if text[start] == "'":
        return text[start + 1 : end - 1]
    letters: list[str] = []
    for at, following in pairwise(places):
        if text[at] != "\\":
            letters.append(text[at])
        elif text[at + 1] in "uU":
            letters.append(chr(int(text[at + 2 : following], 16)))
        else:
            letters.append(_SIMPLE_ESCAPES[text[at + 1]])
    return "".join(letters)
