"""Every code that the checker uses: its level, what it means in a line, and a paragraph of help."""

from __future__ import annotations

from coach.check.explain.code import Code
from coach.check.explain.judging import JUDGING
from coach.check.explain.structure import STRUCTURE

__all__ = ["CODES", "Code"]

CODES: dict[str, Code] = {**STRUCTURE, **JUDGING}
