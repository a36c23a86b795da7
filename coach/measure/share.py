"""The hands-on share, and the ceiling that ratio, pace and breath gap set to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.measure.gaps import Gap, Window


@dataclass(frozen=True, slots=True)
class HandsOn:
    """``share`` of the window with hands on (0 to 1, ``None`` without a window); ``ceiling`` as :func:`ceiling`, with
    the ``ratio``, ``pace`` (a minute) and ``breath_gap`` (ms, the protocol's aim, or its limit where ``at_limit``) that
    it was worked out from; ``own_ceiling`` the same with ``own_gap``, the drill's own median stop for breaths.
    ``counting`` is the way of counting: by marks the share reads 1 to 2 points high (hands-off is marked late by a
    person), which is said and not corrected. ``unmarked`` is true where hands were still marked on at a verdict or a
    shock: an off mark is missing, and there is no share."""

    share: float | None
    ceiling: float | None
    counting: str
    ratio: int | None = None
    pace: float | None = None
    breath_gap: int | None = None
    at_limit: bool = False
    own_gap: int | None = None
    own_ceiling: float | None = None
    unmarked: bool = False


def window_ms(windows: Sequence[Window]) -> int:
    """Length of all windows together, in ms."""
    return sum(window.end - window.start for window in windows)


def share_of(windows: Sequence[Window], gaps: Sequence[Gap]) -> float | None:
    """1 - (sum of gaps of at least 2.0 s) / window; ``None`` where there is no window."""
    total = window_ms(windows)
    if total == 0:
        return None
    return 1 - sum(gap.length for gap in gaps if gap.counted) / total


def ceiling(ratio: int, pace: float, breath_gap: int) -> float:
    """The share that is reached when nothing but the breaths is ever hands off (0 to 1).

    ``ratio`` compressions at ``pace`` a minute last ``(ratio - 1) * 60 / pace`` seconds from the first to the last;
    ``breath_gap`` (ms) is from the last compression to the first of the next run. Published steady-state tables count
    ``ratio`` whole intervals and a shorter pause instead, which reads a little higher.
    """
    pushing = (ratio - 1) * 60_000 / pace
    return pushing / (pushing + breath_gap)
