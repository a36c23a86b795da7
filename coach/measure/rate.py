"""Rates of compressions, corrected for single missed taps, with how sure they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import median

MIN_TAPS = 6
"""Fewest taps that make a rate: six taps at 110/min are good to 2.8/min (95 %), fewer are not worth showing."""
MAX_PROBE_TAPS = 12
"""Most taps of one probe: twelve at 110/min are good to 1.3/min (95 %)."""
BEATS_IN_WINDOW = 5
"""Successive intervals whose mean is judged: single intervals scatter by 7/min (1 SD) from the tapping alone."""


@dataclass(frozen=True, slots=True)
class RunRate:
    """The rate of one run, a minute; ``span`` in ms from first to last; ``inferred`` compressions that were not
    tapped; ``intervals`` in ms after the correction."""

    rate: float
    span: int
    seen: int
    inferred: int
    intervals: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Rate:
    """The rate of a drill: median of runs with its range, how many runs, the ± (95 %) over the median run, and the
    share of ``windows`` five-interval means inside the band (``None`` without a band or without each beat)."""

    median: float
    low: float
    high: float
    runs: int
    plus_minus: float
    in_band: float | None
    windows: int


def corrected(beats: Sequence[int]) -> tuple[tuple[float, ...], int]:
    """The intervals of a run in ms, with missed taps put back, and how many those are.

    An interval of at least 1.5 medians stands for k = interval / median, rounded half up, beats; k - 1 are inferred.
    """
    raw = [later - earlier for earlier, later in pairwise(beats)]
    if not raw:
        return (), 0
    middle = median(raw)
    intervals: list[float] = []
    inferred = 0
    for interval in raw:
        k = int(interval / middle + 0.5) if middle > 0 and interval >= 1.5 * middle else 1
        intervals += [interval / k] * k
        inferred += k - 1
    return tuple(intervals), inferred


def run_rate(beats: Sequence[int]) -> RunRate | None:
    """The rate of one run: (count - 1) * 60 / (last - first), the inferred ones counted; ``None`` under six taps."""
    if len(beats) < MIN_TAPS or beats[-1] == beats[0]:
        return None
    intervals, inferred = corrected(beats)
    span = beats[-1] - beats[0]
    return RunRate(len(intervals) * 60_000 / span, span, len(beats), inferred, intervals)


def plus_minus(rate: float, span: int, sigma_ms: float) -> float:
    """95 % of a rate a minute from two taps ``span`` ms apart that each scatter by ``sigma_ms`` (1 SD):
    1.96 * rate * sigma * sqrt(2) / span."""
    return 1.96 * rate * sigma_ms * sqrt(2) / span


def in_band(rates: Sequence[RunRate], low: float, high: float) -> tuple[int, int]:
    """How many means of five successive intervals lie in the band (ends included), and of how many."""
    inside = total = 0
    for run in rates:
        for index in range(len(run.intervals) - BEATS_IN_WINDOW + 1):
            span = sum(run.intervals[index : index + BEATS_IN_WINDOW])
            total += 1
            # A hair of tolerance: thirds of a corrected interval must not fall out of the band by rounding.
            inside += low * span - 1e-6 <= BEATS_IN_WINDOW * 60_000 <= high * span + 1e-6
    return inside, total


def rate_of(
    runs: Sequence[Sequence[int]], sigma_ms: float, band: tuple[float, float] | None, beats: bool
) -> Rate | None:
    """The rate of a drill from the taps of each run (or probe); ``None`` where none has six taps.

    ``beats`` is true where each compression was tapped; only then is a share in the band given.
    """
    return rate_from(list(map(run_rate, runs)), sigma_ms, band, beats)


def rate_from(
    known: Sequence[RunRate | None], sigma_ms: float, band: tuple[float, float] | None, beats: bool
) -> Rate | None:
    """The same from the rates of the runs."""
    rates = [rate for rate in known if rate is not None]
    if not rates:
        return None
    middle = median(rate.rate for rate in rates)
    nearest = min(rates, key=lambda rate: (abs(rate.rate - middle), rate.span))
    inside, total = in_band(rates, *band) if band is not None and beats else (0, 0)
    return Rate(
        middle,
        min(rate.rate for rate in rates),
        max(rate.rate for rate in rates),
        len(rates),
        plus_minus(middle, nearest.span, sigma_ms),
        inside / total if total else None,
        total,
    )
