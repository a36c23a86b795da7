"""Errors that are the world's, not the program's, in words: files with mistakes, broken logs, a disk that refuses."""

from __future__ import annotations

import sys
from pathlib import Path

from coach.commands.words import FINDINGS, MISUSE, sentence

SPEAK_FOR_THEMSELVES = {
    "coach.protocol.problems": "FileProblems",
    "coach.protocol.library": "NotFound",
    "coach.keys": "KeyClash",
    "coach.drill.script": "ScriptProblem",
    "coach.engine.plan": "PlanProblem",
}
"""Errors whose own text says what, where and what to do, by the module that has them."""


def is_log(path: Path) -> bool:
    """Whether the file begins as a log of ours does, so that what does not fit in it counts as tampered with."""
    try:
        with path.open("rb") as file:
            return file.read(32).startswith(b'{"seq":0,"kind":"header"')
    except OSError:
        return False


def _is(error: Exception, module: str, name: str) -> bool:
    """Whether ``error`` is of that class; a module that was never loaded has raised nothing."""
    loaded = sys.modules.get(module)
    return loaded is not None and isinstance(error, getattr(loaded, name))


def words_of(error: Exception) -> tuple[str, int] | None:
    """What to say of ``error`` and the exit code, or None where it is a mistake of the program."""
    if any(_is(error, module, name) for module, name in SPEAK_FOR_THEMSELVES.items()):
        return str(error), MISUSE
    if _is(error, "coach.log.lines", "LogProblem"):
        return str(error), FINDINGS if is_log(error.path) else MISUSE  # type: ignore[attr-defined]
    if isinstance(error, OSError):
        where = str(error.filename) if error.filename is not None else ""
        return sentence((error.strerror or str(error)).lower(), where=where), MISUSE
    return None
