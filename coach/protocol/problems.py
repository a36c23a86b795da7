"""What is wrong with a file, said so that its author can mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from coach.text import clean, one_line


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a file: where (line and column from 1), what, the nearest legal word, what to do.

    A ``notice`` is no error: the file reads, and its author should know something.
    """

    file: str
    line: int
    column: int
    what: str
    nearest: str | None = None
    todo: str = ""
    level: Literal["error", "notice"] = "error"

    def __str__(self) -> str:
        near = f" Did you mean `{self.nearest}`?" if self.nearest else ""
        todo = f" {self.todo[:1].upper()}{self.todo[1:]}." if self.todo and not self.nearest else ""
        word = "notice: " if self.level == "notice" else ""
        return one_line(f"{self.file}:{self.line}:{self.column}: {word}{self.what}.{near}{todo}")

    def as_dict(self) -> dict[str, str | int | None]:
        """The problem as plain values, for JSON."""
        return {
            "file": clean(self.file),
            "line": self.line,
            "column": self.column,
            "level": self.level,
            "what": clean(self.what),
            "nearest": None if self.nearest is None else clean(self.nearest),
            "todo": clean(self.todo),
        }


class FileProblems(ValueError):
    """A file that cannot be used, with everything that is wrong with it, in the order of the file."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems, key=lambda p: (p.file, p.line, p.column, p.what)))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def as_dicts(self) -> list[dict[str, str | int | None]]:
        """The problems as plain values, for JSON."""
        return [problem.as_dict() for problem in self.problems]
