"""What can come from outside at any moment, and under what condition.

Every observation that some arrow waits for, at any millisecond. A unit on the floor speaks through the instructor's
keys, one that the laptop plays by its own timers alone; pushes come as the way of counting gives them; injects as often
as the file lets them, with a bound on those open at once; a shock only where a step is armed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from coach.engine.machine import Machine
from coach.observations import OBSERVATIONS
from coach.protocol.model import Protocol
from coach.protocol.names import HANDS_TRACK

EACH = ("each", "counter")
PLACED = ("probe", "marks")
Loose = Literal["", "all", "placed"]
"""How much more than a way of counting allows is taken in; see :class:`Gate`."""

OPEN_STEPS = (1, 3)
"""Steps of an inject's track in which it waits for an answer: open and late."""


def is_units(event: str) -> bool:
    """True for what only the unit does: with a unit that the laptop plays it comes by timers."""
    known = OBSERVATIONS.get(event)
    return known is not None and known.by == "unit"


PUSHES = frozenset({"compression", "hands_placed", "probe_tap"})
"""What the key for pushes can mean, by way of counting."""


def inputs_of(protocol: Protocol, machine: Machine, counting: str, injects: Iterable[str]) -> list[str]:
    """The events that can come from outside, in the order of the vocabulary, then the file's own, then injects.

    ``counting`` is the way of counting, "" for all of them at once.
    """
    absent = {"hands_placed", "probe_tap"} if counting in EACH else {"compression"} if counting else set()
    found = [
        event for event in (*OBSERVATIONS, *protocol.observations) if event in machine.table and event not in absent
    ]
    for name in injects:
        found.append(f"inject:{name}")
        if protocol.inject[name].digit is not None:
            found.append(f"answered:{name}")
        found.append(f"wrong:{name}")
    return [event for event in found if event in machine.table]


class Gate:
    """Whether an input can come in a given discrete state. Facts are read where the answer hangs on them.

    ``loose`` asks no questions about the way of counting and so allows more than any: ``"all"`` every kind of push at
    any time, ``"placed"`` hands placed at any time and a probe tap with hands on. ``unit_keys``: what the unit does can
    be pressed also where the laptop plays it. ``free``: an inject can be thrown also while it or others are open.
    """

    def __init__(
        self,
        machine: Machine,
        injects: Iterable[str],
        open_at_once: int,
        loose: Loose = "",
        unit_keys: bool = False,
        free: bool = False,
    ) -> None:
        self._free = free
        self._unit_keys = unit_keys
        self._loose = loose
        self._machine = machine
        self._unit = machine.layout.facts["unit"][0]
        self._counting = machine.layout.facts["counting"][0]
        self._hands = machine.layout.tracks[HANDS_TRACK]
        self._most = open_at_once
        by_name = {track.name: place for place, track in enumerate(machine.tracks)}
        self._tracks = {name: by_name[f"inject:{name}"] for name in injects}
        self._units: dict[str, bool] = {}

    def allows(self, event: str, steps: tuple[int, ...], facts: Any) -> bool:
        """True where the event can come from outside."""
        if event == "shock_pressed":
            return self._machine.is_armed(steps)
        if event in ("hands_placed", "probe_tap"):
            if self._loose == "all":
                return True
            on = steps[self._hands] == 1
            if self._loose:
                return on or event == "hands_placed"
            if event == "probe_tap":
                return on and facts[self._counting] == "probe"
            return not on or facts[self._counting] == "marks"
        if ":" in event:
            kind, _, name = event.partition(":")
            return self._inject(kind, name, steps)
        units = self._units.get(event)
        if units is None:
            units = self._units[event] = not self._unit_keys and is_units(event)
        return not units or facts[self._unit] == "floor"

    def _inject(self, kind: str, name: str, steps: tuple[int, ...]) -> bool:
        open_now = [other for other, track in self._tracks.items() if steps[track] in OPEN_STEPS]
        if kind == "inject":
            return self._free or len(open_now) < self._most or len(self._machine.tracks[self._tracks[name]].steps) == 1
        if kind == "wrong":
            return bool(open_now) and open_now[0] == name  # the key that says so answers the first in file order
        return name in open_now
