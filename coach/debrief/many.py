"""Many logs at once: each judged by itself, on as many processes as the machine has, in the order they were given."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TypeVar

from coach.cores import cores, pool
from coach.debrief.from_log import debrief_of
from coach.debrief.page import Debrief
from coach.log.lines import LogProblem
from coach.log.reading import read_log
from coach.protocol.problems import FileProblems
from coach.text import one_line

T = TypeVar("T")

WORTH_IT = 48
"""From so many logs on, other processes are started: they cost about half a second each. A tool's choice."""
AT_ONCE = 16
"""Logs handed to a process in one go."""


def each(
    paths: Sequence[Path], about: Callable[[Debrief], T], processes: int | None = None, language: str = ""
) -> Iterator[tuple[T | None, str]]:
    """What ``about`` gives of each page, and "", or nothing and why. ``about`` stands at the top of a module, since it
    goes to other processes; ``processes`` is how many, the machine's own number where it is left out; ``language`` is
    that of all pages, where it is given."""
    number = processes if processes is not None else cores() if len(paths) >= WORTH_IT else 1
    if number < 2:
        yield from (_one(path, about, language) for path in paths)
        return
    parts = [paths[start : start + AT_ONCE] for start in range(0, len(paths), AT_ONCE)]
    with pool(number) as beside:
        for done in beside.map(_some, parts, [about] * len(parts), [language] * len(parts)):
            yield from done


def _one(path: Path, about: Callable[[Debrief], T], language: str) -> tuple[T | None, str]:
    try:
        return about(debrief_of(read_log(path), language)), ""
    except (LogProblem, FileProblems) as problem:  # in words: an exception with members does not travel
        return None, one_line(str(problem))


def _some(paths: Sequence[Path], about: Callable[[Debrief], T], language: str) -> list[tuple[T | None, str]]:
    return [_one(path, about, language) for path in paths]
