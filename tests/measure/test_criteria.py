"""Published rules and worked values; and the taps of a hand simulated, against the table that the tool rests on."""

from __future__ import annotations

import ast
import random
from itertools import pairwise
from math import sqrt
from pathlib import Path
from statistics import fmean, median, pstdev

import pytest

import coach
from coach.measure.criteria import CRITERIA, larsen_1993
from coach.measure.rate import corrected, in_band, plus_minus, run_rate
from coach.measure.report import Measures, measure
from coach.measure.shocks import PERI_BANDS, PRE_BANDS, band_of
from coach.observations import default_keys
from tests.measure.story import Story, protocol

RUNS = 4_000
TAP_SD = 25.0
OWN_SD = 15.0
"""Scatter of the learner's own beats: it is theirs, so it is no error of the tapping."""


def beats(pace: float, count: int, draw: random.Random, own: float = OWN_SD) -> list[float]:
    return [number * 60_000 / pace + draw.gauss(0, own) for number in range(count)]


def tapped(true: list[float], draw: random.Random, missed: float = 0.0) -> list[int]:
    """The taps of a hand that follows: each scatters by itself, and some are missed. In ms, as a log has them."""
    return sorted(round(beat + draw.gauss(0, TAP_SD)) for beat in true if draw.random() >= missed)


def true_rate(true: list[float]) -> float:
    return (len(true) - 1) * 60_000 / (true[-1] - true[0])


def near(found: float, printed: float, digits: int, error: float) -> bool:
    """Whether a simulated value is the printed one: within half of its last digit and four standard errors."""
    return abs(found - printed) <= 0.5 * 10**-digits + 4 * error


def errors(count: int, missed: float, how: str, seed: int) -> list[float]:
    """The errors of a rate a minute over 4,000 runs of ``count`` beats at 110."""
    draw = random.Random(seed)
    found = []
    while len(found) < RUNS:
        true = beats(110, count, draw)
        taps = tapped(true, draw, missed)
        if len(taps) < 2:
            continue
        if how == "median":
            rate = 60_000 / median(after - before for before, after in pairwise(taps))
        elif how == "naive" or len(taps) < 6:
            rate = (len(taps) - 1) * 60_000 / (taps[-1] - taps[0])
        else:
            made = run_rate(taps)
            assert made is not None
            rate = made.rate
        first = next((beat for beat in true if abs(beat - taps[0]) < 200), true[0])
        last = next((beat for beat in reversed(true) if abs(beat - taps[-1]) < 200), true[-1])
        between = true.index(last) - true.index(first)
        found.append(rate - (between * 60_000 / (last - first) if how == "corrected" else true_rate(true)))
    return found


@pytest.mark.parametrize(
    ("count", "missed", "how", "bias", "sd", "digits"),
    [
        (2, 0.0, "naive", None, 7.1, 1),
        (6, 0.0, "naive", None, 1.4, 1),
        (12, 0.0, "naive", 0.0, 0.65, 2),
        (30, 0.0, "naive", 0.0, 0.24, 2),
        (30, 0.03, "naive", -3.3, 3.4, 1),
        (30, 0.03, "corrected", 0.0, 0.24, 1),
        (30, 0.10, "corrected", 0.0, 0.25, 1),
    ],
)
def test_the_scatter_of_rates_is_that_of_the_table(
    count: int, missed: float, how: str, bias: float | None, sd: float, digits: int
) -> None:
    found = errors(count, missed, how, seed=count * 1_000 + round(missed * 100))
    spread = pstdev(found)
    assert near(spread, sd, digits, spread / sqrt(2 * RUNS)), spread
    if bias is not None:
        assert near(fmean(found), bias, 1, spread / sqrt(RUNS)), fmean(found)


def test_the_median_interval_scatters_by_one_and_is_robust_to_a_miss() -> None:
    whole = pstdev(errors(30, 0.0, "median", seed=11))
    assert near(whole, 1.1, 1, whole / sqrt(2 * RUNS)), whole
    assert pstdev(errors(30, 0.03, "median", seed=11)) < 1.1 * whole


@pytest.mark.parametrize(("pace", "share"), [(110, 0.84), (118, 0.59), (124, 0.32)])
def test_single_intervals_of_a_steady_pace_seem_to_leave_the_band(pace: float, share: float) -> None:
    draw = random.Random(round(pace))
    inside = 0
    for _ in range(RUNS):
        first, second = (beat + draw.gauss(0, TAP_SD) for beat in beats(pace, 2, draw, own=0.0))
        inside += 500 <= second - first <= 600
    assert near(inside / RUNS, share, 2, sqrt(share * (1 - share) / RUNS)), inside / RUNS


def test_means_of_five_of_a_steady_110_lie_in_the_band() -> None:
    draw = random.Random(5)
    inside = total = 0
    means = []
    for _ in range(RUNS // 25):
        made = run_rate(tapped(beats(110, 30, draw, own=0.0), draw))
        assert made is not None
        hits, of = in_band([made], 100, 120)
        inside, total = inside + hits, total + of
        means += [fmean(made.intervals[at : at + 5]) for at in range(0, 25, 5)]
    assert total == RUNS // 25 * 25 and inside / total > 0.999
    assert near(pstdev(means), 7.1, 1, 7.1 / sqrt(2 * len(means)))


def test_the_printed_uncertainty_covers_the_truth_in_nineteen_of_twenty() -> None:
    draw = random.Random(12)
    covered = 0
    for _ in range(RUNS):
        true = beats(110, 12, draw)
        made = run_rate(tapped(true, draw))
        assert made is not None
        covered += abs(made.rate - true_rate(true)) <= plus_minus(made.rate, made.span, TAP_SD)
    assert near(covered / RUNS, 0.95, 2, sqrt(0.95 * 0.05 / RUNS)), covered / RUNS


def test_missed_taps_are_put_back_and_counted() -> None:
    draw = random.Random(3)
    exact = 0
    for _ in range(RUNS // 4):
        true = beats(110, 30, draw)
        taps = [round(beat + draw.gauss(0, TAP_SD)) for beat in true]
        kept = [taps[0], *(tap for tap in taps[1:-1] if draw.random() >= 0.03), taps[-1]]
        exact += len(kept) + corrected(kept)[1] == 30
    assert exact / (RUNS // 4) > 0.99


# --- published worked values ------------------------------------------------------------------------------------------


def test_larsen_is_arithmetic_and_no_page_uses_it() -> None:
    assert larsen_1993(0, 0, 0) == 67
    assert larsen_1993(5, 8, 10) == pytest.approx(67 - 11.5 - 8.8 - 21)
    assert larsen_1993(12, 12, 12) == pytest.approx(1.0)
    untreated = 67 / 5.5  # minutes to nothing, as published: 12.18
    assert larsen_1993(untreated, untreated, untreated) == pytest.approx(0, abs=1e-9)
    assert larsen_1993(30, 30, 30) == 0
    root = Path(coach.__file__).parents[1]
    users = [
        path.name
        for folder in ("coach", "screens")
        for path in (root / folder).rglob("*.py")
        if any(
            isinstance(node, ast.Name | ast.alias | ast.Attribute)
            and "larsen" in (getattr(node, "id", "") or getattr(node, "name", "") or getattr(node, "attr", ""))
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        )
    ]
    assert users == []


@pytest.mark.parametrize(
    ("pre", "peri", "bands"),
    [
        (9_999, 19_999, ("short", "short")),
        (10_000, 20_000, ("middle", "middle")),
        (19_999, 39_999, ("middle", "middle")),
        (20_000, 40_000, ("long", "long")),
    ],
)
def test_cheskes_bands(pre: int, peri: int, bands: tuple[str, str]) -> None:
    assert (band_of(pre, PRE_BANDS), band_of(peri, PERI_BANDS)) == bands


def measured(story: Story, end: float) -> Measures:
    return measure(story.happened(end), protocol(), {**story.header, "keys": default_keys()})


def cycles(*shapes: tuple[int, float], counting: str = "each") -> Story:
    """Runs of so many compressions at such a pace, two breaths after each."""
    story, at = Story(counting), 20.0
    for count, pace in shapes:
        last = story.push(at, count, 60 / pace)
        story.at(last + 1.5, "breath").at(last + 3, "breath")
        at = last + 5
    return story


@pytest.mark.parametrize(
    ("shapes", "met"),
    [
        ([(30, 110), (30, 110), (30, 110)], True),
        ([(28, 110), (32, 101), (40, 110)], True),
        ([(27, 110), (30, 110), (33, 110)], False),
        ([(30, 110), (30, 125), (30, 90)], False),
        ([(30, 120.2), (30, 110), (30, 90)], True),  # at the limit: outside by no more than its ±
        ([(30, 110), (30, 110)], None),
        ([(20, 90), (20, 90), (20, 90), (30, 110), (30, 110)], False),  # the first three count
    ],
)
def test_hansen_on_counts_and_rates(shapes: list[tuple[int, float]], met: bool | None) -> None:
    found = CRITERIA["hansen-2019"](measured(cycles(*shapes), 120), 25.0)
    assert found.met is met and "not measured" in found.part
    assert CRITERIA["hansen-2019"](measured(cycles(*shapes, counting="marks"), 120), 25.0).met is None


@pytest.mark.parametrize(("quick", "end", "met"), [(0, 150, True), (1, 150, False), (0, 130, None)])
def test_anderson_on_rate(quick: int, end: float, met: bool | None) -> None:
    story = cycles(*[(30, 130 if number < quick else 110) for number in range(7)])
    assert CRITERIA["anderson-2019"](measured(story, end), 25.0).met is met


@pytest.mark.parametrize(("pre", "post", "met"), [(9.0, 5.0, True), (11.0, 5.0, False), (9.0, 12.0, False)])
def test_cheskes_on_every_shock(pre: float, post: float, met: bool) -> None:
    story = Story().at(20, "compression").at(20 + pre, "shock_pressed").at(20 + pre + post, "compression")
    assert CRITERIA["cheskes-2011"](measured(story, 60), 25.0).met is met
    assert CRITERIA["cheskes-2011"](measured(Story().at(20, "compression"), 60), 25.0).met is None
