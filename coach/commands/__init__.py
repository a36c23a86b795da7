"""The command line. ``main`` is light: nothing is imported before it is known what is asked for."""

from __future__ import annotations

import sys
from collections.abc import Sequence


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line ``arguments`` (default: those of the process) and return the exit code.

    0 fine, 1 findings, 2 misuse or unreadable input, 3 not decided, 70 a crash of ours, 130 interrupted.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    if given in (["--version"], ["-V"]):
        from coach import __version__

        print(f"kneeside {__version__}")
        return 0
    from coach.commands.endings import ended

    if not given:  # the commonest start waits for no library of the command line
        from coach.commands.doors import home

        return ended(home)
    return ended(lambda: _line(given))


def _line(given: list[str]) -> int:
    from coach.commands.line import run

    return run(given)
