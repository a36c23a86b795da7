"""The value that a drill's machine is at, and what it says on the way."""

from __future__ import annotations

from typing import Literal, NamedTuple

tuple_of = tuple.__new__
"""Makes a named tuple without its keyword machinery: hot paths make one or more a call."""

FactValue = int | str | bool | tuple[str, ...] | None
"""A fact as guards read it: grams, thousandths of a month or a plain integer; a choice's word; a flag; a script as a
tuple of words; ``None`` for unknown."""

Pending = tuple[int, int, int]
"""A running timer: (deadline in ms on the drill's clock, index of the timer, firings left; -1 for no bound)."""


class State(NamedTuple):
    """Everything that decides what happens next, as one immutable, hashable value.

    ``e`` is milliseconds since go less pauses; ``steps`` the step index of each track; ``counters`` the counters in
    declaration order; ``marks`` a bit set; ``timers`` the running timers sorted by (deadline, declaration order);
    ``last_push`` the time of the last compression, -1 before the first; ``facts`` the scenario's facts.
    """

    e: int
    steps: tuple[int, ...]
    counters: tuple[int, ...]
    marks: int
    timers: tuple[Pending, ...]
    last_push: int
    facts: tuple[FactValue, ...]


EffectKind = Literal["step", "cue", "voice", "timer", "late", "fault", "emit", "ignored"]


class Effect(NamedTuple):
    """One thing that the machine says at ``e``.

    kind     name                               track, was, arrow
    step     the step entered                   its track, the step left ("" at go), the arrow's id
    cue      id of a wording to show            track, step, arrow
    voice    id of a wording the unit speaks    track, step, arrow
    timer    the timer that fired
    late     the step whose ``within`` ran out  its track
    fault    id of the fault                    track, step, arrow
    emit     the event emitted                  track, step, arrow
    ignored  the event that no track took
    """

    e: int
    kind: EffectKind
    name: str
    track: str = ""
    was: str = ""
    arrow: str = ""
