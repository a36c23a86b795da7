"""Published rules for good work, as far as keys can show them: extras that a protocol's ``[pass]`` may name.

Each rule was made for a recording manikin, and has parts (depth, release, volume of breaths) that no key sees. What is
told here is the part on counts and times, and it is never called more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.measure.rate import in_band, plus_minus, run_rate
from coach.measure.shocks import PERI_BANDS, PRE_BANDS, band_of
from coach.measure.targets import standing
from coach.measure.wording import known as worded

if TYPE_CHECKING:
    from coach.measure.report import Measures

BAND = (100.0, 120.0)
"""Compressions a minute of both rules."""
CYCLES = 3
CYCLES_NEEDED = 2
COUNT, COUNT_OFF = 30, 2
TWO_MINUTES_MS = 120_000
EXCELLENT = 0.9


@dataclass(frozen=True, slots=True)
class Criterion:
    """A published rule on one drill: ``met`` is ``None`` where the drill cannot tell; ``part`` says what of the rule
    was looked at, ``source`` where it stands."""

    id: str
    met: bool | None
    part: str
    source: str


def hansen_2019(found: Measures, sigma_ms: float) -> Criterion:
    """Two of the first three cycles of 30 ± 2 compressions at 100 to 120 a minute; the rule asks for depth as well."""
    cycles = [run for run in found.runs if run.breaths_after][:CYCLES]
    met: bool | None = None
    if found.floor.beats and len(cycles) == CYCLES:
        good = 0
        for run in cycles:
            rate = run_rate(run.beats)
            count = len(run.beats) + (0 if rate is None else rate.inferred)
            inside = (
                rate is not None and standing(rate.rate, plus_minus(rate.rate, rate.span, sigma_ms), *BAND) != "outside"
            )
            good += inside and abs(count - COUNT) <= COUNT_OFF
        met = good >= CYCLES_NEEDED
    return Criterion(
        "hansen-2019",
        met,
        worded("en", "rule", "hansen-2019"),
        "Simul Healthc 2019;14:281-286",
    )


def anderson_2019(found: Measures) -> Criterion:
    """Two minutes with at least nine tenths of compressions at 100 to 120 a minute; the rule asks for depth and release
    as well. By means of five beats, since single ones scatter from the tapping alone."""
    met: bool | None = None
    if found.floor.beats and found.windows and found.floor.end - found.windows[0].start >= TWO_MINUTES_MS:
        until = found.windows[0].start + TWO_MINUTES_MS
        rates = [run_rate([beat for beat in run.beats if beat <= until]) for run in found.runs]
        inside, total = in_band([rate for rate in rates if rate is not None], *BAND)
        met = inside >= EXCELLENT * total if total else None
    return Criterion(
        "anderson-2019",
        met,
        worded("en", "rule", "anderson-2019"),
        "Resuscitation 2019;135:153-161",
    )


def cheskes_2011(found: Measures) -> Criterion:
    """Every shock with under 10 s of hands off before it and under 20 s around it: the best bands of the study, which
    say nothing of anybody's chances."""
    pauses = [(shock.pre, shock.peri) for shock in found.shocks if not shock.spans]
    known = [(pre, peri) for pre, peri in pauses if pre is not None and peri is not None]
    met = None
    if known and len(known) == len(found.shocks):
        met = all(band_of(pre, PRE_BANDS) == band_of(peri, PERI_BANDS) == "short" for pre, peri in known)
    return Criterion("cheskes-2011", met, worded("en", "rule", "cheskes-2011"), "Circulation 2011;124:58-66")


CRITERIA: dict[str, Callable[[Measures, float], Criterion]] = {
    "hansen-2019": hansen_2019,
    "anderson-2019": lambda found, _: anderson_2019(found),
    "cheskes-2011": lambda found, _: cheskes_2011(found),
}
"""The rules by their ids; ``sigma_ms`` is the scatter of a tap."""


def larsen_1993(cpr_min: float, defibrillation_min: float, advanced_min: float) -> float:
    """The linear model of Larsen 1993 (Ann Emerg Med 22:1652-1658) in percentage points: 67 less 2.3, 1.1 and 2.1 a
    minute from collapse to compressions, to the shock and to advanced care, from 0 to 67.

    Arithmetic on a published group of 1667 people, for whoever checks a textbook. It is no word on any person, and no
    page, screen or score of this program uses it.
    """
    return min(67.0, max(0.0, 67 - 2.3 * cpr_min - 1.1 * defibrillation_min - 2.1 * advanced_min))
