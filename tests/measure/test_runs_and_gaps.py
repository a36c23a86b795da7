"""Runs, windows, gaps, causes and parts, each against numbers worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from coach.measure.episodes import Parts
from coach.measure.floor import floor_of
from coach.measure.report import Measures, measure
from coach.measure.runs import runs_of
from tests.measure.story import Story, protocol


def measured(story: Story, end: float, **more: Any) -> Measures:
    return measure(story.happened(end, **more), protocol(), story.header)


def spans(found: Measures) -> list[tuple[int, int]]:
    return [(run.first, run.last) for run in found.runs]


def test_silence_of_two_seconds_ends_a_run_and_a_shorter_one_does_not() -> None:
    story = Story().at(0, "compression").at(1.999, "compression").at(3.999, "compression")
    found = measured(story, 4)
    assert spans(found) == [(0, 1999), (3999, 3999)]
    assert [(gap.start, gap.end, gap.counted) for gap in found.gaps] == [(1999, 3999, True), (3999, 4000, False)]


def test_a_breath_ends_a_run_and_its_short_gap_is_listed_but_not_summed() -> None:
    story = Story().at(0, "compression").at(0.5, "compression").at(0.9, "breath").at(2.0, "compression")
    found = measured(story, 2)
    assert spans(found) == [(0, 500), (2000, 2000)]
    assert [(gap.length, gap.cause, gap.counted) for gap in found.gaps] == [(1500, "breaths", False)]
    assert found.hands_on.share == 1.0


def test_hands_lifted_ends_a_run() -> None:
    found = measured(Story().at(1, "compression").at(1.2, "hands_lifted").at(1.6, "compression"), 1.6)
    assert spans(found) == [(1000, 1000), (1600, 1600)]


@pytest.mark.parametrize("outcome", ["dropped", "held", "not mapped", "refused", "nothing", "not armed"])
def test_keys_that_are_no_facts_are_not_counted(outcome: str) -> None:
    story = Story().at(0, "compression").at(0.5, "compression", outcome=outcome).at(1, "compression")
    assert [run.beats for run in measured(story, 1).runs] == [(0, 1000)]


def test_a_push_that_the_protocol_did_not_expect_is_still_a_push() -> None:
    story = Story().at(0, "compression", outcome="not expected")
    assert measured(story, 1).seen == 1


def test_marks_make_a_run_from_on_to_off_and_no_count() -> None:
    story = Story("marks").at(10, "hands_placed").at(28, "breath").at(30, "breath").at(33, "hands_placed")
    story.at(50, "hands_lifted")
    found = measured(story, 60)
    assert spans(found) == [(10000, 28000), (33000, 50000)]
    assert found.seen is None and found.rate is None
    assert [run.count for run in found.runs] == [None, None]
    assert [run.breaths_after for run in found.runs] == [2, 0]
    # window 10 to 60 s = 50 s, gaps 5 + 10 s
    assert found.hands_on.share == pytest.approx(1 - 15 / 50)
    assert found.hands_on.counting == "marks"


def test_a_run_still_on_at_the_end_lasts_to_the_end_by_marks() -> None:
    found = measured(Story("probe").at(5, "hands_placed"), 20)
    assert spans(found) == [(5000, 20000)] and found.runs[0].open
    assert found.hands_on.share == 1.0 and found.gaps == ()


def test_a_pause_ends_a_run_of_beats_and_its_gap_is_marked_and_not_summed() -> None:
    story = Story().at(0, "compression").at(0.5, "compression").pause(0.75, 60).at(1.0, "compression")
    found = measured(story, 1)
    assert spans(found) == [(0, 500), (1000, 1000)]
    assert [(gap.length, gap.spans, gap.counted) for gap in found.gaps] == [(500, ("teaching",), False)]


def test_a_pause_ends_a_run_of_marks() -> None:
    story = Story("marks").at(0, "hands_placed").pause(10, 30, "hole").at(12, "hands_placed").at(20, "hands_lifted")
    found = measured(story, 20)
    assert spans(found) == [(0, 10000), (12000, 20000)]
    assert found.gaps[0].spans == ("hole",)


def test_a_jump_to_the_next_check_cuts_a_run() -> None:
    story = Story()
    story.push(0, 4, 0.5)
    found = measured(story, 1.5, shortened=(750,))
    assert spans(found) == [(0, 500), (1000, 1500)] and found.gaps[0].spans == ("shortened",)


def test_the_last_gap_counts_where_it_is_long_enough() -> None:
    story = Story()
    story.push(0, 3, 0.5)
    assert measured(story, 2.999).hands_on.share == 1.0
    found = measured(story, 3.0)
    assert found.gaps[-1].open and found.hands_on.share == pytest.approx(1 - 2 / 3)


def test_no_compression_no_window_no_share() -> None:
    found = measured(Story().at(3, "call_made"), 100)
    assert found.windows == () and found.gaps == () and found.hands_on.share is None


def test_signs_of_life_cut_the_window_and_their_fading_opens_another() -> None:
    story = Story("marks").at(10, "hands_placed").at(30, "hands_lifted").at(33, "signs_of_life")
    story.at(60, "life_fades").at(64, "hands_placed").at(80, "hands_lifted")
    found = measured(story, 80)
    assert [tuple(window) for window in found.windows] == [(10000, 33000), (60000, 80000)]
    assert [(gap.start, gap.end) for gap in found.gaps] == [(30000, 33000), (60000, 64000)]
    # windows 23 + 20 = 43 s, gaps 3 + 4 = 7 s
    assert found.hands_on.share == pytest.approx(1 - 7 / 43)


def test_pushes_after_signs_of_life_are_outside_the_window() -> None:
    story = Story().at(0, "compression").at(0.5, "compression").at(1, "signs_of_life").at(5, "compression")
    found = measured(story, 10)
    assert [tuple(window) for window in found.windows] == [(0, 1000)]
    assert found.hands_on.share == 1.0


def analysis(story: Story) -> Story:
    """The gap of 34 s: 20 sticking pads, 8 reading, 3 pressing, 3 back on."""
    story.at(100, "compression").at(105, "pad_right").at(112, "pad_left").at(120, "analysis_begins")
    return story.at(128, "shock_advised").at(130, "clear_called").at(131, "shock_pressed").at(134, "compression")


def test_a_gap_of_34_seconds_is_20_and_8_and_3_and_3() -> None:
    found = measured(analysis(Story()), 134)
    (gap,) = found.gaps
    assert gap.length == 34000 and gap.cause == "analysis" and gap.causes == ("analysis", "pads")
    assert gap.sets == (Parts(prep=20000, unit=8000, press=3000, resume=3000),)
    assert gap.rescuer == 26000


def test_after_no_shock_the_rest_of_the_gap_is_resume() -> None:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(20, "no_shock_advised").at(24, "compression")
    assert measured(story, 24).gaps[0].parts == Parts(prep=2000, unit=8000, resume=4000)


def test_a_shock_advised_and_never_given_is_press_to_the_end() -> None:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(20, "shock_advised")
    assert measured(story, 30).gaps[0].parts == Parts(prep=2000, unit=8000, press=10000)


def test_parts_are_clamped_to_the_gap() -> None:
    """Pushing went on 3 s into the analysis, and began again while the unit charged."""
    story = Story().at(10, "analysis_begins").at(13, "compression").at(20, "shock_advised").at(22, "compression")
    story.at(25, "shock_pressed").at(26, "compression")
    found = measured(story, 26)
    assert [gap.parts for gap in found.gaps] == [
        Parts(unit=7000, press=2000),
        Parts(press=3000, resume=1000),
    ]


def test_two_analyses_in_one_gap_have_a_set_each() -> None:
    story = Story().at(10, "compression").at(12, "analysis_begins").at(20, "no_shock_advised")
    story.at(27, "analysis_begins").at(35, "shock_advised").at(40, "shock_pressed").at(42, "compression")
    (gap,) = measured(story, 42).gaps
    assert gap.sets == (Parts(prep=2000, unit=8000, resume=7000), Parts(unit=8000, press=5000, resume=2000))
    assert gap.parts is not None and gap.parts.total == gap.length == 32000


@pytest.mark.parametrize(
    ("marks", "parts"),
    [
        ({12: "analysis_begins"}, Parts(prep=2000, unsplit=28000)),
        ({20: "shock_advised", 25: "shock_pressed"}, Parts(unsplit=10000, press=5000, resume=15000)),
        ({12: "analysis_begins", 25: "shock_pressed"}, Parts(prep=2000, unsplit=13000, resume=15000)),
        ({25: "shock_delivered"}, Parts(unsplit=15000, resume=15000)),
        ({20: "no_shock_advised"}, Parts(unsplit=10000, resume=20000)),
    ],
)
def test_what_a_missing_mark_leaves_open_is_nobodys(marks: dict[float, str], parts: Parts) -> None:
    story = Story().at(10, "compression").at(40, "compression")
    for moment, name in marks.items():
        story.at(moment, name)
    (gap,) = measured(story, 40).gaps
    assert gap.parts == parts and gap.rescuer == parts.rescuer


@pytest.mark.parametrize(
    ("events", "cause"),
    [
        ({12: "breath"}, "breaths"),
        ({12: "pad_left"}, "pads"),
        ({12: "swapped", 13: "breath"}, "swap"),
        ({12: "call_made"}, "call"),
        ({12: "inject:vomit", 14: "breath"}, "vomit"),
        ({12: "touch"}, "unknown"),
    ],
)
def test_the_cause_of_a_gap(events: dict[float, str], cause: str) -> None:
    story = Story().at(10, "compression").at(20, "compression")
    for moment, name in events.items():
        story.at(moment, name)
    (gap,) = measured(story, 20).gaps
    assert gap.cause == cause and gap.rescuer == 10000


def test_an_inject_without_an_obligation_is_no_cause_and_an_open_one_is_the_last_guess() -> None:
    story = Story().at(10, "compression").at(12, "inject:arrives").at(20, "compression")
    assert measured(story, 20).gaps[0].cause == "unknown"
    story = Story().at(5, "inject:vomit").at(10, "compression").at(20, "compression").at(22, "breath")
    story.at(25, "compression")
    assert [gap.cause for gap in measured(story, 25).gaps] == ["vomit", "breaths"]
    story.tell(8, "emit", "closed:vomit")
    assert [gap.cause for gap in measured(story, 25).gaps] == ["unknown", "breaths"]


def test_a_gap_with_the_keyboard_elsewhere_is_nobodys() -> None:
    story = Story().at(10, "compression").at(20, "compression")
    (gap,) = measured(story, 20, away=((12000, 19000),)).gaps
    assert gap.cause == "keyboard elsewhere" and gap.rescuer == 0


def test_what_an_inject_or_a_unit_emits_counts_as_seen_once() -> None:
    story = Story().at(5, "inject:arrives").tell(5, "emit", "unit_arrived").at(9, "shock_advised", by="unit")
    story.tell(9, "emit", "shock_advised").tell(9, "emit", "hands_on").tell(7, "emit", "inject:vomit")
    floor = floor_of(story.happened(10), story.header)
    assert [(event.e, event.name) for event in floor.events] == [
        (5000, "inject:arrives"),
        (5000, "unit_arrived"),
        (7000, "inject:vomit"),
        (9000, "shock_advised"),
    ]
    assert runs_of(floor) == ()
