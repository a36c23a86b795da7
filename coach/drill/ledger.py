"""What can be taken back: the lines of mapped keys that still stand, in order, and what may not be moved where."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coach.drill.meaning import ADVICE, PUSHING
from coach.log.history import History
from coach.log.timeline import Input, Timeline
from coach.log.two_clocks import TwoClocks

VERDICTS = frozenset(ADVICE.values())
NEVER_NUDGED = PUSHING | {"breath"}
TAKEN_BACK = frozenset({"taken", "not expected", "not armed"})
"""Outcomes of a mapped key that Backspace can void."""
UNDONE_KINDS = frozenset({"key", "pin", "looked", "prompted", "inject", "advice"})


class Ledger:
    """The standing lines of one drill. ``inputs`` are those that the machine was fed; ``prompts`` are (line, t, the
    observation that was named)."""

    def __init__(self) -> None:
        self.inputs: dict[int, Input] = {}
        self.prompts: list[tuple[int, int, str]] = []
        self._lines: list[tuple[int, str]] = []
        self._voided: set[int] = set()

    @classmethod
    def of(cls, history: History, lines: Sequence[Mapping[str, Any]]) -> Ledger:
        """The ledger of an interrupted drill."""
        ledger = cls()
        ledger.inputs, ledger.prompts = dict(history.inputs), list(history.prompts)
        ledger._voided = set(history.voided)
        ledger._lines = [
            (line["seq"], str(line["meant"]))
            for line in lines
            if line.get("outcome") in TAKEN_BACK and line.get("meant") and line["kind"] in UNDONE_KINDS
        ]
        return ledger

    def note(self, seq: int, what: str) -> None:
        """The line ``seq`` bears a key that means ``what``."""
        self._lines.append((seq, what))

    def last(self, skip: frozenset[str] = frozenset(), among: frozenset[str] | None = None) -> tuple[int, str] | None:
        """The last standing line of a mapped key that is none of ``skip`` (and one of ``among``): (line, id)."""
        for seq, what in reversed(self._lines):
            if seq not in self._voided and what not in skip and (among is None or what in among):
                return seq, what
        return None

    def strike(self, seq: int) -> bool:
        """Void the line; True where it fed the machine."""
        self._voided.add(seq)
        self.prompts = [entry for entry in self.prompts if entry[0] != seq]
        return self.inputs.pop(seq, None) is not None


def barrier(item: Input, to_e: int, now_e: int, timeline: Timeline, clocks: TwoClocks) -> str:
    """What stands between an input and where it would go: go, now, a verdict or a pause; "" for nothing. Times in ms
    of the engine's clock."""
    low, high = min(item.e, to_e), max(item.e, to_e)
    if to_e < 0:
        return "go"
    if to_e > now_e:
        return "now"
    if item.event in VERDICTS:
        return "a verdict"
    if any(entry.input.event in VERDICTS and low <= entry.input.e <= high for entry in timeline.entries):
        return "a verdict"
    if any(low <= clocks.e_at(stretch.t_from) <= high for stretch in clocks.stretches):
        return "a pause"
    return ""
