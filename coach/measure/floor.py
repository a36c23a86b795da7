"""The floor as measures see it: the events that stand, in order, with pauses, windows and the way of counting.

All times are integer milliseconds on the engine's clock ``e`` (since go, less pauses) unless a name says ``t``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from coach.log.happened import Happened
from coach.observations import OBSERVATIONS

GAP_MS = 2000
"""Shortest silence that ends a run and is summed as hands off (definition of the record, 2.0 s)."""

STANDS = frozenset({"taken", "not expected"})
"""Outcomes of a key that was a fact seen. Keys not armed, not mapped, dropped, held or refused are no facts."""

SHOCKS = frozenset({"shock_pressed", "shock_delivered"})
VERDICTS = frozenset({"shock_advised", "no_shock_advised"})
ENDS_A_RUN = frozenset({"breath", "hands_lifted"})
ON_MARKS = frozenset({"hands_placed", "compression", "probe_tap"})
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

    @property
    def beats(self) -> bool:
        return self.counting in ("each", "counter")

    def all_of(self, names: Iterable[str]) -> list[Event]:
        """The events with one of these names, in order."""
        wanted = frozenset(names)
        return [event for event in self.events if event.name in wanted]

    def first(self, *names: str) -> Event | None:
        """The first event with one of these names."""
        return next((event for event in self.events if event.name in names), None)

    def inside(self, start: int, end: int) -> list[Event]:
        """The events from ``start`` to ``end``, both ends included."""
        return [event for event in self.events if start <= event.e <= end]

    def cuts_between(self, before: Event, after: Event) -> list[Cut]:
        """The cuts that lie between two events, told apart by ``t``, since ``e`` stands still in a pause."""
        return [cut for cut in self.cuts if before.t <= cut.t_from and cut.t_to <= after.t]


def t_of(happened: Happened, e: int) -> int:
    """Milliseconds since go, pauses included, of a moment ``e`` (after a pause that stands at that very moment)."""
    return e + sum(stop.t_to - stop.t_from for stop in happened.breaks if stop.e <= e and not stop.open)


def lead_in_of(happened: Happened) -> frozenset[int]:
    """The lines that a drill begun at a step was told as having gone before: nobody did them in this drill."""
    return frozenset(seen.seq for seen in happened.seen if seen.via == "start")


def floor_of(happened: Happened, header: Mapping[str, Any], led_in: bool = False) -> Floor:
    """The floor of a drill: standing keys, what a laptop-played unit or an inject emitted as an observation, and the
    injects that the scenario threw by itself.

    What a drill begun at a step has behind it counts only where ``led_in`` asks for it: it places a drill in its order.
    An emitted observation that also stands as a line of its own (same name, same moment) is counted once.
    """
    fed = frozenset() if led_in else lead_in_of(happened)
    events = [
        Event(seen.seq, seen.e, seen.t, seen.event, seen.prompted, seen.by)
        for seen in happened.seen
        if seen.outcome in STANDS and seen.seq not in fed
    ]
    there = {(event.name, event.e) for event in events}
    for told in happened.told:
        effect = told.effect
        known = effect.name in OBSERVATIONS or effect.name.startswith("inject:")
        if effect.kind == "emit" and known and (effect.name, effect.e) not in there and told.because not in fed:
            there.add((effect.name, effect.e))
            events.append(Event(told.because, effect.e, t_of(happened, effect.e), effect.name, by="unit"))
    events.sort(key=lambda event: (event.e, event.t, event.seq))
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
