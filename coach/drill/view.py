"""What a screen may know of a running drill: one frozen value, made anew for each repaint."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Phase = Literal["ready", "running", "paused", "stopped", "card", "ended"]
"""``ready`` before go; ``paused`` a teaching pause; ``stopped`` a safety stop; ``card`` the real-emergency card."""

Hands = Literal["none", "on", "off"]
"""``none`` until the first run of pushes."""

TAPE = {
    "#": "hands on",
    "·": "hands off",
    "o": "breath",
    "A": "analysis",
    "V": "verdict",
    "C": "clear",
    "S": "shock",
    "T": "touch",
    "P": "pad",
    "U": "unit on",
    "E": "call",
    "|": "pause",
    " ": "before the first push",
}
"""Cells of the tape, one a second; where a second holds several, the rarest wins (S, T, C, V, A, P, U, E, o, #)."""


@dataclass(frozen=True, slots=True)
class InjectView:
    """One inject at hand: its digit, what it is called, how it stands, what the instructor acts out. One is
    ``not here`` where the casualty's facts rule it out for the whole drill."""

    digit: int
    title: str
    status: Literal["at hand", "open", "answered", "late", "used up", "not here"]
    play: str = ""
    due_ms: int | None = None
    """Milliseconds until the scenario throws it by itself, if it will."""


@dataclass(frozen=True, slots=True)
class PadsView:
    """The pads decision for this casualty: None where it is not known yet."""

    size: str
    placement: str
    why: str


@dataclass(frozen=True, slots=True)
class View:
    """All that a screen paints of a drill. Times in ms. Every text is cleaned and in the language of the drill."""

    phase: Phase
    mode: str
    counting: str
    unit: str
    title: str
    guidance: str
    approval: str
    learner: str
    t: int
    e: int
    shocks: int
    hands: Hands
    run: int
    """Number of the present or last run of pushes."""
    pushes: int
    """Pushes seen in the present run (each, counter), or probe taps (probe)."""
    run_of: int | None
    """Pushes that a run should have (30, 15), None for compressions only or where none are counted."""
    breaths: int
    """Breaths seen since the last push."""
    off_ms: int | None
    """Milliseconds since the last push (or the hands-off mark) while hands are off, else None."""
    off_what: str
    """What the hands-off is, in words: "two breaths", "the unit is reading", "no hands on the chest"."""
    off_owner: Literal["", "rescuer", "unit"]
    off_limit_ms: int | None
    loud: bool
    """True when hands are off longer than the protocol's limit and the reminder is not suspended."""
    rate: float | None
    """Pushes a minute over the last five intervals; None with fewer or where none are tapped."""
    now: str
    """Title of the step that the learner is at."""
    cue: str
    """The cue to show in this mode ("" in test; only late ones in practise)."""
    voice: str
    """What a unit that the laptop plays is saying, for a few seconds; always shown."""
    next_label: str
    """What J means now; "" for nothing."""
    armed: bool
    analysing: bool
    period_ms: int | None
    """Milliseconds to the next rhythm check, None while no period runs."""
    period_warning: bool
    swap_due: bool
    pads: PadsView | None
    look: str
    concern_open: bool
    tape: str
    last_key: str
    """The last key and what it meant, in words, for a second after it; then ""."""
    would_void: str
    """What Backspace would void, in words; "" for nothing."""
    injects: tuple[InjectView, ...]
    notice: str
    """One line that must be read: "NOT SAVED …", "Z again ends the drill", "key held", "type slower" …"""
    saved: bool
    probe: bool
    """True while the instructor is asked to tap along."""
    plan: str
    """The rhythm plan in words for three seconds after it was asked for, else ""."""
    focus: bool
    caution: str
    """The standing caution: training only."""
