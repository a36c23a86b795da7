"""Errors that are the world's, not the program's, in words: files with mistakes, broken logs, a disk that refuses."""

from __future__ import annotations

from pathlib import Path

from coach.commands.words import FINDINGS, MISUSE, sentence


def is_log(path: Path) -> bool:
    """Whether the file begins as a log of ours does, so that what does not fit in it counts as tampered with."""
    try:
        with path.open("rb") as file:
            return file.read(32).startswith(b'{"seq":0,"kind":"header"')
    except OSError:
        return False


def words_of(error: Exception) -> tuple[str, int] | None:
    """What to say of ``error`` and the exit code, or None where it is a mistake of the program."""
    from coach.keys import KeyClash
    from coach.log.lines import LogProblem
    from coach.protocol.problems import FileProblems
    from coach.settings import SettingsError

    if isinstance(error, LogProblem):
        said = sentence(error.what, where=error.where, todo=f"To do: {error.todo}.")
        return said, FINDINGS if is_log(error.path) else MISUSE
    if isinstance(error, (FileProblems, SettingsError, KeyClash)):
        return str(error), MISUSE
    if isinstance(error, OSError):
        where = str(error.filename) if error.filename is not None else ""
        return sentence((error.strerror or str(error)).lower(), where=where), MISUSE
    return None
