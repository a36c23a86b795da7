"""Replaying a log: every state again, compared to the digest that each line carries."""

from __future__ import annotations

from dataclasses import dataclass

from coach.log.history import Differs, fold
from coach.log.reading import Record


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay found: how many digests were compared, the first that differs, and the drill's length in ms."""

    compared: int
    differs: Differs | None
    e: int

    @property
    def same(self) -> bool:
        """True where every state came out again."""
        return self.differs is None


def replay(record: Record) -> Replayed:
    """Fold the record again. Raises :class:`coach.protocol.problems.FileProblems` where its protocol does not read."""
    history = fold(record)
    return Replayed(history.checked, history.differs, history.end_e)
