"""Milestones: the first moment of each, from go and from recognition; what was never reached is censored at the end."""

from __future__ import annotations

from dataclasses import dataclass

from coach.measure.floor import ON_MARKS, SHOCKS, Event, Floor

NAMES = (
    "recognised",
    "called",
    "first_compression",
    "unit_at_side",
    "unit_on",
    "pads_on",
    "first_analysis",
    "first_shock",
    "resumed",
)


@dataclass(frozen=True, slots=True)
class Milestones:
    """``reached``: ms since go, ``None`` where never; ``lines``: the line of each one reached; ``end``: where the drill
    (and with it every wait) was cut off."""

    reached: dict[str, int | None]
    lines: dict[str, int]
    end: int

    def from_recognition(self, name: str) -> int | None:
        """ms from recognition to ``name`` (negative where it came before); ``None`` if either was not reached."""
        then, recognised = self.reached[name], self.reached["recognised"]
        return None if then is None or recognised is None else then - recognised

    @property
    def not_reached(self) -> tuple[str, ...]:
        return tuple(name for name in NAMES if self.reached[name] is None)


def milestones_of(floor: Floor) -> Milestones:
    """The milestones of a drill."""
    pushes = tuple(ON_MARKS)
    events: dict[str, Event | None] = {
        "recognised": floor.first("not_breathing"),
        "called": floor.first("call_made"),
        "first_compression": floor.first(*pushes),
        "unit_at_side": floor.first("unit_arrived"),
        "unit_on": floor.first("unit_on"),
        "pads_on": _later(floor.first("pad_right"), floor.first("pad_left")),
        "first_analysis": floor.first("analysis_begins"),
        "first_shock": floor.first(*SHOCKS),
        "resumed": None,
    }
    shock = events["first_shock"]
    if shock is not None:
        events["resumed"] = next((event for event in floor.all_of(pushes) if event.e > shock.e), None)
    return Milestones(
        {name: None if event is None else event.e for name, event in events.items()},
        {name: event.seq for name, event in events.items() if event is not None},
        floor.end,
    )


def _later(one: Event | None, other: Event | None) -> Event | None:
    return None if one is None or other is None else max(one, other, key=lambda event: (event.e, event.seq))
