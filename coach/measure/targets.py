"""A protocol's targets against what was measured: inside, at the limit, or past it by more than the uncertainty.

A target is measured by its name. Besides those of ``READ`` any ``A_to_B`` of two milestones (``go`` among them) is
known, and a bare milestone means from recognition. Names that no key can measure (a depth) are left alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache, partial
from itertools import zip_longest
from typing import TYPE_CHECKING, Literal

from coach import wording
from coach.measure.milestones import NAMES
from coach.measure.wording import WORDS
from coach.protocol.model import Target
from coach.units import MS_PER, clock, exact, parse_quantity

if TYPE_CHECKING:
    from coach.measure.report import Measures

GRACE_MS = 1_000
"""Beyond its ±, a time pressed by hand is over a limit only by more than this (fairness to the learner)."""
BY_HAND_MS = 1_000
"""± of a moment pressed by hand, as printed: 1 to 2 s (published: two observers of one video differ more)."""
BEAT_MS = 100
"""± of a pause between two tapped beats, as printed: tenths of a second."""
MARK_MS = 500
"""± of a pause with an end marked by hand, as printed: half seconds."""

Verdict = Literal["inside", "at the limit", "over", "under"]
Quantity = Literal["time", "rate", "share", "count"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured value: ms, a minute, a share from 0 to 1, or a count. ``margin`` is what it must pass a limit by;
    ``own`` is the rescuer's part of a time without compressions; ``note`` what the time was for; ``open`` where it
    lasted to the end of the drill or to signs of life, so that it rests on when that was keyed; ``whole`` the time of
    which the value is the rescuer's part only."""

    value: float
    margin: float
    at: int | None
    events: tuple[int, ...] = ()
    own: float | None = None
    note: str = ""
    open: bool = False
    whole: float | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """One reading beside its target's bounds, all in the reading's own quantity."""

    target: str
    quantity: Quantity
    reading: Reading
    low: float | None
    high: float | None
    verdict: Verdict

    @property
    def excess(self) -> float:
        """How far it is past the limit; 0 inside."""
        if self.high is not None and self.reading.value > self.high:
            return self.reading.value - self.high
        if self.low is not None and self.reading.value < self.low:
            return self.low - self.reading.value
        return 0.0


@lru_cache(maxsize=256)
def bound(value: float | str | None, unit: str) -> float | None:
    """A bound of a target as its quantity is measured: times in ms, percentages as a share, all else as it stands."""
    if value is None:
        return None
    if isinstance(value, str):
        number, written = parse_quantity(value)
        unit = written or unit
    else:
        number = exact(value)
    factor = Fraction(MS_PER[unit]) if unit in MS_PER else Fraction(1, 100) if unit == "%" else Fraction(1)
    return float(number * factor)


def aim(target: Target | None) -> float | None:
    """What a target aims at: its ``value``, else its upper bound."""
    if target is None:
        return None
    value = bound(target.value, target.unit)
    return bound(target.to, target.unit) if value is None else value


def verdict_of(reading: Reading, low: float | None, high: float | None) -> Verdict:
    """A value past a limit by no more than its margin is at the limit, neither in nor out."""
    if high is not None and reading.value > high:
        return "over" if reading.value > high + reading.margin else "at the limit"
    if low is not None and reading.value < low:
        return "under" if reading.value < low - reading.margin else "at the limit"
    return "inside"


def standing(value: float, plus_minus: float, low: float, high: float) -> str:
    """Where a rate lies in its band: one whose ± crosses a limit is at the limit, neither in nor out."""
    if any(abs(value - limit) <= plus_minus for limit in (low, high)):
        return "at the limit"
    return "inside" if low < value < high else "outside"


def _rate(found: Measures) -> list[Reading]:
    rate = found.rate
    if rate is None:
        return []
    return [Reading(rate.median, rate.plus_minus, found.runs[0].first if found.runs else None)]


def _share(found: Measures) -> list[Reading]:
    share = found.hands_on.share
    # By marks the share reads 1 to 2 points high; two points of margin keep a verdict off that bias.
    return [] if share is None else [Reading(share, 0.0 if found.floor.beats else 0.02, None)]


def _hands_off(found: Measures) -> list[Reading]:
    beat = found.floor.beats
    return [
        Reading(
            gap.rescuer,
            BEAT_MS if beat and not gap.sets else found.mark_ms + GRACE_MS,
            gap.start,
            gap.events,
            gap.rescuer,
            ", ".join(gap.causes),
            gap.open,
            gap.length,
        )
        for gap in found.gaps
        if gap.counted and not gap.spans and gap.rescuer > 0
    ]


def _breath_gaps(found: Measures) -> list[Reading]:
    margin = BEAT_MS if found.floor.beats else found.mark_ms + GRACE_MS
    return [
        Reading(gap.length, margin, gap.start, gap.events, gap.length, gap.cause)
        for gap in found.gaps
        if gap.cause == "breaths" and not gap.spans and not gap.open
    ]


def _breaths(found: Measures) -> list[Reading]:
    breaths = found.floor.all_of(["breath"])
    readings = []
    for run, following in zip_longest(found.runs, found.runs[1:]):
        until = found.floor.end + 1 if following is None else following.first
        given = tuple(breath.seq for breath in breaths if run.last <= breath.e < until)
        if given:
            readings.append(Reading(len(given), 0, run.last, given))
    return readings


def _run_lengths(found: Measures) -> list[Reading]:
    if not found.floor.beats:
        return []
    counted = []
    # A run that a pause, a hole or a jump cut in two is nobody's miscount.
    cut = {edge for gap in found.gaps if gap.spans for edge in (gap.start, gap.end)}
    for run, rate in zip(found.runs, found.run_rates, strict=True):
        if run.breaths_after and run.first not in cut and run.last not in cut:
            count = len(run.beats) + (0 if rate is None else rate.inferred)
            counted.append(Reading(count, 1.0, run.first, run.seqs[:1]))
    return counted


def _pauses(which: str) -> Callable[[Measures], list[Reading]]:
    def read(found: Measures) -> list[Reading]:
        readings = []
        for shock in found.shocks:
            value: int | None = getattr(shock, which)
            if value is None or shock.spans:
                continue
            own = {"pre": shock.own_pre or 0, "post": shock.post or 0, "peri": (shock.own_pre or 0) + (shock.post or 0)}
            readings.append(Reading(value, found.mark_ms + GRACE_MS, shock.at, (shock.seq,), own[which]))
        return readings

    return read


def _periods(found: Measures) -> list[Reading]:
    return [
        Reading(period.length, found.mark_ms + GRACE_MS, period.start, ()) for period in found.periods if not period.cut
    ]


READ: dict[str, tuple[Quantity, Callable[[Measures], list[Reading]]]] = {
    "compression_rate": ("rate", _rate),
    "hands_on_share": ("share", _share),
    "hands_off": ("time", _hands_off),
    "breath_gap": ("time", _breath_gaps),
    "run_length": ("count", _run_lengths),
    "breaths_per_gap": ("count", _breaths),
    "pre_shock": ("time", _pauses("pre")),
    "post_shock": ("time", _pauses("post")),
    "peri_shock": ("time", _pauses("peri")),
    "period": ("time", _periods),
}
"""Measured names of targets: what kind of quantity each is, and its readings."""


ALSO_CALLED = {"start_after_recognition": "recognised_to_first_compression"}
"""Plainer names of times between two milestones."""


def _ends(name: str) -> tuple[str, str] | None:
    """The two milestones that a name speaks of, ``go`` being the start; ``None`` where it speaks of none."""
    name = ALSO_CALLED.get(name, name)
    if name in NAMES:
        return "recognised", name
    start, to, end = name.partition("_to_")
    return (start, end) if to and end in NAMES and (start == "go" or start in NAMES) else None


def is_measured(written: str) -> bool:
    """Whether keys can measure a target of that name."""
    name = written.replace("-", "_")
    return name in READ or _ends(name) is not None


def _between(found: Measures, start: str, end: str) -> list[Reading]:
    reached = found.milestones.reached
    then, since = reached[end], 0 if start == "go" else reached[start]
    if then is None and since is not None and end == "first_compression" and not _alive_since(found, since):
        # It took at least until the end, which the assessor may have keyed early or late.
        waited, line = found.floor.end - since, found.milestones.lines[start] if start != "go" else None
        rests = () if line is None else (line,)
        return [Reading(waited, found.hand_ms + GRACE_MS, found.floor.end, rests, note="never", open=True)]
    if then is None or since is None or then < since:
        return []
    lines = tuple(found.milestones.lines[name] for name in (start, end) if name != "go")
    return [Reading(then - since, found.hand_ms + GRACE_MS, then, lines)]


def _alive_since(found: Measures, since: int) -> bool:
    return any(until > since for _, until in found.floor.alive)


def judge(
    found: Measures, written: str, target: Target, owner: str = "", by: float | None = None
) -> tuple[Judged, ...]:
    """Every reading of one target beside its bounds; none where no key measures it or nothing bounds it.

    ``owner`` "rescuer" judges the rescuer's own part only; ``by`` makes bounds of the aim, that much to either side
    (without it an aim alone bounds from above).
    """
    name = written.replace("-", "_")
    ends = _ends(name)
    readings: Sequence[Reading]
    if name in READ:
        quantity, read = READ[name]
        readings = read(found)
    elif ends is not None:
        quantity, readings = "time", _between(found, *ends)
    else:
        return ()
    low, high = bound(target.from_, target.unit), bound(target.to, target.unit)
    aimed = bound(target.value, target.unit)
    if low is None and high is None and aimed is not None:
        low, high = (None, aimed) if by is None else (aimed - by, aimed + by)
    if low is None and high is None:
        return ()
    if owner == "rescuer":
        readings = [
            replace(one, value=one.own, whole=one.whole or one.value) for one in readings if one.own is not None
        ]
    judged = [Judged(name, quantity, one, low, high, verdict_of(one, low, high)) for one in readings]
    # What had not come by the end was over its limit, or nobody knows.
    return tuple(one for one in judged if one.reading.note != "never" or one.verdict == "over")


def title_of(name: str, language: str = "en") -> str:
    """What a target is called in words."""
    say = partial(wording.say, WORDS, language)
    ends = _ends(name)
    if ends:
        return say("from-to", start=say(ends[0]), end=say(ends[1]))
    return say(name) if name in WORDS else name.replace("_", " ").replace("-", " ").capitalize()


def amount(value: float, quantity: Quantity) -> str:
    """A value with its unit, as exact as its quantity is printed: whole seconds, a minute, percent."""
    if quantity == "time":
        return f"{value / 1000:.0f} s" if abs(value) < 100_000 else clock(round(value))
    if quantity == "rate":
        return f"{value:.0f}/min"
    if quantity == "share":
        return f"{value * 100:.0f} %"
    return f"{value:.0f}"


def bounds_text(low: float | None, high: float | None, quantity: Quantity) -> str:
    """The bounds of a target, in signs that need no language."""
    if low is not None and high is not None:
        return f"{amount(low, quantity).removesuffix('/min')}–{amount(high, quantity)}"
    return f"≤ {amount(high, quantity)}" if high is not None else f"≥ {amount(low or 0.0, quantity)}"
