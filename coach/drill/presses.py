"""Bounces and held keys: what a keyboard adds to what a finger did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BOUNCE_MS = 120
"""Two presses of one key closer than this are one: 500 a minute is nobody's rate (a tool's choice)."""

REPEAT_STARTS_MS = 1_000
"""A held key begins to repeat within this time (usual settings are 200 to 660 ms; common practice, no source)."""

EXEMPT = frozenset({"end", "stop", "stop_too", "earlier", "later"})
"""Ids whose quick second press is meant."""

Verdict = Literal["press", "dropped", "held"]


@dataclass(slots=True)
class _Raw:
    last: int
    quick: int = 0
    accepted: tuple[int, ...] = ()
    held: bool = False


class Bounce:
    """Tells presses from bounces and repeats, by the last *raw* press of the same key."""

    def __init__(self) -> None:
        self._raw: dict[str, _Raw] = {}

    def judge(self, key: str, stamp_ms: int, exempt: bool) -> tuple[Verdict, bool]:
        """The verdict on a press at ``stamp_ms``; the flag is True at the moment a key turns out to be held down.

        Held: two successive gaps under :data:`BOUNCE_MS`. The caller then voids the press from which the repeat
        began, see :meth:`repeated`.
        """
        raw = self._raw.get(key)
        if raw is None or exempt:
            self._raw[key] = _Raw(stamp_ms, 0, (stamp_ms,))
            return "press", False
        gap = stamp_ms - raw.last
        raw.last = max(raw.last, stamp_ms)
        if gap >= BOUNCE_MS:
            raw.quick, raw.held = 0, False
            raw.accepted = (*raw.accepted[-1:], stamp_ms)
            return "press", False
        raw.quick += 1
        if raw.quick < 2:
            return "dropped", False
        began, raw.held = not raw.held, True
        return "held", began

    def repeated(self, key: str) -> bool:
        """True where the last accepted press of ``key`` is itself the first repeat of a held key: another accepted
        press stands less than :data:`REPEAT_STARTS_MS` before it."""
        accepted = self._raw[key].accepted
        return len(accepted) == 2 and accepted[1] - accepted[0] < REPEAT_STARTS_MS
