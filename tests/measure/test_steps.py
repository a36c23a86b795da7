"""How steps are judged: one small drill for each status."""

from __future__ import annotations

from typing import Any

import pytest

from coach.measure.report import measure
from coach.observations import default_keys
from tests.measure.story import Story, protocol

GOOD = {5: "response_checked", 8: "call_made", 12: "not_breathing", 18: "compression"}
REST = {90: "clear_called", 92: "shock_pressed", 95: "compression"}


def statuses(story: Story, end: float = 100, mode: str = "test", **more: Any) -> dict[str, str]:
    header = {**story.header, "keys": default_keys(), "mode": mode}
    return {step.id: step.status for step in measure(story.happened(end), protocol(**more), header).steps}


def drill(events: dict[int, str], counting: str = "each") -> Story:
    story = Story(counting)
    for moment, name in events.items():
        story.at(moment, name)
    return story


def with_track(**more: Any) -> dict[str, Any]:
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"].update(more)
    return {"track": table}


def test_a_drill_in_order_is_independent_throughout() -> None:
    found = statuses(drill({**GOOD, **REST, 80: "unit_arrived", 82: "unit_on"}))
    assert set(found.values()) == {"independent"}
    assert list(found) == [
        "response",
        "call",
        "breathing",
        "push",
        "clear",
        "shock",
        "resume",
        "fetch",
        "power",
    ]


def test_a_step_left_out_with_a_later_one_seen_is_omitted() -> None:
    events = {**GOOD, **REST}
    del events[8]
    found = statuses(drill(events))
    assert found["call"] == "omitted" and found["breathing"] == "independent"


def test_a_step_with_nothing_later_is_not_reached() -> None:
    found = statuses(drill({5: "response_checked", 8: "call_made"}))
    assert found["breathing"] == found["push"] == found["shock"] == "not reached"
    assert found["fetch"] == found["power"] == "not reached"


def test_two_steps_swapped_make_one_of_them_out_of_order() -> None:
    story = drill({5: "response_checked", 8: "not_breathing", 12: "call_made", 18: "compression", **REST})
    header = {**story.header, "keys": default_keys()}
    by_id = {step.id: step for step in measure(story.happened(100), protocol(), header).steps}
    assert by_id["call"].status == "out of order" and by_id["call"].after == "breathing"
    assert by_id["call"].at == 12000
    assert by_id["breathing"].status == "independent"


def test_either_order_is_no_fault() -> None:
    story = drill({5: "response_checked", 8: "not_breathing", 12: "call_made", 18: "compression", **REST})
    found = statuses(story, **with_track(either_order=[["call", "breathing"]]))
    assert found["call"] == found["breathing"] == "independent"
    free = statuses(drill({**GOOD, **REST}), **with_track(either_order=[["call", "breathing"]]))
    assert free["call"] == free["breathing"] == "independent"


def test_the_first_and_a_later_push_do_two_steps() -> None:
    """Pushing again after the shock is its own step, though the same key shows it."""
    events = {**GOOD, **REST}
    del events[95]
    assert statuses(drill(events))["resume"] == "not reached"
    assert statuses(drill({**GOOD, **REST}))["resume"] == "independent"


def test_a_prompted_step_is_prompted() -> None:
    story = drill({5: "response_checked", 12: "not_breathing", 18: "compression"}).at(8, "call_made", prompted=True)
    assert statuses(story)["call"] == "prompted"


@pytest.mark.parametrize(("mode", "status"), [("teach", "cued"), ("practise", "independent"), ("test", "independent")])
def test_a_step_done_under_its_cue_is_cued_in_teach_only(mode: str, status: str) -> None:
    story = drill(GOOD).tell(5, "cue", "step:call", "rescuer", "call")
    assert statuses(story, mode=mode)["call"] == status


@pytest.mark.parametrize(("late_at", "status"), [(7, "cued"), (9, "independent")])
def test_in_practise_a_late_cue_makes_what_follows_it_cued(late_at: float, status: str) -> None:
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["call"]["late_cue"] = {"en": "Phone now."}
    story = drill(GOOD).tell(late_at, "late", "call", "rescuer")
    assert statuses(story, mode="practise", track=table)["call"] == status


def test_by_marks_hands_on_does_the_pushing_step() -> None:
    events = {5: "response_checked", 8: "call_made", 12: "not_breathing", 18: "hands_placed"}
    assert statuses(drill(events, "marks"))["push"] == "independent"


def test_a_step_that_is_not_for_this_casualty_is_not_applicable() -> None:
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["breathing"]["when"] = "age >= 8 years"
    facts = {"age": {"kind": "number", "unit": "year", "from": 0, "to": 110, "default": 50}}
    wet = protocol(track=table, facts=facts)
    story = drill({**GOOD, **REST})
    for years, status in ((7, "not applicable"), (8, "independent")):
        header = {**story.header, "keys": default_keys(), "plan": {"facts": {"age": years * 12_000}}}
        found = {step.id: step.status for step in measure(story.happened(100), wet, header).steps}
        assert found["breathing"] == status and found["call"] == "independent"


def test_what_need_not_be_or_cannot_be_keyed_is_not_observed() -> None:
    table = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["step"]["call"]["required"] = False
    table["rescuer"]["step"]["response"]["done"] = ["probe_tap"]
    found = statuses(drill({12: "not_breathing", 18: "compression"}), track=table)
    assert found["call"] == found["response"] == "not observed"


def loop(ident: str) -> dict[str, Any]:
    """A spine that ends at the first push, then two steps outside it."""
    table: dict[str, Any] = protocol().model_dump(by_alias=True)["track"]
    table["rescuer"]["spine"] = ["response", "call", "breathing", "push"]
    assert ident in table["rescuer"]["step"]
    return table


def moves(story: Story, *steps: tuple[float, str, str]) -> Story:
    for moment, was, to in steps:
        story.tell(moment, "step", to, "rescuer", was)
    return story


def test_outside_the_spine_a_step_is_judged_while_the_machine_is_there() -> None:
    story = moves(
        drill({**GOOD, 80: "clear_called", 85: "analysis_begins", **REST}),
        (18, "breathing", "push"),
        (85, "push", "clear"),
        (90, "clear", "shock"),
        (92, "shock", "resume"),
        (95, "resume", "push"),
    )
    header = {**story.header, "keys": default_keys()}
    found = {s.id: s for s in measure(story.happened(100), protocol(track=loop("clear")), header).steps}
    assert found["clear"].status == "independent" and found["clear"].at == 90000
    assert found["resume"].status == "independent" and found["resume"].at == 95000


def test_outside_the_spine_a_step_left_undone_is_omitted_and_a_jump_over_one_does_it() -> None:
    events = {**GOOD, 85: "analysis_begins", **REST}
    del events[90]
    story = moves(
        drill(events),
        (18, "breathing", "push"),
        (85, "push", "clear"),
        (92, "clear", "resume"),
        (95, "resume", "push"),
    )
    found = statuses(story, track=loop("clear"))
    assert found["clear"] == "omitted"
    assert found["shock"] == "independent"
    assert found["resume"] == "independent"


def test_outside_the_spine_a_step_never_entered_is_not_reached() -> None:
    story = moves(drill({**GOOD, 50: "compression"}), (18, "breathing", "push"))
    found = statuses(story, track=loop("clear"))
    assert found["clear"] == found["shock"] == found["resume"] == "not reached"


def test_a_step_that_a_local_file_adds_stands_where_the_spine_has_it() -> None:
    """What is added stands last in the file: seen, it does not make those before it there passed, or jumped over."""
    table = loop("push")
    steps = table["rescuer"]["step"]
    steps["again"] = {**steps["breathing"], "required": False}
    steps["first_breaths"] = {**steps["breathing"], "done": ["breath"]}
    table["rescuer"]["spine"] = ["response", "call", "breathing", "first_breaths", "push"]
    story = moves(
        drill({5: "response_checked", 8: "call_made", 12: "not_breathing", 14: "breath"}),
        (12, "breathing", "first_breaths"),
    )
    found = statuses(story, track=table)
    assert [*found].index("first_breaths") == [*found].index("breathing") + 1
    assert found["first_breaths"] == "independent"
    assert found["push"] == found["again"] == "not reached"


def test_breaths_after_a_run_are_no_first_breaths_given_late() -> None:
    """The machine went over the first breaths; the breath that led it into the two after a run belongs to those."""
    table = loop("push")
    steps = table["rescuer"]["step"]
    steps["two_breaths"] = {**steps["push"], "done": ["breath"], "required": False}
    steps["first_breaths"] = {**steps["breathing"], "done": ["breath"]}
    table["rescuer"]["spine"] = ["response", "call", "breathing", "first_breaths", "push"]
    before = [(12, "breathing", "first_breaths"), (18, "first_breaths", "push")]
    story = moves(drill({**GOOD, 26: "breath", 28: "breath", 30: "compression"}), *before)
    assert statuses(story, track=table)["first_breaths"] == "out of order"
    found = statuses(moves(story, (26, "push", "two_breaths"), (30, "two_breaths", "push")), track=table)
    assert found["first_breaths"] == "omitted" and found["two_breaths"] == "independent"


def test_a_call_made_late_is_out_of_order_though_pushing_goes_on_after_it() -> None:
    """Expected R C N P; seen R P C P: the second pushing does not make the late call right."""
    story = drill({5: "response_checked", 8: "compression", 20: "call_made", 30: "compression"})
    header = {**story.header, "keys": default_keys()}
    found = {s.id: s for s in measure(story.happened(40), protocol(track=loop("push")), header).steps}
    assert (found["call"].status, found["call"].after) == ("out of order", "push")
    assert found["push"].status == "independent" and found["push"].at == 8000
    assert found["breathing"].status == "omitted"


def test_steps_of_an_empty_drill_are_not_reached() -> None:
    assert set(statuses(Story()).values()) == {"not reached"}
