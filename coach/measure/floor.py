"""The floor as measures see it: the events that stand, in order, with pauses, windows and the way of counting.

All times are integer milliseconds on the engine's clock ``e`` (since go, less pauses) unless a name says ``t``.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import chain, takewhile
from typing import Any, NamedTuple

from coach.log.happened import Happened
from coach.observations import OBSERVATIONS

GAP_MS = 2000
"""Shortest silence that ends a run and is summed as hands off (definition of the record, 2.0 s)."""

STANDS = frozenset({"taken", "not expected"})
"""Outcomes of a key that was a fact seen. Keys not armed, not mapped, dropped, held or refused are no facts, nor is an
inject that could not be thrown."""

SHOCKS = frozenset({"shock_pressed", "shock_delivered"})
VERDICTS = frozenset({"shock_advised", "no_shock_advised"})
TOGETHER_MS = 60_000
"""A verdict belongs to an analysis, and a shock to a verdict, that came at most this long before (tool's choice:
units answer within half a minute and periods last two)."""
ENDS_A_RUN = frozenset({"breath", "hands_lifted"})
ON_MARKS = frozenset({"hands_placed", "compression", "probe_tap"})
ENDS_AN_ANALYSIS = SHOCKS | ON_MARKS | {"analysis_begins"}
PAD_WORK = frozenset(
    {"unit_on", "chest_bared", "chest_dried", "hair_removed", "patch_removed", "pad_right", "pad_left"}
)


class Event(NamedTuple):
    """One fact seen: its line, its adjusted times, its name, whether it was prompted and whose deed it was."""

    seq: int
    e: int
    t: int
    name: str
    prompted: bool = False
    by: str = "instructor"


_event: Callable[[type[Event], tuple[int, int, int, str, bool, str]], Event] = tuple.__new__
"""Makes the named tuple without its keyword machinery: a drill has some thousand."""


class Cut(NamedTuple):
    """A moment that no run and no interval spans: a pause, a hole, or a jump to the next check."""

    kind: str
    e: int
    t_from: int
    t_to: int


@dataclass(frozen=True, slots=True)
class Floor:
    """All that the measures of one drill start from.

    ``beats`` is true where each compression was tapped (each, counter): only then do beat-level numbers exist.
    ``alive`` are the stretches with signs of life, ``away`` those with the keyboard elsewhere, both in ``e``.
    """

    events: tuple[Event, ...]
    counting: str
    end: int
    cuts: tuple[Cut, ...] = ()
    away: tuple[tuple[int, int], ...] = ()
    alive: tuple[tuple[int, int], ...] = ()
    rows: tuple[Event, ...] = field(init=False, repr=False, compare=False)
    """The events with each row of one name (a run, a set of breaths) as its first."""
    _by_name: dict[str, list[Event]] = field(init=False, repr=False, compare=False)
    _moments: list[int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_name: dict[str, list[Event]] = {}
        rows: list[Event] = []
        last = ""
        for event in self.events:
            name = event.name
            by_name.setdefault(name, []).append(event)
            if name != last:
                rows.append(event)
                last = name
        object.__setattr__(self, "rows", tuple(rows))
        object.__setattr__(self, "_by_name", by_name)
        object.__setattr__(self, "_moments", [event.e for event in self.events])

    @property
    def beats(self) -> bool:
        return self.counting in ("each", "counter")

    def all_of(self, names: Iterable[str]) -> list[Event]:
        """The events with one of these names, in order."""
        lists = [self._by_name[name] for name in frozenset(names) if name in self._by_name]
        if len(lists) < 2:
            return list(lists[0]) if lists else []
        return sorted(chain.from_iterable(lists), key=_in_time)

    def first(self, *names: str) -> Event | None:
        """The first event with one of these names."""
        firsts = [self._by_name[name][0] for name in names if name in self._by_name]
        return min(firsts, key=_in_time, default=None)

    def inside(self, start: int, end: int) -> list[Event]:
        """The events from ``start`` to ``end``, both ends included."""
        return list(self.events[bisect_left(self._moments, start) : bisect_right(self._moments, end)])

    def cuts_between(self, before: Event, after: Event) -> list[Cut]:
        """The cuts that lie between two events, told apart by ``t``, since ``e`` stands still in a pause."""
        return [cut for cut in self.cuts if before.t <= cut.t_from and cut.t_to <= after.t] if self.cuts else []


def _in_time(event: Event) -> tuple[int, int, int]:
    """The order in which a floor has its events."""
    return event.e, event.t, event.seq


def t_of(happened: Happened, e: int) -> int:
    """Milliseconds since go, pauses included, of a moment ``e`` (after a pause that stands at that very moment)."""
    return e + sum(stop.t_to - stop.t_from for stop in happened.breaks if stop.e <= e and not stop.open)


def lead_in_of(happened: Happened) -> frozenset[int]:
    """The lines that a drill begun at a step was told as having gone before: nobody did them in this drill."""
    at_go = takewhile(lambda seen: seen.e == 0, happened.seen)
    return frozenset(seen.seq for seen in at_go if seen.via == "start")


def floor_of(happened: Happened, header: Mapping[str, Any], led_in: bool = False) -> Floor:
    """The floor of a drill: standing keys, what a laptop-played unit or an inject emitted as an observation, and the
    injects that the scenario threw by itself.

    What a drill begun at a step has behind it counts only where ``led_in`` asks for it: it places a drill in its order.
    An emitted observation that also stands as a line of its own (same name, same moment) is counted once.
    """
    fed = frozenset() if led_in else lead_in_of(happened)
    events = [
        _event(Event, (seq, e, t, event, prompted, by))
        for seq, e, t, event, outcome, _, _, by, _, prompted, _ in happened.seen
        if outcome in STANDS and seq not in fed and not (outcome == "not expected" and event.startswith("inject:"))
    ]
    emitted = [
        (told.effect.name, told.effect.e, told.because)
        for told in happened.told
        if told.effect.kind == "emit"
        and (told.effect.name in OBSERVATIONS or told.effect.name.startswith("inject:"))
        and told.because not in fed
    ]
    if emitted:
        there = {(event.name, event.e) for event in events}
        for name, e, because in emitted:
            if (name, e) not in there:
                there.add((name, e))
                events.append(Event(because, e, t_of(happened, e), name, by="unit"))
    events.sort(key=_in_time)
    said_again = _said_again(events)
    if said_again:
        events = [event for event in events if event not in said_again]
    cuts = [Cut(stop.kind, stop.e, stop.t_from, stop.t_to) for stop in happened.breaks]
    cuts += [Cut("shortened", e, t_of(happened, e), t_of(happened, e)) for e in happened.shortened]
    return Floor(
        events=tuple(events),
        counting=str(header.get("counting", "each")),
        end=happened.end_e,
        cuts=tuple(sorted(cuts, key=lambda cut: (cut.e, cut.t_from))),
        away=happened.away,
        alive=_alive(events, happened.end_e),
    )


def _said_again(events: list[Event]) -> frozenset[Event]:
    """The verdicts that another one took the place of, before a shock, hands on or the next analysis: of one
    analysis the last verdict counts (V, and then X in its place)."""
    gone: set[Event] = set()
    last: Event | None = None
    for event in events:
        if event.name in VERDICTS:
            if last is not None and event.e - last.e <= TOGETHER_MS:
                gone.add(last)
            last = event
        elif last is not None and event.name in ENDS_AN_ANALYSIS:
            last = None
    return frozenset(gone)


def _alive(events: list[Event], end: int) -> tuple[tuple[int, int], ...]:
    stretches: list[tuple[int, int]] = []
    since: int | None = None
    for event in events:
        if event.name == "signs_of_life" and since is None:
            since = event.e
        elif event.name == "life_fades" and since is not None:
            stretches.append((since, event.e))
            since = None
    if since is not None:
        stretches.append((since, end))
    return tuple(stretches)
