"""Runs of compressions: by beats under 2.0 s apart, or from an on mark to an off mark."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace

from coach.measure.floor import ENDS_A_RUN, GAP_MS, ON_MARKS, Event, Floor


@dataclass(frozen=True, slots=True)
class Run:
    """One run, in ms.

    ``beats`` are the compressions (each, counter) and ``taps`` the probe taps; both empty where nothing was tapped.
    ``breaths_after`` counts the breaths between this run and the next. ``open`` is true where nothing ended it.
    """

    first: int
    last: int
    beats: tuple[int, ...] = ()
    taps: tuple[int, ...] = ()
    seqs: tuple[int, ...] = ()
    breaths_after: int = 0
    open: bool = False

    @property
    def count(self) -> int | None:
        """Compressions seen; ``None`` where none were tapped one by one (30 is never assumed)."""
        return len(self.beats) or None


def runs_of(floor: Floor) -> tuple[Run, ...]:
    """All runs of a drill in order, with the breaths that followed each."""
    found = _by_beats(floor) if floor.beats else _by_marks(floor)
    breaths = [event.e for event in floor.all_of(["breath"])]
    followed: list[Run] = []
    for index, run in enumerate(found):
        until = found[index + 1].first if index + 1 < len(found) else floor.end + 1
        followed.append(replace(run, breaths_after=bisect_left(breaths, until) - bisect_left(breaths, run.last)))
    return tuple(followed)


def _by_beats(floor: Floor) -> list[Run]:
    groups: list[list[Event]] = []
    ended = True
    for event in floor.events:
        if event.name in ENDS_A_RUN:
            ended = True
        elif event.name == "compression":
            before = groups[-1][-1] if groups else None
            if ended or before is None or event.e - before.e >= GAP_MS or floor.cuts_between(before, event):
                groups.append([])
            groups[-1].append(event)
            ended = False
    runs = []
    for group in groups:
        beats = tuple(event.e for event in group)
        runs.append(Run(beats[0], beats[-1], beats=beats, seqs=tuple(event.seq for event in group)))
    if runs and not ended and floor.end - runs[-1].last < GAP_MS:
        runs[-1] = replace(runs[-1], open=True)
    return runs


def _by_marks(floor: Floor) -> list[Run]:
    runs: list[Run] = []
    begun: Event | None = None
    taps: list[Event] = []

    def close(at: int, seq: int | None, open_: bool = False) -> None:
        nonlocal begun
        if begun is None:
            return
        seqs = (begun.seq, *(tap.seq for tap in taps), *(() if seq is None else (seq,)))
        runs.append(Run(begun.e, at, taps=tuple(tap.e for tap in taps), seqs=seqs, open=open_))
        begun = None
        taps.clear()

    previous: Event | None = None
    for event in floor.events:
        if begun is not None and previous is not None:
            for cut in floor.cuts_between(previous, event)[:1]:
                close(max(cut.e, begun.e), None)
        if event.name in ON_MARKS:
            if begun is None:
                begun = event
            elif event.name == "probe_tap":
                taps.append(event)
        elif event.name in ENDS_A_RUN:
            close(event.e, event.seq)
        previous = event
    if begun is not None:
        later = [cut.e for cut in floor.cuts if previous is not None and cut.t_from >= previous.t]
        close(min(later, default=floor.end), None, open_=not later)
    return runs
