"""The very edges of the definitions, where one millisecond decides."""

from __future__ import annotations

import pytest

from coach.measure.probe import probes_of
from coach.measure.report import measure
from coach.measure.runs import Run
from coach.measure.tape import tape
from tests.measure.story import Story, protocol
from tests.measure.test_findings import by_rule, concluded, setup


def test_a_clear_at_the_very_moment_of_the_verdict_counts() -> None:
    story = Story().at(12, "analysis_begins").at(20, "shock_advised").at(20, "clear_called").at(24, "shock_pressed")
    assert measure(story.happened(30), protocol(), story.header).shocks[0].clear_before == 4000


@pytest.mark.parametrize(("verdict", "unit"), [(72.0, 60_000), (72.001, 0)])
def test_a_verdict_belongs_to_an_analysis_of_at_most_a_minute_before(verdict: float, unit: int) -> None:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(verdict, "no_shock_advised")
    story.at(80, "compression")
    (gap,) = measure(story.happened(80), protocol(), story.header).gaps
    assert gap.sets[0].unit == unit and len(gap.sets) == (1 if unit else 2)
    assert sum(parts.total for parts in gap.sets) == gap.length


@pytest.mark.parametrize(("moment", "found"), [(81.0, False), (81.001, True), (86.999, True), (87.0, False)])
def test_a_touch_just_inside_the_grace_of_an_analysis(moment: float, found: bool) -> None:
    """Analysis at 80 s, verdict at 88 s, one second of grace at either edge, ends included."""
    story = setup().at(80, "analysis_begins").at(88, "shock_advised").at(moment, "touch")
    story.fault(moment, "touched", "rescuer", "shock")
    assert ("touched" in {one.rule for one in concluded(story, 100).findings}) is found


@pytest.mark.parametrize(("clear", "late"), [(95.0, True), (95.001, False)])
def test_a_clear_up_to_two_seconds_after_a_shock_has_no_order(clear: float, late: bool) -> None:
    story = setup().at(88, "shock_advised").at(93, "shock_pressed").at(clear, "clear_called")
    story.fault(93, "no-clear", "rescuer", "shock")
    assert ("pressed late" in by_rule(concluded(story, 100), "no-clear").ask) is late


def test_taps_two_seconds_apart_are_two_probes() -> None:
    near = (*range(0, 3000, 500), *range(4499, 7499, 500))
    apart = (*range(0, 3000, 500), *range(4500, 7500, 500))
    assert [len(probe) for probe in probes_of([Run(0, 9000, taps=near)])] == [12]
    assert [len(probe) for probe in probes_of([Run(0, 9000, taps=apart)])] == [6, 6]


@pytest.mark.parametrize(("second", "cells"), [(4.5, "##·##"), (4.499, "#####")])
def test_two_seconds_of_silence_before_a_push_are_hands_off_on_the_tape(second: float, cells: str) -> None:
    story = Story().at(0.5, "compression").at(1.5, "compression").at(second - 1, "compression").at(4.6, "compression")
    happened = story.happened(4.9)
    assert tape(happened.seen, happened.end_e, "each") == cells


@pytest.mark.parametrize(
    ("away", "cause"),
    [
        ((9_000, 10_000), "unknown"),
        ((9_000, 10_001), "keyboard elsewhere"),
        ((20_000, 21_000), "unknown"),
        ((19_999, 21_000), "keyboard elsewhere"),
    ],
)
def test_the_keyboard_must_have_been_elsewhere_within_the_gap(away: tuple[int, int], cause: str) -> None:
    story = Story().at(10, "compression").at(20, "compression")
    (gap,) = measure(story.happened(20, away=(away,)), protocol(), story.header).gaps
    assert gap.cause == cause
