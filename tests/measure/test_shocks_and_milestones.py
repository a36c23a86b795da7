"""Shocks and milestones against numbers worked out by hand."""

from __future__ import annotations

import pytest

from coach.measure.report import Measures, measure
from coach.measure.shocks import PERI_BANDS, PRE_BANDS, band_of
from tests.measure.story import Story, protocol


def measured(story: Story, end: float) -> Measures:
    return measure(story.happened(end), protocol(), story.header)


def shocked() -> Story:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(20, "shock_advised").at(21.5, "clear_called")
    story.at(24, "shock_pressed").at(27, "compression").at(140, "compression").at(141, "analysis_begins")
    return story.at(149, "shock_advised").at(152, "shock_pressed").at(158.5, "compression")


def test_peri_is_pre_plus_post_for_each_shock() -> None:
    found = measured(shocked(), 159)
    assert [(one.at, one.pre, one.post, one.peri) for one in found.shocks] == [
        (24000, 14000, 3000, 17000),
        (152000, 12000, 6500, 18500),
    ]


def test_clear_before_counts_from_the_last_clear_since_the_verdict() -> None:
    assert [one.clear_before for one in measured(shocked(), 159).shocks] == [2500, None]
    early = Story().at(8, "clear_called").at(12, "analysis_begins").at(20, "shock_advised").at(24, "shock_pressed")
    assert measured(early, 30).shocks[0].clear_before is None
    twice = early.at(21, "clear_called").at(23, "clear_called")
    assert measured(twice, 30).shocks[0].clear_before == 1000


def test_a_shock_without_a_push_before_or_after_has_no_peri() -> None:
    story = Story().at(20, "shock_advised").at(24, "shock_delivered").at(30, "compression")
    (one,) = measured(story, 40).shocks
    assert (one.pre, one.post, one.peri) == (None, 6000, None)
    story = Story().at(10, "compression").at(24, "shock_pressed")
    (one,) = measured(story, 40).shocks
    assert (one.pre, one.post, one.peri) == (14000, None, None)


def test_a_shock_key_that_was_not_armed_is_no_shock() -> None:
    assert measured(Story().at(24, "shock_pressed", outcome="not armed"), 40).shocks == ()


def test_by_marks_a_shock_within_a_run_has_no_pauses() -> None:
    story = Story("marks").at(5, "hands_placed").at(24, "shock_pressed").at(30, "hands_lifted")
    (one,) = measured(story, 40).shocks
    assert (one.pre, one.post) == (None, None)
    story = Story("marks").at(5, "hands_placed").at(20, "hands_lifted").at(24, "shock_pressed").at(26, "hands_placed")
    (one,) = measured(story, 40).shocks
    assert (one.pre, one.post, one.peri) == (4000, 2000, 6000)


def test_a_pause_inside_is_left_out_and_said() -> None:
    story = Story().at(10, "compression").pause(12, 90, "safety").at(15, "shock_pressed").at(17, "compression")
    (one,) = measured(story, 20).shocks
    assert (one.pre, one.post, one.spans) == (5000, 2000, ("safety",))


@pytest.mark.parametrize(
    ("pre", "band"), [(9_999, "short"), (10_000, "middle"), (19_999, "middle"), (20_000, "long"), (47_000, "long")]
)
def test_bands_of_pre_shock_pauses(pre: int, band: str) -> None:
    """Cheskes 2011, Circulation 124:58-66 (read): under 10 s is the reference, 20 s or more the worst band."""
    assert band_of(pre, PRE_BANDS) == band


@pytest.mark.parametrize(
    ("peri", "band"), [(19_999, "short"), (20_000, "middle"), (39_999, "middle"), (40_000, "long")]
)
def test_bands_of_peri_shock_pauses(peri: int, band: str) -> None:
    """Cheskes 2011 (read): under 20 s is the reference, 40 s or more the worst band."""
    assert band_of(peri, PERI_BANDS) == band


def test_milestones_from_go_and_from_recognition() -> None:
    story = Story().at(14, "not_breathing").at(11, "call_made").at(22, "compression").at(80, "inject:arrives")
    story.tell(80, "emit", "unit_arrived").at(84, "unit_on").at(90, "pad_left").at(97, "pad_right")
    story.at(99, "analysis_begins").at(107, "shock_advised").at(111, "shock_pressed").at(114, "compression")
    found = measured(story.at(130, "not_breathing"), 150).milestones
    assert found.reached == {
        "recognised": 14000,
        "called": 11000,
        "first_compression": 22000,
        "unit_at_side": 80000,
        "unit_on": 84000,
        "pads_on": 97000,
        "first_analysis": 99000,
        "first_shock": 111000,
        "resumed": 114000,
    }
    assert found.from_recognition("first_compression") == 8000
    assert found.from_recognition("called") == -3000
    assert found.not_reached == ()


def test_what_was_never_reached_is_censored_at_the_end() -> None:
    found = measured(Story().at(30, "pad_right"), 240).milestones
    assert found.reached["pads_on"] is None
    assert len(found.not_reached) == 9 and found.end == 240000
    assert found.from_recognition("first_shock") is None


def test_a_period_runs_from_the_first_push_after_an_analysis_to_the_next() -> None:
    (period,) = measured(shocked(), 159).periods
    assert (period.start, period.length, period.cut) == (27000, 114000, False)
    story = shocked()
    story.pause(60, 20)
    assert measured(story, 159).periods[0].cut
