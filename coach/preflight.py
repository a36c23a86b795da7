"""Before class: how evenly this keyboard stamps, how fast this person reacts, and whether the machine is fit to record.

Two short tests give two numbers. The *scatter* of a stamp comes from a held key: its repeats come evenly, so that what
scatters is keyboard, terminal and program. The *reaction* comes from pressing at twenty unforeseen signs. Both widen
what a drill prints as uncertain, and never narrow it below what people are known to do.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from itertools import pairwise
from math import sqrt
from pathlib import Path
from statistics import median, pstdev
from typing import Any, Literal

from coach.clock import Clock
from coach.text import clean

NAME = "pre-flight.json"
SIGMA_MS = 25.0
"""Scatter of a person's taps about a beat they see (1 SD, working value from tapping to a heard beat, 20 to 30 ms)."""
FEWEST_REPEATS = 20
"""Fewest repeats of a held key that make a scatter: a second of a usual keyboard. A tool's choice."""
STALL = 3.0
"""A gap longer than this many usual ones is a stall: told, and no part of the scatter."""
STIMULI = 20
FEWEST_REACTIONS = 15
ANTICIPATED_MS = 100
"""Nobody reacts faster: such a press was on its way already (usual bound of reaction tests)."""
LAPSE_MS = 1_500
"""Slower than this, the sign was missed. A tool's choice."""
JITTER_TOO_MUCH_MS = 30.0
"""More scatter than a hand's own: then the keyboard, or a remote line, spoils the rates. A tool's choice."""
HELD_S = 4.0
"""How long the key is held: some hundred repeats of a usual keyboard."""
WAIT_S = (0.8, 2.2)
"""The shortest and the longest wait before a sign, drawn anew each time so that nobody foresees it."""
FREE_BYTES = 50 * 1024 * 1024
"""Free space below which a class should not begin: a class of drills takes some five megabytes. A tool's choice."""
LOW_BATTERY = 20
"""Percent below which an unplugged battery is told. A tool's choice."""


@dataclass(frozen=True, slots=True)
class Jitter:
    """What a held key showed, in ms: ``scatter`` of one stamp (1 SD), the usual ``period``, the longest gap, how many
    repeats, and how many stalls among them."""

    scatter: float
    period: float
    longest: float
    repeats: int
    stalls: int


@dataclass(frozen=True, slots=True)
class Reaction:
    """What the signs showed, in ms: the median, the scatter (1 SD) about it, how many counted, and how many were
    pressed too early or missed."""

    median: float
    scatter: float
    counted: int
    early: int
    missed: int


def jitter_of(stamps_ms: Sequence[float]) -> Jitter | None:
    """The scatter from the stamps of a held key, its first press included; ``None`` for too few repeats.

    The wait before the first repeat is the keyboard's own and left out. An interval is the difference of two stamps, so
    that one stamp scatters by the intervals' SD over the root of two.
    """
    gaps = [after - before for before, after in pairwise(stamps_ms)][1:]
    if len(gaps) < FEWEST_REPEATS:
        return None
    usual = median(gaps)
    even = [gap for gap in gaps if gap <= STALL * usual] or gaps
    return Jitter(pstdev(even) / sqrt(2), usual, max(gaps), len(gaps), len(gaps) - len(even))


def reaction_of(waits_ms: Sequence[float | None]) -> Reaction | None:
    """The reaction from the waits after each sign (``None``: no press, negative: before it); ``None`` for too few."""
    early = sum(wait is not None and wait < ANTICIPATED_MS for wait in waits_ms)
    good = [wait for wait in waits_ms if wait is not None and ANTICIPATED_MS <= wait <= LAPSE_MS]
    if len(good) < FEWEST_REACTIONS:
        return None
    return Reaction(median(good), pstdev(good), len(good), early, len(waits_ms) - len(good) - early)


def sigma_of(jitter: Jitter | None) -> float:
    """The scatter of a tap (ms, 1 SD) with this keyboard: the person and the keyboard scatter independently."""
    return SIGMA_MS if jitter is None else sqrt(SIGMA_MS**2 + jitter.scatter**2)


def kept_of(jitter: Jitter | None, reaction: Reaction | None, clock: Clock) -> Kept:
    """What drills use of both results."""
    return Kept(
        round(sigma_of(jitter), 1),
        0.0 if reaction is None else round(reaction.median, 1),
        0.0 if jitter is None else round(jitter.scatter, 1),
        clock.wall().strftime("%Y-%m-%dT%H:%M:%SZ"),
    )


def in_lines(jitter: Jitter | None, reaction: Reaction | None) -> list[tuple[str, str]]:
    """Both results and what they do, a label ("" for none) and words."""
    lines: list[tuple[str, str]] = []
    if jitter is None:
        lines.append(("keyboard", "the key did not repeat, so its scatter is not known"))
    else:
        stalls = f", {jitter.stalls} stalls up to {jitter.longest:.0f} ms" if jitter.stalls else ""
        much = ": too much, rates will be vague" if jitter.scatter > JITTER_TOO_MUCH_MS else ""
        lines.append(
            ("keyboard", f"a stamp scatters by {jitter.scatter:.1f} ms ({jitter.repeats} repeats{stalls}){much}")
        )
    if reaction is None:
        lines.append(("reaction", "too few presses at the sign, so it is not known"))
    else:
        gone = f"; {reaction.early} too early, {reaction.missed} missed" if reaction.early or reaction.missed else ""
        took = f"{reaction.median:.0f} ms, ±{reaction.scatter:.0f} ms ({reaction.counted} of {STIMULI}{gone})"
        lines.append(("reaction", took))
    if jitter is not None or reaction is not None:
        sigma, window = sigma_of(jitter), max(2.0, 0.0 if reaction is None else 2 * reaction.median / 1000)
        lines.append(("", f"A tap counts as ±{sigma:.0f} ms (1 SD, never under {SIGMA_MS:.0f})."))
        lines.append(("", f"Two marks within {window:.1f} s have no order."))
    return lines


# --- the machine ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at: ``fine``, ``mind`` (a drill can run) or ``bad`` (a class should not begin so)."""

    name: str
    state: Literal["fine", "mind", "bad"]
    said: str


def check_disk(folder: Path) -> Check:
    """Whether a record can be written where drills go, and made to last."""
    probe = folder / f".pre-flight-{os.getpid()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with probe.open("wb") as file:
            file.write(b"x" * 4096)
            file.flush()
            os.fsync(file.fileno())
        free = shutil.disk_usage(folder).free
    except OSError as error:
        return Check("disk", "bad", f"nothing can be written to {clean(str(folder))}: {error.strerror}")
    finally:
        with contextlib.suppress(OSError):
            probe.unlink(missing_ok=True)
    if free < FREE_BYTES:
        return Check("disk", "bad", f"only {free >> 20} MB free in {clean(str(folder))}")
    return Check("disk", "fine", f"{clean(str(folder))} can be written, {free >> 20} MB free")


def check_clock(clock: Clock) -> Check:
    """Whether the clocks go on and the date can be right. Intervals never come from the wall clock."""
    first = clock.mono_ms()
    wall = clock.wall()
    if wall.year < 2025:
        return Check("clock", "mind", f"the date is {wall:%Y-%m-%d}: set it, or records bear the wrong day")
    if clock.mono_ms() < first:
        return Check("clock", "bad", "the clock that times drills runs backwards")
    return Check("clock", "fine", f"{wall:%Y-%m-%d %H:%M} UTC; drills are timed by another clock that cannot be set")


def check_battery(folder: Path = Path("/sys/class/power_supply")) -> Check:
    """How much is left, where this machine says so."""
    lowest: int | None = None
    plugged = False
    try:
        supplies = sorted(folder.iterdir())
    except OSError:
        supplies = []
    for supply in supplies:
        state = _word(supply / "status").lower()
        level = _word(supply / "capacity")
        if _word(supply / "online") == "1" or state in ("charging", "full"):
            plugged = True
        if level.isdigit() and _word(supply / "scope").lower() != "device":  # a mouse has one too
            lowest = int(level) if lowest is None else min(lowest, int(level))
    if lowest is None:
        return Check("battery", "fine", "no battery can be read here")
    if plugged or lowest >= LOW_BATTERY:
        return Check("battery", "fine", f"{lowest} %{', plugged in' if plugged else ''}")
    return Check("battery", "mind", f"{lowest} % and not plugged in")


def _word(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""


def check_remote(environment: Mapping[str, str]) -> Check:
    """Whether keys come over a line that delays them by what nobody knows."""
    if any(environment.get(name) for name in ("SSH_CONNECTION", "SSH_TTY", "MOSH_KEY", "MOSH_SERVER_NETWORK_TMOUT")):
        late = "a remote shell: keys come late by 5 to 100 ms, and in bursts; use a terminal of this machine"
        return Check("line", "mind", late)
    if environment.get("TMUX") or environment.get("STY"):
        return Check("line", "fine", "a terminal inside another: look at the scatter below")
    return Check("line", "fine", "this machine's own terminal")


# --- what is kept -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Kept:
    """The result that drills use, of one assessor on this machine: ``sigma_ms`` of a tap, ``reaction_ms`` (0: not
    tested), the keyboard's own ``jitter_ms``, and when (UTC, ISO 8601)."""

    sigma_ms: float = SIGMA_MS
    reaction_ms: float = 0.0
    jitter_ms: float = 0.0
    wall: str = ""


def read_kept(folder: Path) -> dict[str, Kept]:
    """The results by assessor's id ("" for one without). A file that is not ours gives none: the test is soon done."""
    try:
        table = json.loads((folder / NAME).read_bytes())
        return {str(who): _kept(one) for who, one in table.items()}
    except (OSError, ValueError, TypeError, AttributeError, RecursionError):
        return {}


def _kept(one: Any) -> Kept:
    kept = Kept(**{entry.name: one[entry.name] for entry in fields(Kept) if entry.name in one})
    numbers = (kept.sigma_ms, kept.reaction_ms, kept.jitter_ms)
    if any(type(number) not in (int, float) or not 0 <= number <= 10_000 for number in numbers):
        raise ValueError("a time that no test gives")
    if not isinstance(kept.wall, str):
        raise ValueError("a moment that is no text")
    return kept


def keep(folder: Path, who: str, kept: Kept) -> str:
    """Keep a result. "" or, where the disk refuses, a word for the person."""
    table = {name: asdict(one) for name, one in {**read_kept(folder), who: kept}.items()}
    path = folder / NAME
    beside = path.with_name(f"{NAME}.{os.getpid()}.new")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        beside.write_text(json.dumps(table, indent=1), encoding="utf-8")
        os.replace(beside, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        return f"The result could not be kept ({error.strerror})"
    return ""


def for_drill(folder: Path, who: str, sigma_ms: float) -> tuple[int, int]:
    """The scatter of a tap and the reaction for a drill of this assessor, in whole ms. ``sigma_ms`` of the settings
    counts where it is the larger, or where nobody tested."""
    known = read_kept(folder)
    kept = known.get(who) or known.get("") or Kept(sigma_ms, 0.0)
    return round(max(sigma_ms, kept.sigma_ms)), round(kept.reaction_ms)
