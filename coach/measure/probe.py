"""Probes: a few taps along with the learner somewhere in a run."""

from __future__ import annotations

from collections.abc import Sequence

from coach.measure.floor import GAP_MS
from coach.measure.rate import MAX_PROBE_TAPS, MIN_TAPS
from coach.measure.runs import Run


def probes_of(runs: Sequence[Run]) -> tuple[tuple[int, ...], ...]:
    """The probes of all runs: taps under 2.0 s apart belong together, the first twelve count, under six are none."""
    probes: list[tuple[int, ...]] = []
    for run in runs:
        group: list[int] = []
        for tap in (*run.taps, None):
            if tap is None or (group and tap - group[-1] >= GAP_MS):
                if len(group) >= MIN_TAPS:
                    probes.append(tuple(group[:MAX_PROBE_TAPS]))
                group = []
            if tap is not None:
                group.append(tap)
    return tuple(probes)
