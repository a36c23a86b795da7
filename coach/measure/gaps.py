"""Windows and gaps: when compressions were due, and when there were none, why, and whose time it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from coach.measure.episodes import Episode, Parts, parts_of
from coach.measure.floor import GAP_MS, PAD_WORK, Cut, Event, Floor
from coach.measure.runs import Run

ELSEWHERE = "keyboard elsewhere"


class Window(NamedTuple):
    """A stretch in which compressions are due: from the first compression, or from signs of life fading, to the end
    or to signs of life. In ms of ``e``, so that pauses are out."""

    start: int
    end: int


class Inject(NamedTuple):
    """An inject that was thrown: its title, what a gap in it is called, when it was thrown and answered (``None``:
    never), and whether it asked for an answer at all. Up to ``kit_until`` its time is the kit's (or the team's)."""

    name: str
    title: str
    cause: str
    thrown: int
    answered: int | None
    obliged: bool
    kit_until: int | None = None


@dataclass(frozen=True, slots=True)
class Gap:
    """Hands off from the last compression of a run to the first of the next, within one window. In ms.

    ``cause`` is the main one and ``causes`` all that were seen; ``sets`` has one set of parts for each analysis in it;
    ``rescuer`` is the part that was the rescuer's and ``kit`` what loose pads, a unit that failed or a keyboard
    elsewhere took of it; ``counted`` where it is at least 2.0 s; ``open`` where the window ended in it; ``spans`` names
    the pauses, holes and jumps inside it, whose own time is not in ``length``.
    """

    start: int
    end: int
    cause: str
    causes: tuple[str, ...]
    sets: tuple[Parts, ...]
    rescuer: int
    open: bool
    spans: tuple[str, ...]
    events: tuple[int, ...]
    kit: int = 0

    @property
    def length(self) -> int:
        return self.end - self.start

    @property
    def counted(self) -> bool:
        return self.length >= GAP_MS

    @property
    def parts(self) -> Parts | None:
        """The parts of all its analyses together; ``None`` where there was none."""
        if not self.sets:
            return None
        total = Parts()
        for parts in self.sets:
            total = total.plus(parts)
        return total


def windows_of(floor: Floor, runs: Sequence[Run]) -> tuple[Window, ...]:
    """The windows of a drill; none without a compression."""
    if not runs:
        return ()
    windows: list[Window] = []
    start = runs[0].first
    for since, until in floor.alive:
        if until <= start:
            continue
        if since > start:
            windows.append(Window(start, since))
        start = max(start, until)
    if floor.end > start:
        windows.append(Window(start, floor.end))
    return tuple(windows)


def gaps_of(
    floor: Floor,
    runs: Sequence[Run],
    windows: Sequence[Window],
    episodes: Sequence[Episode],
    injects: Sequence[Inject] = (),
) -> tuple[Gap, ...]:
    """All gaps in order, those under 2.0 s too (listed, not summed)."""
    found: list[Gap] = []
    for window in windows:
        at = window.start
        for run in runs:
            if run.last < window.start or run.first > window.end:
                continue
            if run.first > at:
                found.append(_gap(floor, at, run.first, False, episodes, injects))
            at = max(at, min(run.last, window.end))
        if window.end > at:
            found.append(_gap(floor, at, window.end, True, episodes, injects))
    return tuple(found)


def _gap(
    floor: Floor, start: int, end: int, open_: bool, episodes: Sequence[Episode], injects: Sequence[Inject]
) -> Gap:
    inside = floor.inside(start, end)
    sets = parts_of(start, end, episodes)
    causes = _causes(floor, start, end, inside, bool(sets), injects)
    rescuer = sum(parts.rescuer for parts in sets) if sets else end - start
    kit = rescuer if causes[0] == ELSEWHERE else min(rescuer, kit_between(injects, episodes, start, end))
    return Gap(
        start,
        end,
        causes[0],
        causes,
        sets,
        rescuer - kit,
        open_,
        tuple(dict.fromkeys(cut.kind for cut in _cuts_inside(floor.cuts, start, end))),
        tuple(event.seq for event in inside),
        kit,
    )


def kit_between(injects: Sequence[Inject], episodes: Sequence[Episode], start: int, end: int) -> int:
    """How long from ``start`` to ``end`` an inject of the kit's stood open, the unit's own reading apart. In ms."""
    stretches = sorted(
        (max(start, one.thrown), min(end, one.kit_until)) for one in injects if one.kit_until is not None
    )
    reading = [(one.begins.e, one.verdict.e) for one in episodes if one.begins is not None and one.verdict is not None]
    total, at = 0, start
    for since, until in stretches:
        since = max(since, at)
        if until > since:
            total += until - since - sum(max(0, min(until, b) - max(since, a)) for a, b in reading)
            at = until
    return total


def _cuts_inside(cuts: Sequence[Cut], start: int, end: int) -> list[Cut]:
    return [cut for cut in cuts if start <= cut.e <= end]


def _causes(
    floor: Floor, start: int, end: int, inside: Sequence[Event], analysed: bool, injects: Sequence[Inject]
) -> tuple[str, ...]:
    """What the gap was for, the main cause first.

    A gap with the keyboard elsewhere says so whatever else it holds. Then: an analysis; an inject thrown or answered
    in it; pads and unit; a change of who pushes; breaths; the call; an inject that stood open. Else it is unknown.
    """
    names = {event.name for event in inside}
    causes: list[str] = []
    if any(since < end and until > start for since, until in floor.away):
        causes.append(ELSEWHERE)
    if analysed:
        causes.append("analysis")
    standing: list[str] = []
    for inject in injects:
        moments = [inject.thrown] if inject.answered is None else [inject.thrown, inject.answered]
        if any(start <= moment <= end for moment in moments):
            causes.append(inject.cause)
        elif inject.thrown < start and (inject.answered is None or inject.answered > end):
            standing.append(inject.cause)
    if names & PAD_WORK:
        causes.append("pads")
    if "swapped" in names:
        causes.append("swap")
    if "breath" in names:
        causes.append("breaths")
    if "call_made" in names:
        causes.append("call")
    return tuple(dict.fromkeys(causes or standing)) or ("unknown",)
