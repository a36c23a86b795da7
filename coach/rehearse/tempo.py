"""The own tempo: thirty taps with no beat given, then with a beat to see. The taps are the behaviour; hands are not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.measure.rate import rate_of
from coach.measure.targets import bound
from coach.protocol.model import Protocol

TAPS = 30
BAND = (100.0, 120.0)
"""Pushes a minute where a file names no target: 100 to 120, every body of 2025 (second-hand)."""
PACES = (100, 110, 120)
STOPPED_MS = 2_000
"""No tap for so long ends the run: the drill's own end of a run of pushes."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A run of taps: a minute's rate with its ± (95 %), how many, and whether the rate lies in the band.

    ``inside`` is None where the ± reaches over an edge of the band: then nobody can tell.
    """

    rate: float
    plus_minus: float
    taps: int
    inside: bool | None
    band: tuple[float, float]


def band_of(protocol: Protocol) -> tuple[float, float]:
    """The band that the protocol aims at."""
    target = protocol.targets.get("compression_rate")
    if target is None:
        return BAND
    low, high = bound(target.from_, target.unit), bound(target.to, target.unit)
    return (low, high) if low is not None and high is not None else BAND


def tempo_of(stamps_ms: Sequence[int], sigma_ms: float, band: tuple[float, float] = BAND) -> Tempo | None:
    """The tempo of taps at ``stamps_ms``; None under six taps. Measured as a drill measures a run."""
    found = rate_of([list(stamps_ms)], sigma_ms, band, True)
    if found is None:
        return None
    low, high = band
    inside: bool | None = None
    if low <= found.median - found.plus_minus and found.median + found.plus_minus <= high:
        inside = True
    elif found.median + found.plus_minus < low or found.median - found.plus_minus > high:
        inside = False
    return Tempo(found.median, found.plus_minus, len(stamps_ms), inside, band)


def words_of_tempo(tempo: Tempo) -> str:
    """The tempo in a sentence."""
    low, high = tempo.band
    said = f"{tempo.taps} taps, {tempo.rate:.0f} ± {tempo.plus_minus:.0f} a minute"
    if tempo.inside is None:
        edge = low if abs(tempo.rate - low) < abs(tempo.rate - high) else high
        return f"{said}: too near {edge:.0f} to say which side."
    if tempo.inside:
        return f"{said}: inside {low:.0f} to {high:.0f}."
    return (
        f"{said}: {'slower than ' + format(low, '.0f') if tempo.rate < low else 'faster than ' + format(high, '.0f')}."
    )


def count_words(counted: int, taps: int) -> str:
    """What was counted beside what was tapped."""
    if counted == taps:
        return f"You counted {counted}, and so many they were."
    return f"You counted {counted}; they were {taps}."


def beat_on(elapsed_ms: int, pace: int) -> bool:
    """Whether the visible beat is lit: the first third of each beat at ``pace`` a minute."""
    period = 60_000 / pace
    return (elapsed_ms % period) < period / 3
