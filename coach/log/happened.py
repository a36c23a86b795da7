"""What happened, as measures read it: the inputs that stand, in order, and what the machine made of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from coach.engine.state import Effect, State


class Seen(NamedTuple):
    """One input that stands (not voided), at its adjusted time.

    ``event`` is the engine's name of it (``compression``, ``inject:vomit``, ``shock_advised`` …); ``e`` and ``t`` are
    milliseconds since go without and with pauses; ``e_pressed`` is where it was before a nudge; ``outcome`` is judged
    on the adjusted history; ``prompted`` is true where I named it; ``by`` is ``unit`` for what a laptop-played unit
    did; ``state`` is the machine's state just before it.
    """

    seq: int
    e: int
    t: int
    event: str
    outcome: str = "taken"
    via: str = "key"
    key: str = ""
    by: str = "instructor"
    e_pressed: int | None = None
    prompted: bool = False
    state: State | None = None


class Told(NamedTuple):
    """One effect of the machine on the adjusted history; ``because`` is the line that caused it (0 for go)."""

    effect: Effect
    because: int


@dataclass(frozen=True, slots=True)
class Look:
    """What the instructor said of the look target shown: ``concern`` or not."""

    seq: int
    e: int
    target: str
    concern: bool


@dataclass(frozen=True, slots=True)
class Pin:
    """A moment marked to be named later: ``fault``, ``good`` or ``other``; ``label`` once classified."""

    seq: int
    e: int
    which: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Answered:
    """What an assessor said afterwards of a finding that rests on one mark, or on a missing one: ``saw``,
    ``did-not-happen`` or ``not-looking``."""

    seq: int
    finding: str
    answer: str
    who: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The one thing that an assessor chose instead of the rule's: a finding's name, or "" for the strength."""

    seq: int
    finding: str
    who: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class Signed:
    """A sign-off that stands in the log: its line, who signed, ``pass``, ``not-yet`` or ``safety``, and the reason that
    was typed."""

    seq: int
    who: str
    result: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Break:
    """A stretch that is nobody's: ``teaching``, ``safety`` or ``hole``. It stands at one moment ``e`` of the engine's
    clock; ``t_from`` and ``t_to`` are its ends since go. ``open`` if it never closed."""

    kind: str
    e: int
    t_from: int
    t_to: int
    open: bool = False


@dataclass(frozen=True, slots=True)
class Happened:
    """A whole drill as it stands. Times in ms. ``ended`` is ``ended``, ``safety`` or ``interrupted``."""

    seen: tuple[Seen, ...]
    told: tuple[Told, ...]
    end_e: int
    end_t: int
    ended: str
    breaks: tuple[Break, ...] = ()
    looks: tuple[Look, ...] = ()
    pins: tuple[Pin, ...] = ()
    away: tuple[tuple[int, int], ...] = ()
    """Stretches of ``e`` during which the terminal did not have the keyboard."""
    shortened: tuple[int, ...] = ()
    """Moments (``e``) at which the instructor jumped to the next check: measures are cut there."""
    voided: tuple[int, ...] = ()
    nudged: tuple[int, ...] = ()
    dropped: int = 0
    """Presses dropped as bounces or as a held key."""
    added_later: tuple[int, ...] = ()
    relabelled: tuple[int, ...] = ()
    answers: tuple[Answered, ...] = ()
    """The last answer to each question, in the order of the questions."""
    chosen: Chosen | None = None
    signed: Signed | None = None
    """The last sign-off."""
    handover_said: tuple[str, ...] = ()
    states: tuple[State, ...] = field(default=(), repr=False)
    """The machine's state after each entry of ``seen``."""
    end_seq: int = -1
    """The line that ended it; -1 where the record was cut off."""
