"""What a code of the checker is."""

from __future__ import annotations

from typing import NamedTuple

from coach.check.findings import Level


class Code(NamedTuple):
    """A kind of finding."""

    level: Level
    title: str
    help: str
