"""Analyses: what belongs together of analysis, verdict and shock, and how a gap around it is cut by owner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.measure.floor import SHOCKS, TOGETHER_MS, VERDICTS, Event, Floor


@dataclass(frozen=True, slots=True)
class Episode:
    """One analysis with its verdict and its shock; what was not keyed is ``None``."""

    begins: Event | None = None
    verdict: Event | None = None
    shock: Event | None = None

    @property
    def advised(self) -> bool:
        """Whether a shock was advised; a shock without a keyed verdict was."""
        return self.shock is not None if self.verdict is None else self.verdict.name == "shock_advised"

    @property
    def marks(self) -> list[Event]:
        return [event for event in (self.begins, self.verdict, self.shock) if event is not None]

    @property
    def start(self) -> int:
        """The first moment keyed of it."""
        return self.marks[0].e

    @property
    def last(self) -> int:
        """The last moment keyed of it."""
        return self.marks[-1].e


def episodes_of(floor: Floor) -> tuple[Episode, ...]:
    """All analyses in order, whatever of them was keyed."""
    found: list[Episode] = []
    for event in floor.all_of(SHOCKS | VERDICTS | {"analysis_begins"}):
        now = found[-1] if found else None
        near = now is not None and event.e - now.last <= TOGETHER_MS
        if event.name == "analysis_begins":
            found.append(Episode(begins=event))
        elif event.name in VERDICTS:
            if now is not None and near and now.verdict is None and now.shock is None:
                found[-1] = Episode(now.begins, event)
            else:
                found.append(Episode(verdict=event))
        elif event.name in SHOCKS:
            if now is not None and near and now.shock is None and (now.verdict is None or now.advised):
                found[-1] = Episode(now.begins, now.verdict, event)
            else:
                found.append(Episode(shock=event))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Parts:
    """How long each owner had of a gap, in ms. ``unsplit`` is what a missing mark does not allow to divide."""

    prep: int = 0
    unit: int = 0
    press: int = 0
    resume: int = 0
    unsplit: int = 0

    @property
    def rescuer(self) -> int:
        """The rescuer's part: prep, press and resume."""
        return self.prep + self.press + self.resume

    @property
    def total(self) -> int:
        return self.rescuer + self.unit + self.unsplit

    def plus(self, other: Parts) -> Parts:
        return Parts(
            self.prep + other.prep,
            self.unit + other.unit,
            self.press + other.press,
            self.resume + other.resume,
            self.unsplit + other.unsplit,
        )


def parts_of(start: int, end: int, episodes: Sequence[Episode]) -> tuple[Parts, ...]:
    """The parts of a gap from ``start`` to ``end``, one set for each analysis that touches it; they sum to the gap.

    An analysis touches a gap where one of its marks lies inside, or where the gap lies wholly within it. A second
    analysis begins its set at its own first mark: what came before it is the first one's ``resume``.
    """
    inside = [episode for episode in episodes if episode.start <= end and episode.last >= start]
    sets: list[Parts] = []
    at = start
    for index, episode in enumerate(inside):
        until = min(end, max(at, inside[index + 1].start)) if index + 1 < len(inside) else end
        sets.append(_cut(at, until, episode))
        at = until
    return tuple(sets)


def _cut(start: int, end: int, episode: Episode) -> Parts:
    def at(event: Event) -> int:
        return min(max(event.e, start), end)

    begins, verdict, shock = episode.begins, episode.verdict, episode.shock
    prep = unit = press = resume = unsplit = 0
    here = start
    if begins is not None:
        prep = at(begins) - here
        here = at(begins)
    if verdict is not None:
        if begins is not None:
            unit = at(verdict) - here
        else:
            unsplit = at(verdict) - here
        here = at(verdict)
    if shock is not None:
        if verdict is not None:
            press = at(shock) - here
        else:
            unsplit = at(shock) - here
        resume = end - at(shock)
    elif verdict is None:
        unsplit = end - here
    elif episode.advised:
        press = end - here
    else:
        resume = end - here
    return Parts(prep, unit, press, resume, unsplit)
