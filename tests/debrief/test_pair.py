"""Before and after of the one thing, and where to begin again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.debrief.page import Debrief
from coach.debrief.pair import from_step, named, pair
from coach.measure.findings import Finding, OneThing
from tests.debrief.pages import good_drill, page
from tests.measure.story import Story


def about(made: Debrief, one: Finding) -> Debrief:
    """The page with that finding as its only one, and as its one thing."""
    judged = replace(made.judgement, findings=(one,), one_thing=OneThing(one.rule, one.say))
    return replace(made, judgement=judged)


def slow() -> Debrief:
    return page(good_drill(), 115)


def quick() -> Debrief:
    """The same with 12 s of the rescuer's own in place of 26."""
    story = Story().at(14, "not_breathing")
    last = story.push(22, 30, 0.5)
    story.at(last + 6, "analysis_begins").at(last + 14, "shock_advised").at(last + 17, "shock_pressed")
    story.push(last + 20, 30, 0.5)
    return page(story, last + 36, drill="later")


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (Finding("off", "major", 61_800, (), "Too long.", "", hands_off=16_000.0), "26.0 s, then 12.0 s."),
        (Finding("rate", "minor", 22_000, (), "Slow.", "", rate=True), "Rate: 100/min, then 120/min."),
        (Finding("omitted", "critical", None, (), "x", "", step="call"), "Call: independent, then omitted."),
        (Finding("odd", "minor", 5_000, (), "Odd.", ""), "Odd: 1 time, then 0 times."),
    ],
)
def test_each_kind_of_thing_is_compared_in_its_own_measure(one: Finding, said: str) -> None:
    assert pair(about(slow(), one), quick()).endswith(said)


def test_a_strength_has_no_pair_and_no_step_to_begin_from() -> None:
    made = slow()
    kept = replace(made, judgement=replace(made.judgement, one_thing=OneThing(None, "Hands back on in 3 s.")))
    assert named(kept) is None and pair(kept, quick()) == "" and from_step(kept) is None


def test_again_begins_at_the_things_own_step_or_the_last_one_before_it() -> None:
    made = slow()
    assert from_step(about(made, Finding("r", "critical", None, (), "x", "", step="clear"))) == ("clear", "Clear")
    assert from_step(about(made, Finding("r", "major", 64_000, (), "x", ""))) == ("power", "Unit on")
    assert from_step(about(made, Finding("r", "major", 1_000, (), "x", ""))) is None
