"""Gathering the problems of one file, each at its place, and none twice or as the mere consequence of another."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from coach.protocol.positions import Path, Positions
from coach.protocol.problems import Problem
from coach.text import nearest

MAX_PROBLEMS = 500
"""Problems of one file that are gathered; a file with more is none that a person wrote."""


@dataclass(slots=True)
class Report:
    """The problems found so far in a file.

    ``mended`` holds the paths whose values were bad and have been replaced so that checking can go on: nothing at or
    under them is reported again. ``doubtful`` holds the keys (``timers``, ``mark`` ...) that were bad or misspelt
    somewhere: a name that might have been declared there is not called unknown.
    """

    file: str
    positions: Positions
    problems: dict[Problem, None] = field(default_factory=dict)
    mended: set[Path] = field(default_factory=set)
    doubtful: set[str] = field(default_factory=set)

    @property
    def full(self) -> bool:
        """Whether so much is wrong that no more is gathered."""
        return len(self.problems) >= MAX_PROBLEMS

    def at_key(self, path: Path, what: str, near: str | None = None, todo: str = "") -> None:
        """A problem at the name of a key or table."""
        self._add(path, self.positions.key(path), what, near, todo)

    def lacks(self, path: Path, keys: Iterable[str], what: str, todo: str = "") -> None:
        """A table that lacks one of some keys, unless one of them was there and bad, or misspelt."""
        if not any((*path, key) in self.mended for key in keys):
            self.at_key(path, what, todo=todo)

    def at_value(self, path: Path, what: str, near: str | None = None, todo: str = "") -> None:
        """A problem at the first character of a value."""
        self._add(path, self.positions.value(path), what, near, todo)

    def inside(self, path: Path, offset: int, what: str, near: str | None = None, todo: str = "") -> None:
        """A problem at a character of a text value, counted from 0."""
        self._add(path, self.positions.inside(path, offset), what, near, todo)

    def unknown(self, path: Path, kind: str, name: str, legal: Iterable[str], declared_by: Iterable[str]) -> None:
        """A name that nothing declares, unless one of the places that could declare it is doubtful."""
        if not self.doubtful.intersection(declared_by):
            known = list(legal)
            self.at_value(path, f"unknown {kind} `{name}`", nearest(name, known), known_words(known))

    def _add(self, path: Path, place: tuple[int, int], what: str, near: str | None, todo: str) -> None:
        if any(path[:length] in self.mended for length in range(len(path) + 1)):
            return
        if not self.full:
            self.problems.setdefault(Problem(self.file, *place, what, near, todo))


def known_words(words: Iterable[str]) -> str:
    """What to do about an unknown word: the legal ones, if they are few enough to read."""
    known = sorted(words)
    if not known:
        return "nothing of this kind is declared yet"
    return f"write one of {', '.join(known)}" if len(known) <= 12 else "use a name that the file or the vocabulary has"
