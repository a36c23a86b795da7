"""How figures are put: never finer than the keys behind them, never more than a key saw."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from coach.units import clock

PARTS = ("prep", "unit", "unsplit", "press", "resume")
"""The parts of a gap around an analysis in the order in which they follow each other."""


def moment(ms: int | None) -> str:
    """A moment pressed by hand: m:ss, whole seconds."""
    return "-" if ms is None else clock(ms)


def seconds(ms: float) -> str:
    """A length pressed by hand: whole seconds, rounded half up."""
    return f"{int(abs(ms) / 1000 + 0.5) * (-1 if ms < 0 else 1)} s"


def pause(ms: float, beats: bool) -> str:
    """A pause: tenths of a second between two tapped beats, else half seconds; rounded half up."""
    grid = 100 if beats else 500
    return f"{int(ms / grid + 0.5) * grid / 1000:.1f} s"


def in_step(ends: Sequence[int], beats: bool) -> list[str]:
    """Stretches that follow each other, as pauses: each printed end is rounded once, so that the printed stretches add
    up to the printed whole. ``ends`` are the moments between them in ms from the first one's beginning."""
    grid = 100 if beats else 500
    printed = [0, *(int(end / grid + 0.5) * grid for end in ends)]
    return [pause(after - before, beats) for before, after in pairwise(printed)]


def percent(share: float | None) -> str:
    """A share in whole percent."""
    return "-" if share is None else f"{int(share * 100 + 0.5)} %"
