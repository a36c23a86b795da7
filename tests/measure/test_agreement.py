"""Agreement of two assessors: against statsmodels, at the edges, and on drills by hand."""

from __future__ import annotations

import warnings
from statistics import median

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint

from coach.measure.agreement import FEW, MATCH_MS, Table, kappa_of, matched, table_of, wilson
from coach.measure.floor import Floor, floor_of
from tests.measure.story import Story


@given(st.integers(0, 400).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_wilson_is_that_of_statsmodels(counts: tuple[int, int]) -> None:
    hits, of = counts
    found = wilson(hits, of)
    if of == 0:
        assert found is None
        return
    low, high = proportion_confint(hits, of, method="wilson")
    assert found == pytest.approx((max(0.0, low), min(1.0, high)), abs=1e-12)


@given(st.lists(st.integers(0, 60), min_size=4, max_size=4))
def test_kappa_and_its_error_are_those_of_statsmodels(cells: list[int]) -> None:
    table = Table(*cells)
    found = kappa_of(table)
    if table.cases == 0:
        assert found is None
        return
    assert found is not None
    assert found.adjusted == pytest.approx(2 * table.agreed / table.cases - 1)
    assert found.unstable is (table.cases < FEW)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = cohens_kappa(np.array([[table.both, table.first], [table.second, table.neither]]))
    if found.kappa is None:
        assert np.isnan(theirs.kappa) or {table.both, table.neither} == {0, table.cases}
        return
    assert found.kappa == pytest.approx(theirs.kappa, abs=1e-9)
    # Theirs is no number where rounding makes the variance of perfect agreement less than nothing.
    assert found.error == pytest.approx(0.0 if np.isnan(theirs.std_kappa) else theirs.std_kappa, abs=1e-7)


def test_a_table_worked_by_hand_and_one_on_which_kappa_misleads() -> None:
    """35 of 50 agreed on, 25 by chance: (0.7 - 0.5) / (1 - 0.5)."""
    found = kappa_of(Table(20, 5, 10, 15))
    assert found is not None and found.kappa == pytest.approx(0.4) and found.adjusted == pytest.approx(0.4)
    rare = kappa_of(Table(90, 5, 5, 0))  # nearly all done: kappa says nothing, the adjusted figure and the table do
    assert rare is not None and rare.kappa is not None and rare.kappa < 0 and rare.adjusted == pytest.approx(0.8)


@given(st.lists(st.integers(-10_000, 10_000), min_size=1, max_size=40))
def test_medians_are_those_of_numpy(values: list[int]) -> None:
    assert median(values) == float(np.median(values))


def floor(story: Story) -> Floor:
    return floor_of(story.happened(200), story.header)


def drill(shift: float = 0.0, **moved: float) -> Story:
    moments = {"response_checked": 5.0, "call_made": 10.0, "not_breathing": 16.0, "unit_on": 60.0, **moved}
    story = Story()
    for name, moment in moments.items():
        story.at(moment + shift, name)
    story.push(20 + shift, 30)
    return story.at(45 + shift, "breath").at(47 + shift, "breath")


def test_the_same_marks_with_a_later_go_differ_by_the_offset_only() -> None:
    found = matched(floor(drill()), floor(drill(3.0)))
    assert found is not None
    assert found.offset == 3_000 and found.apart == 0 and found.low == found.high == 3_000
    assert len(found.pairs) == 6 and found.only_first == found.only_second == ()
    assert {pair.name for pair in found.pairs} == {
        "response_checked",
        "call_made",
        "not_breathing",
        "unit_on",
        "breath",
    }


def test_limits_of_agreement_are_the_mean_and_its_scatter() -> None:
    found = matched(floor(drill()), floor(drill(call_made=11.0, unit_on=58.0)))
    assert found is not None and found.low is not None and found.high is not None
    apart = [0, 1_000, 0, 0, 0, -2_000]
    assert (found.low + found.high) / 2 == pytest.approx(np.mean(apart))
    assert (found.high - found.low) / 2 == pytest.approx(1.959964 * np.std(apart, ddof=1), rel=1e-6)


def test_marks_of_one_alone_are_told_and_far_ones_are_not_matched() -> None:
    second = drill(call_made=10.0 + MATCH_MS / 1000 + 0.1)
    second.at(80, "clear_called")
    found = matched(floor(drill()), floor(second))
    assert found is not None
    assert found.only_first == ("call_made",) and set(found.only_second) == {"call_made", "clear_called"}
    assert matched(floor(Story().at(1, "unit_on")), floor(Story().at(1, "breath"))) is None


def test_the_most_marks_are_matched_and_in_order() -> None:
    first, second = Story().at(10, "breath").at(14, "breath"), Story().at(13, "breath").at(18, "breath")
    found = matched(floor(first), floor(second))
    assert found is not None and [pair.apart for pair in found.pairs] == [3_000, 4_000]


def test_steps_that_either_does_not_judge_are_left_out() -> None:
    first = {"a": "independent", "b": "omitted", "c": "prompted", "d": "not reached", "e": "not observed", "f": "cued"}
    second = {"a": "out of order", "b": "independent", "c": "omitted", "d": "omitted", "e": "omitted", "g": "cued"}
    assert table_of(first, second) == Table(1, 1, 1, 1)
