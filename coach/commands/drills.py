"""What is done with a log or a key script: play, verify."""

from __future__ import annotations

from pathlib import Path

from coach.commands.problems import is_log
from coach.commands.words import FINDINGS, FINE, MISUSE, complain, say, say_json


def verify(path: Path, json: bool) -> int:
    """Whether the log is whole; the first line that does not fit is named."""
    from coach.log.reading import verify as check

    found = check(path)
    if json:
        say_json({"ok": found.ok, "line": found.line, "what": found.what, "sealed": found.sealed, "torn": found.torn})
    elif found.ok:
        say(f"{path}: {found.what}")
    else:
        where = f"{path}: line {found.line}" if found.line else str(path)
        complain(f"{where}: {found.what}")
    if found.ok:
        return FINE
    return FINDINGS if is_log(path) else MISUSE
