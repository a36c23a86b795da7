"""Rates, probes, the share, its ceiling and the rules of thumb, against hand arithmetic and published tables."""

from __future__ import annotations

from random import Random

import pytest

from coach.measure.probe import probes_of
from coach.measure.rate import corrected, in_band, plus_minus, rate_of, run_rate
from coach.measure.report import measure
from coach.measure.runs import Run
from coach.measure.share import ceiling
from tests.measure.story import Story, protocol


def beats(count: int, interval: float, start: int = 0) -> tuple[int, ...]:
    return tuple(start + round(number * interval) for number in range(count))


@pytest.mark.parametrize(("span", "rate"), [(17.4, 100.0), (18.0, 96.67), (15.818, 110.0), (14.5, 120.0)])
def test_thirty_taps_are_twenty_nine_intervals(span: float, rate: float) -> None:
    """29 * 60 / span (rules of thumb: arithmetic)."""
    found = run_rate(beats(30, span * 1000 / 29))
    assert found is not None and found.rate == pytest.approx(rate, abs=0.005)


def test_a_missed_tap_is_put_back_and_shown_apart() -> None:
    """30 pushes at 110/min, one of them not tapped: 29 seen + 1 inferred, and the rate does not fall."""
    whole = beats(30, 60_000 / 110)
    found = run_rate(whole[:12] + whole[13:])
    assert found is not None
    assert (found.seen, found.inferred, len(found.intervals)) == (29, 1, 29)
    assert found.rate == pytest.approx(110, abs=0.01)


def test_the_correction_begins_at_one_and_a_half_medians_and_rounds_half_up() -> None:
    steps = (500, 500, 749, 500, 500, 750, 500, 1250, 500)
    taps = [0]
    for step in steps:
        taps.append(taps[-1] + step)
    intervals, inferred = corrected(taps)
    # 749 stays one; 750 is two of 375; 1250 = 2.5 medians is three of 416.7
    assert inferred == 1 + 2
    assert intervals == pytest.approx((500, 500, 749, 500, 500, 375, 375, 500, 1250 / 3, 1250 / 3, 1250 / 3, 500))


def test_corrected_and_naive_rates_under_random_misses() -> None:
    """Simulation (tap scatter 25 ms, 3 % missed, 110/min, 30 taps): naive -3.3/min, corrected within 0.1/min.

    The table is the design's own; the seed is fixed. 400 runs: the naive mean is good to about 0.2/min.
    """
    random = Random(4)
    naive: list[float] = []
    good: list[float] = []
    for _ in range(400):
        taps = [round(index * 60_000 / 110 + random.gauss(0, 25)) for index in range(30)]
        kept = [taps[0], *(tap for tap in taps[1:-1] if random.random() >= 0.03), taps[-1]]
        found = run_rate(kept)
        assert found is not None
        good.append(found.rate)
        naive.append((len(kept) - 1) * 60_000 / (kept[-1] - kept[0]))
    assert sum(good) / 400 == pytest.approx(110, abs=0.1)
    assert sum(naive) / 400 == pytest.approx(110 - 3.3, abs=0.6)


@pytest.mark.parametrize(
    ("taps", "rate", "sigma", "within"),
    [(12, 110, 25, 1.3), (6, 110, 25, 2.8), (30, 110, 25, 0.48)],
)
def test_the_probe_table(taps: int, rate: float, sigma: float, within: float) -> None:
    """the design's table: 12 taps ±1.3, 6 taps ±2.8, 30 taps SD 0.24 (95 %: ±0.48) at 110/min and 25 ms."""
    span = round((taps - 1) * 60_000 / rate)
    assert plus_minus(rate, span, sigma) == pytest.approx(within, abs=0.05)


def test_five_beat_windows_slide() -> None:
    """Five runs of 30 have 5 * (29 - 4) = 125 windows; at a steady 110 all are in 100 to 120, at 124 none."""
    steady = [run_rate(beats(30, 60_000 / 110)) for _ in range(5)]
    assert in_band([rate for rate in steady if rate], 100, 120) == (125, 125)
    fast = run_rate(beats(30, 60_000 / 124))
    assert fast is not None and in_band([fast], 100, 120) == (0, 25)


def test_the_ends_of_the_band_are_inside() -> None:
    slow, quick = run_rate(beats(11, 600)), run_rate(beats(11, 500))
    assert slow is not None and quick is not None
    assert in_band([slow, quick], 100, 120) == (12, 12)


def test_the_rate_of_a_drill_is_the_median_of_its_runs() -> None:
    found = rate_of([beats(30, 600), beats(30, 500), beats(30, 545), beats(4, 300)], 25, (100, 120), True)
    assert found is not None
    assert (found.low, found.high, found.runs) == (100.0, 120.0, 3)
    assert found.median == pytest.approx(60_000 / 545)
    assert found.plus_minus == pytest.approx(1.96 * found.median * 25 * 2**0.5 / (29 * 545))


def test_six_taps_make_a_rate_and_five_none() -> None:
    assert run_rate(beats(6, 545)) is not None
    assert run_rate(beats(5, 545)) is None
    assert rate_of([beats(5, 545)], 25, None, True) is None
    assert run_rate((7, 7, 7, 7, 7, 7)) is None


def test_probes_take_six_to_twelve_taps_and_leave_fewer() -> None:
    taps = beats(15, 545, 1000) + beats(5, 545, 20_000) + beats(6, 545, 30_000)
    assert [len(probe) for probe in probes_of([Run(0, 40_000, taps=taps)])] == [12, 6]


def test_a_probe_gives_a_rate_with_its_uncertainty_and_no_share_in_band() -> None:
    story = Story("probe").at(0, "hands_placed")
    for number in range(12):
        story.at(5 + number * 60 / 110, "probe_tap")
    found = measure(story.at(20, "breath").happened(20), protocol(), story.header)
    assert found.rate is not None
    assert found.rate.median == pytest.approx(110, abs=0.05)
    assert found.rate.plus_minus == pytest.approx(1.27, abs=0.01)
    assert found.rate.in_band is None and found.rate.windows == 0
    assert found.seen is None


def test_another_scatter_of_the_keyboard_widens_the_uncertainty() -> None:
    story = Story()
    story.push(0, 30)
    narrow = measure(story.happened(16), protocol(), story.header).rate
    wide = measure(story.happened(16), protocol(), {**story.header, "sigma_ms": 50}).rate
    assert narrow is not None and wide is not None
    assert wide.plus_minus == pytest.approx(2 * narrow.plus_minus)


@pytest.mark.parametrize(("gap", "share"), [(5, 76), (7, 69), (10, 61)])
def test_the_ceiling_table_at_110(gap: int, share: int) -> None:
    """30:2 at 110/min, first compression to last and last to first: 29 intervals and the gap."""
    assert round(ceiling(30, 110, gap * 1000) * 100) == share


def test_eighty_percent_needs_gaps_under_3_96_seconds() -> None:
    """p = (29 * 60 / 110) / 4 = 3.954 s by our convention."""
    assert ceiling(30, 110, 3950) > 0.8 > ceiling(30, 110, 3960)


@pytest.mark.parametrize(
    ("ratio", "pause", "published"),
    [
        (30, 2, (0.900, 0.891, 0.882)),
        (30, 10, (0.643, 0.621, 0.600)),
        (15, 2, (0.818, 0.804, 0.789)),
    ],
)
def test_published_steady_state_tables_count_whole_intervals(
    ratio: int, pause: int, published: tuple[float, float, float]
) -> None:
    """The published convention: n whole intervals of pushing and a pause p. Ours takes the last interval into the gap,
    so their p is our p + 60/r: with that put in, one formula gives both tables."""
    for pace, share in zip((100, 110, 120), published, strict=True):
        interval = 60 / pace
        assert ratio * interval / (ratio * interval + pause) == pytest.approx(share, abs=0.0006)
        ours = ceiling(ratio, pace, round((pause + interval) * 1000))
        assert ours == pytest.approx((ratio - 1) * interval / (ratio * interval + pause), abs=1e-4)
        assert ours < share


def test_a_drill_of_nothing_but_cycles_reaches_its_ceiling() -> None:
    """Five cycles of 30:2 at 110/min with 5-s gaps last 5 * (29 * 60 / 110 + 5) = 104.1 s, not 120."""
    story = Story()
    end = story.cycles(0, 5, 5.0)
    assert end == pytest.approx(104.09, abs=0.01)
    story.at(end, "compression")
    found = measure(story.happened(end), protocol(), story.header)
    assert found.hands_on.share == pytest.approx(0.7598, abs=0.0005)
    assert found.hands_on.ceiling == pytest.approx(found.hands_on.share, abs=0.0005)
    assert [(run.count, run.breaths_after) for run in found.runs] == [(30, 2)] * 5 + [(1, 0)]
    assert {gap.cause for gap in found.gaps} == {"breaths"}


@pytest.mark.parametrize(("pace", "lasts"), [(100, 120.0), (110, 120.0), (120, 120.0)])
def test_five_cycles_last_two_minutes_only_with_long_pauses(pace: int, lasts: float) -> None:
    """Arithmetic, common practice says "five cycles, two minutes": 30 whole intervals and 6.0 / 7.64 / 9.0 s."""
    pause = {100: 6.0, 110: 7.636, 120: 9.0}[pace]
    story = Story()
    end = story.cycles(0, 5, pause + 60 / pace, pace=pace)
    assert end == pytest.approx(lasts, abs=0.01)


def test_the_ceiling_takes_the_middle_of_the_band_where_there_is_no_rate() -> None:
    story = Story("marks").at(0, "hands_placed")
    found = measure(story.happened(10), protocol(), story.header)
    assert found.hands_on.pace == 110 and found.hands_on.ceiling == pytest.approx(ceiling(30, 110, 5000))


def test_without_a_ratio_there_is_no_ceiling() -> None:
    story = Story()
    story.push(0, 30)
    targets = {"breath_gap": {"to": "10 s", "source": "bls"}}
    assert measure(story.happened(20), protocol(targets=targets), story.header).hands_on.ceiling is None


def test_the_drills_own_stops_for_breaths_give_a_ceiling_of_their_own() -> None:
    """Stops of 4, 6 and 7 s: median 6 s; 29 * 60 / 110 = 15.818 s of pushing, 15.818 / 21.818 = 72.5 %."""
    story = Story()
    start = 0.0
    for gap in (4.0, 6.0, 7.0):
        start = story.cycles(start, 1, gap)
    story.at(start, "compression")
    found = measure(story.happened(start), protocol(), story.header).hands_on
    assert found.own_gap == 6000
    assert found.own_ceiling == pytest.approx(0.725, abs=0.001)
    assert found.breath_gap == 5000 and not found.at_limit


def test_a_limit_without_an_aim_is_said_to_be_one() -> None:
    targets = {"breath_gap": {"to": 10, "unit": "s", "source": "bls"}, "run_length": {"value": 30, "source": "bls"}}
    story = Story()
    story.push(0, 30)
    found = measure(story.happened(16), protocol(targets=targets), story.header).hands_on
    assert found.breath_gap == 10_000 and found.at_limit and found.own_ceiling is None


@pytest.mark.parametrize("event", ["shock_pressed", "no_shock_advised"])
def test_hands_still_marked_on_at_a_verdict_or_a_shock_leave_no_share(event: str) -> None:
    story = Story("marks").at(10, "hands_placed").at(20, "analysis_begins").at(28, event).at(40, "hands_lifted")
    found = measure(story.happened(50), protocol(), story.header).hands_on
    assert found.unmarked and found.share is None
    story = Story("marks").at(10, "hands_placed").at(19, "hands_lifted").at(20, "analysis_begins").at(28, event)
    found = measure(story.happened(50), protocol(), story.header).hands_on
    assert not found.unmarked and found.share == pytest.approx(9 / 40)
