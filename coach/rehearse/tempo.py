"""The own tempo: thirty taps with no beat given, then with a beat to see. The taps are the behaviour; hands are not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.measure.rate import rate_of
from coach.measure.targets import bound
from coach.protocol.model import Protocol
from coach.rehearse.history import TempoTaken
from coach.rehearse.wording import words

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


def words_of_tempo(tempo: Tempo, language: str = "en") -> str:
    """The tempo in a sentence."""
    low, high = (f"{edge:.0f}" for edge in tempo.band)
    rate, plus_minus = f"{tempo.rate:.0f}", f"{tempo.plus_minus:.0f}"
    said = words(language, "tempo:taps", taps=tempo.taps, rate=rate, plus_minus=plus_minus)
    if tempo.inside is None:
        nearer_low = abs(tempo.rate - tempo.band[0]) < abs(tempo.rate - tempo.band[1])
        return f"{said}: {words(language, 'tempo:unclear', edge=low if nearer_low else high)}"
    where = "inside" if tempo.inside else "slower" if tempo.rate < tempo.band[0] else "faster"
    return f"{said}: {words(language, f'tempo:{where}', low=low, high=high)}"


def row_of(taken: TempoTaken, language: str, counted: bool = False) -> str:
    """A run of taps kept in the history, in a line without its day."""
    said = words(language, "tempo:row", rate=f"{taken.rate:.0f}", plus_minus=f"{taken.plus_minus:.0f}")
    said += words(language, f"tempo:row {'beat' if taken.pace else 'none'}", pace=taken.pace)
    return said + words(language, "tempo:row count", taps=taken.taps, counted=taken.counted) if counted else said


def count_words(counted: int, taps: int, language: str = "en") -> str:
    """What was counted beside what was tapped."""
    ident = "tempo:counted right" if counted == taps else "tempo:counted"
    return words(language, ident, counted=counted, taps=taps)


def beat_on(elapsed_ms: int, pace: int) -> bool:
    """Whether the visible beat is lit: the first third of each beat at ``pace`` a minute."""
    period = 60_000 / pace
    return (elapsed_ms % period) < period / 3
