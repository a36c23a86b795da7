"""What the checker finds in a file, said so that its author can mend it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

from coach.text import clean, one_line

Level = Literal["error", "warning", "note"]

LEVELS: tuple[Level, ...] = ("error", "warning", "note")
"""The worst first. Errors and warnings make a check fail; a note is for people to know."""


class Where(NamedTuple):
    """A place in a file; line and column from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found.

    ``what`` says it in one sentence, ``help`` what to do about it, ``witness`` are values or steps that show it, one to
    a line. ``about`` is the dotted name of what it is about (``track.rescuer.step.begin``), by which a ``[[waive]]``
    names it; ``subject`` is the thing's own name. ``waived`` is the reason of the waiver that covers it, "" for none.
    """

    code: str
    level: Level
    where: Where
    what: str
    help: str = ""
    witness: tuple[str, ...] = ()
    about: str = ""
    subject: str = ""
    waived: str = ""

    @property
    def counts(self) -> bool:
        """Whether it makes a check fail."""
        return self.level != "note" and not self.waived

    @property
    def order(self) -> tuple[str, int, int, str, str]:
        """By place in the file, then by code."""
        return (*self.where, self.code, self.what)

    def __str__(self) -> str:
        place = f"{self.where.file}:{self.where.line}:{self.where.column}"
        return one_line(f"{place}: {self.level}: {self.what} [{self.code}]")

    def as_dict(self) -> dict[str, Any]:
        """The finding as plain values, for JSON."""
        return {
            "code": self.code,
            "level": self.level,
            "file": clean(self.where.file),
            "line": self.where.line,
            "column": self.where.column,
            "what": clean(self.what),
            "help": clean(self.help),
            "witness": [clean(line) for line in self.witness],
            "about": clean(self.about),
            "waived": clean(self.waived),
        }
