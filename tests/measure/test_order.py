"""The order of a whole drill over all visits of its steps, on the shipped files played by the engine."""

from __future__ import annotations

from typing import Any

import pytest

from coach.measure.floor import floor_of
from coach.measure.order import Order, TrackModel, orders_of
from coach.measure.report import measure
from coach.observations import default_keys
from coach.protocol.library import list_protocols, load_protocol
from coach.protocol.model import Protocol
from tests.measure.story import Story, protocol

SHIPPED = [entry.id for entry in list_protocols()]
START = {3: "scene_checked", 6: "response_checked", 10: "call_made", 16: "not_breathing", 20: "compression"}
UNIT = {60: "unit_arrived", 64: "unit_on", 68: "chest_bared", 72: "pad_right", 76: "pad_left"}
FIRST = {80: "analysis_begins", 88: "shock_advised", 91: "clear_called", 94: "shock_pressed", 97: "compression"}
SECOND = {217: "analysis_begins", 225: "shock_advised", 228: "clear_called", 231: "shock_pressed", 234: "compression"}


def orders(events: dict[float, str], file: Protocol, end: float = 300, counting: str = "each") -> dict[str, Order]:
    story = Story(counting)
    for moment, name in events.items():
        story.at(moment, name)
    asked = [ident for track in file.track.values() for ident in track.step]
    floor = floor_of(story.happened(end), story.header)
    return {order.track: order for order in orders_of(file, floor, asked, 2_000)}


def begun(file: Protocol) -> dict[float, str]:
    """The first steps up to the first push, with first breaths where the file has them."""
    return START | ({18: "breath"} if "first_breaths" in file.track["rescuer"].step else {})


def told(order: Order, *statuses: str) -> list[tuple[str, str]]:
    return [(visit.status, visit.step or visit.name) for visit in order.visits if visit.status in statuses]


@pytest.mark.parametrize("ident", SHIPPED)
def test_a_drill_as_taught_costs_nothing(ident: str) -> None:
    file = load_protocol(ident)[0]
    found = orders({**begun(file), **UNIT, **FIRST, **SECOND}, file)
    assert {name: order.cost for name, order in found.items() if name in ("rescuer", "unit")} == {
        "rescuer": 0,
        "unit": 0,
    }
    assert len(found["rescuer"].of("say_clear")) == len(found["rescuer"].of("press_shock")) == 2


@pytest.mark.parametrize("ident", SHIPPED)
def test_every_visit_counts_and_costs_by_severity(ident: str) -> None:
    file = load_protocol(ident)[0]
    events = {**begun(file), **UNIT, **FIRST, **SECOND}
    del events[228]
    found = orders(events, file)["rescuer"]
    assert [visit.status for visit in found.of("say_clear")] == ["done", "omitted"]
    assert found.cost == 4
    assert [visit.status for visit in found.of("press_shock")] == ["done", "done"]


def test_a_shock_that_lapsed_or_a_person_who_woke_leaves_nothing_omitted() -> None:
    file = load_protocol("erc-2025/adult-one-rescuer")[0]
    events = {**START, **UNIT, 80: "analysis_begins", 88: "shock_advised", 90: "signs_of_life"}
    assert told(orders(events, file)["rescuer"], "omitted") == []
    events[90] = "no_shock_advised"
    assert told(orders(events, file)["rescuer"], "omitted") == []


def test_a_late_call_is_out_of_order_and_what_was_never_reached_is_not_omitted() -> None:
    file = load_protocol("erc-2025/adult-one-rescuer")[0]
    events = {**START, 30: "call_made", **UNIT}
    del events[10]
    found = orders(events, file)["rescuer"]
    assert told(found, "omitted", "out of order", "extra") == [("out of order", "call")]
    assert found.of("say_clear") == ()


def test_either_order_costs_nothing_where_the_file_says_so() -> None:
    swapped = {5: "response_checked", 8: "not_breathing", 12: "call_made", 18: "compression"}
    table: dict[str, Any] = protocol().model_dump(by_alias=True)["track"]
    for step, following in (("response", "call"), ("call", "breathing"), ("breathing", "push"), ("push", "clear")):
        done = table["rescuer"]["step"][step]["done"]
        table["rescuer"]["step"][step]["go"] = [{"on": done, "to": following}]
    strict = orders(swapped, protocol(track=table), 20)["rescuer"]
    # The lesser of the two is the one out of place: 2 for the major step left out, 2 for it seen elsewhere.
    assert told(strict, "out of order", "omitted") == [("out of order", "breathing")] and strict.cost == 4
    table["rescuer"]["either_order"] = [["call", "breathing"]]
    free = orders(swapped, protocol(track=table), 20)["rescuer"]
    assert free.cost == 0 and [visit.step for visit in free.visits] == ["response", "breathing", "call", "push"]


def test_by_marks_hands_on_is_how_pushing_is_seen() -> None:
    file = load_protocol("erc-2025/adult-one-rescuer")[0]
    events = {**START, 20: "hands_placed", **UNIT, 79: "hands_lifted", **FIRST, 97: "hands_placed"}
    assert orders(events, file, 110, "marks")["rescuer"].cost == 0


def test_a_critical_step_left_out_later_is_omitted_for_the_drill() -> None:
    file = load_protocol("erc-2025/adult-one-rescuer")[0]
    story = Story()
    events = {**START, **UNIT, **FIRST, **SECOND}
    del events[228]
    for moment, name in events.items():
        story.at(moment, name)
    header = {**story.header, "keys": default_keys()}
    (step,) = [one for one in measure(story.happened(300), file, header).steps if one.id == "say_clear"]
    assert (step.status, step.done_times, step.times) == ("omitted", 1, 2)


def test_a_step_for_other_casualties_need_not_be_done() -> None:
    file = load_protocol("erc-2025/adult-one-rescuer")[0]
    events = {**START, **UNIT, **FIRST}
    floor_story = Story()
    for moment, name in events.items():
        if name != "clear_called":
            floor_story.at(moment, name)
    floor = floor_of(floor_story.happened(110), floor_story.header)
    asked = [ident for track in file.track.values() for ident in track.step if ident != "say_clear"]
    (found,) = [one for one in orders_of(file, floor, asked, 2_000) if one.track == "rescuer"]
    assert found.cost == 0 and "shock_pressed" in TrackModel(file, "rescuer", asked, True).labels
