"""What the floor looks like now: one pass over the standing events, made anew when one is added, voided or moved."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import NamedTuple

from coach.engine.build import SILENCE_MS

RATE_INTERVALS = 5
"""The rate on the screen is the mean of this many successive intervals (one interval alone scatters too much)."""

VERDICTS = frozenset({"shock_advised", "no_shock_advised"})
SHOCKS = frozenset({"shock_pressed", "shock_delivered"})


class Moment(NamedTuple):
    """One standing event at its adjusted time (ms), and how it was judged."""

    e: int
    event: str
    outcome: str


@dataclass(slots=True)
class FloorNow:
    """Counts and last moments, in ms; ``None`` for what was never seen."""

    moments: tuple[Moment, ...] = ()
    run: int = 0
    run_began: int | None = None
    beats: list[int] = field(default_factory=list)
    taps: list[int] = field(default_factory=list)
    last_hands: int | None = None
    """The last push, or the mark that ended a run where pushes are not tapped."""
    run_over: bool = True
    breaths: int = 0
    shocks: int = 0
    last: dict[str, int] = field(default_factory=dict)
    """Event -> its last moment."""

    @property
    def analysing(self) -> bool:
        """Between the beginning of an analysis and its verdict."""
        begun = self.last.get("analysis_begins", -1)
        return begun >= 0 and begun >= max((self.last.get(name, -1) for name in (*VERDICTS, *SHOCKS)), default=-1)

    @property
    def alive(self) -> bool:
        """Signs of life, and nothing since that says they faded."""
        seen = self.last.get("signs_of_life", -1)
        return seen >= 0 and seen >= max(self.last.get(name, -1) for name in ("life_fades", "not_breathing"))

    @property
    def rescuers_since(self) -> int | None:
        """Since when hands off are the rescuer's own time: the last push, verdict or shock."""
        moments = [self.last[name] for name in (*VERDICTS, *SHOCKS) if name in self.last]
        if self.last_hands is not None:
            moments.append(self.last_hands)
        return max(moments, default=None)

    def begin_run(self, e: int) -> None:
        """Hands come on at ``e`` (ms)."""
        self.run, self.run_began, self.run_over = self.run + 1, e, False
        self.beats, self.taps = [], []

    def rate(self) -> float | None:
        """Pushes a minute over the last five intervals of this run."""
        if len(self.beats) <= RATE_INTERVALS:
            return None
        span = self.beats[-1] - self.beats[-1 - RATE_INTERVALS]
        return RATE_INTERVALS * 60_000 / span if span else None


def floor_now(moments: Iterable[Moment], beaten: bool, breaks: Iterable[int] = ()) -> FloorNow:
    """Read the events in order. ``beaten`` where each push is tapped; ``breaks`` are moments (ms) at which a pause or a
    hole stands: they end a run."""
    stands = tuple(moment for moment in moments if moment.outcome in ("taken", "not expected"))
    now = FloorNow(moments=stands)
    walls = sorted(breaks)
    for moment in stands:
        e, event = moment.e, moment.event
        while walls and walls[0] < e:
            del walls[0]
            now.run_over = True
        if event in ("compression", "hands_placed"):
            silent = beaten and now.last_hands is not None and e - now.last_hands >= SILENCE_MS
            if now.run_over or silent:
                now.begin_run(e)
            if event == "compression":
                now.beats.append(e)
            now.last_hands, now.breaths = e, 0
        elif event == "probe_tap":
            if now.run_over:
                now.begin_run(e)
                now.last_hands, now.breaths = e, 0
            now.taps.append(e)
        elif event in ("breath", "hands_lifted"):
            if not now.run_over:
                now.run_over = True
                if not beaten:
                    now.last_hands = e
            if event == "breath":
                now.breaths += 1
        elif event in SHOCKS:
            now.shocks += 1
        now.last[event] = e
    if walls:
        now.run_over = True
    return now
