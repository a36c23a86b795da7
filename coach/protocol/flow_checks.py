"""Whether what happens on one event is well defined: no event feeds itself, no two tracks write one value, no timer
is started twice at once.

All of it by the names of events, with guards ignored: a file that is safe only by its guards is not read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from coach.protocol.model import Arrow, Protocol
from coach.protocol.names import PlacedArrow, arrows
from coach.protocol.positions import Path
from coach.protocol.report import Report

_HANDS = {
    "compression": "hands_on",
    "hands_placed": "hands_on",
    "breath": "hands_off",
    "hands_lifted": "hands_off",
}
"""What the built-in hands track emits on what."""


def check_flow(protocol: Protocol, report: Report) -> None:
    """Report emit cycles, write conflicts, and timers started twice in one application."""
    _check_emits(protocol, report)
    _check_writes(protocol, report)
    for placed in arrows(protocol):
        _check_starts(protocol, placed, report)


# --- events that feed themselves --------------------------------------------------------------------------------------


def _check_emits(protocol: Protocol, report: Report) -> None:
    places: dict[tuple[str, str], Path] = {}

    def emit(causes: Iterable[str], events: Iterable[str], path: Path) -> None:
        for cause in causes:
            for index, event in enumerate(events):
                places.setdefault((cause, event), (*path, "emit", index))

    for placed in arrows(protocol):
        emit(placed.arrow.on, placed.arrow.emit, placed.path)
        step = protocol.track[placed.track].step.get(placed.arrow.to)
        if step is not None:
            emit(placed.arrow.on, step.emit, ("track", placed.track, "step", placed.arrow.to))
    for name, inject in protocol.inject.items():
        emit([f"inject:{name}"], inject.emit, ("inject", name))
        for answer in inject.allowed:
            places.setdefault((answer, f"closed:{name}"), ("inject", name, "allowed"))
    for cause, event in _HANDS.items():
        places.setdefault((cause, event), ())
    after: dict[str, set[str]] = defaultdict(set)
    for cause, event in places:
        after[cause].add(event)
    reach = {event: _reached(event, after) for event in list(after)}
    told: set[str] = set()
    for (cause, event), path in places.items():
        if cause in told or not (event == cause or cause in reach.get(event, ())):
            continue
        told.update(other for other in reach[cause] if cause in reach.get(other, ()))
        way = " -> ".join(_way(cause, cause, after))
        report.at_value(path, f"an event that leads to itself: {way}", todo="take one of the emits out")


def _reached(start: str, after: dict[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(after[start])
    while waiting:
        event = waiting.pop()
        if event not in found:
            found.add(event)
            waiting.extend(after.get(event, ()))
    return found


def _way(start: str, end: str, after: dict[str, set[str]]) -> list[str]:
    """The shortest way along emits from one event to another."""
    ways, seen = [[start]], set[str]()
    while ways:
        way = ways.pop(0)
        for event in sorted(after.get(way[-1], ())):
            if event == end:
                return [*way, event]
            if event not in seen:
                seen.add(event)
                ways.append([*way, event])
    return [start, end]


# --- two tracks and one value -----------------------------------------------------------------------------------------


def _check_writes(protocol: Protocol, report: Report) -> None:
    writers: dict[tuple[str, str], dict[str, Path]] = defaultdict(dict)
    for placed in arrows(protocol):
        for name, path in _written(protocol, placed):
            for event in placed.arrow.on:
                writers[event, name].setdefault(placed.track, path)
    for (event, name), by_track in writers.items():
        first, *others = by_track
        for track in others:
            what = f"`{name}` is written by the tracks `{first}` and `{track}` on one event, `{event}`"
            say = report.at_key if by_track[track][-2] in ("set", "add") else report.at_value
            say(by_track[track], what, todo="let one track write it, and emit an event to the other")


def _written(protocol: Protocol, placed: PlacedArrow) -> Iterable[tuple[str, Path]]:
    arrow = placed.arrow
    for key, counters in (("set", arrow.set), ("add", arrow.add)):
        for name in counters:
            yield name, (*placed.path, key, name)
    for key, marks in (("mark", arrow.mark), ("unmark", arrow.unmark)):
        for index, name in enumerate(marks):
            yield name, (*placed.path, key, index)
    step = protocol.track[placed.track].step.get(arrow.to)
    if step is not None:
        for key, marks in (("mark", step.mark), ("unmark", step.unmark)):
            for index, name in enumerate(marks):
                yield name, ("track", placed.track, "step", arrow.to, key, index)


# --- one timer twice --------------------------------------------------------------------------------------------------


def _check_starts(protocol: Protocol, placed: PlacedArrow, report: Report) -> None:
    started: set[str] = set()
    for name, path in _starts(placed.path, placed.arrow):
        if name in started:
            report.at_value(path, f"the timer `{name}` is started twice by one arrow", todo="start it once")
        started.add(name)
    step = protocol.track[placed.track].step.get(placed.arrow.to)
    if step is None:
        return
    for key, names in (("restart", step.restart), ("start", step.start)):
        for index, name in enumerate(names):
            if name in started:
                mine: Path = next(path for own, path in _starts(placed.path, placed.arrow) if own == name)
                what = f"the timer `{name}` is started by the arrow and again by the step `{placed.arrow.to}`"
                report.at_value(mine, what, todo="start it in one of the two")
                continue
            place: Path = ("track", placed.track, "step", placed.arrow.to, key, index)
            if name in names[:index] or (key == "start" and name in step.restart):
                report.at_value(place, f"the timer `{name}` is started twice by one step", todo="start it once")


def _starts(path: Path, arrow: Arrow) -> Iterable[tuple[str, Path]]:
    for key, names in (("restart", arrow.restart), ("start", arrow.start)):
        for index, name in enumerate(names):
            yield name, (*path, key, index)
