"""Replaying a log: every state again, compared to the digest that each line carries."""

from __future__ import annotations

from dataclasses import dataclass

from coach.engine.machine import SEMANTICS
from coach.log.history import Differs, fold
from coach.log.reading import Record


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay found: how many digests were compared, the first that differs, the drill's length in ms, and the
    engine's meaning that the log was made with: under another one states may differ with nobody having touched it."""

    compared: int
    differs: Differs | None
    e: int
    engine: int

    @property
    def same(self) -> bool:
        """True where every state came out again."""
        return self.differs is None

    @property
    def other_engine(self) -> bool:
        """True where the log was made with another meaning of the engine than this program's."""
        return self.engine != SEMANTICS


def replay(record: Record) -> Replayed:
    """Fold the record again. Raises :class:`coach.protocol.problems.FileProblems` where its protocol does not read."""
    history = fold(record)
    return Replayed(history.checked, history.differs, history.end_e, record.head.engine)
