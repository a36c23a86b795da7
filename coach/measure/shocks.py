"""Shocks, with the pauses before and after each and the clear call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.measure.episodes import Episode, parts_of
from coach.measure.floor import Floor
from coach.measure.runs import Run


@dataclass(frozen=True, slots=True)
class Shock:
    """One shock at ``at``. ``pre``: last compression to shock; ``post``: shock to next compression; ``peri``: their
    sum; each ``None`` where an end of it was not seen. ``clear_before``: from the last clear call at or after the
    verdict to the shock; ``None``: no clear call was keyed. ``own_pre`` is the rescuer's part of ``pre``. In ms.
    ``spans`` names pauses inside pre or post."""

    seq: int
    at: int
    pre: int | None
    post: int | None
    clear_before: int | None
    own_pre: int | None = None
    spans: tuple[str, ...] = ()

    @property
    def peri(self) -> int | None:
        return None if self.pre is None or self.post is None else self.pre + self.post


def shocks_of(floor: Floor, runs: Sequence[Run], episodes: Sequence[Episode]) -> tuple[Shock, ...]:
    """All shocks in order. By marks, a shock inside a run (no hands-off mark before it) has no pauses."""
    found: list[Shock] = []
    previous = 0
    for episode in episodes:
        shock = episode.shock
        if shock is None:
            continue
        before, after = _around(floor, runs, shock.e)
        since = max([previous, *(mark.e for mark in (episode.begins, episode.verdict) if mark is not None)])
        clears = [event.e for event in floor.all_of(["clear_called"]) if since <= event.e <= shock.e]
        low, high = shock.e if before is None else before, shock.e if after is None else after
        found.append(
            Shock(
                shock.seq,
                shock.e,
                None if before is None else shock.e - before,
                None if after is None else after - shock.e,
                shock.e - clears[-1] if clears else None,
                None if before is None else parts_of(before, shock.e, [episode])[0].rescuer,
                tuple(dict.fromkeys(cut.kind for cut in floor.cuts if low <= cut.e <= high)),
            )
        )
        previous = shock.e
    return tuple(found)


def _around(floor: Floor, runs: Sequence[Run], at: int) -> tuple[int | None, int | None]:
    if floor.beats:
        beats = [beat for run in runs for beat in run.beats]
        return max((b for b in beats if b <= at), default=None), min((b for b in beats if b > at), default=None)
    if any(run.first < at < run.last or (run.open and run.first < at) for run in runs):
        return None, None
    return (
        max((run.last for run in runs if run.last <= at), default=None),
        min((run.first for run in runs if run.first >= at), default=None),
    )


PRE_BANDS = (10_000, 20_000)
PERI_BANDS = (20_000, 40_000)
"""Bands of Cheskes 2011 (Circulation 124:58-66), ms: pre-shock under 10 s and 20 s or more, peri-shock under 20 s and
40 s or more."""


def band_of(length: int, bands: tuple[int, int]) -> str:
    """``short`` below the first limit, ``long`` from the second on, else ``middle``."""
    return "short" if length < bands[0] else "long" if length >= bands[1] else "middle"
