"""Beginning at a step: the machine stands there, no fault was made on the way, and nobody is credited with it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from coach.debrief.forms import FORMS
from coach.debrief.from_log import debrief_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.replay import replay
from coach.drill.script import read_script
from coach.engine.build import build
from coach.engine.leadin import lead_in
from coach.engine.plan import PlanProblem, resolve
from coach.engine.step import feed, start
from coach.log.history import fold
from coach.log.reading import read_log
from coach.protocol.library import list_protocols, list_scenarios, load_protocol, load_scenario

SHIPPED = [entry.id for entry in list_protocols()]
STEPS = [
    "scene",
    "breathing",
    "begin",
    "pushing",
    "unit_beside",
    "first_pad",
    "unit_ready",
    "stand_clear",
    "say_clear",
    "press_shock",
    "hands_back",
    "two_breaths",
    "crew_beside",
]


def _asked() -> list[tuple[str, str]]:
    """Each step of each file; where first breaths come before the first push, they stand where "begin" does."""
    asked = []
    for ident in SHIPPED:
        first = "first_breaths" in load_protocol(ident)[0].track["rescuer"].step
        asked += [(ident, "first_breaths" if step == "begin" and first else step) for step in STEPS]
    return asked


@pytest.mark.parametrize("counting", ["each", "marks"])
@pytest.mark.parametrize(("ident", "step"), _asked())
def test_the_machine_stands_at_the_step_and_no_fault_was_made(ident: str, step: str, counting: str) -> None:
    protocol = load_protocol(ident)[0]
    machine = build(protocol, resolve(protocol, counting=counting))
    track = next(name for name, one in protocol.track.items() if step in one.step)
    state = start(machine)[0]
    story = lead_in(machine, protocol, step, counting)
    assert ("compression" in story) is (counting == "each" and "hands_placed" not in story and len(story) >= 5)
    for name in story:
        state, effects, outcome = feed(machine, state, name, 0)
        assert outcome == "taken" and not [effect for effect in effects if effect.kind == "fault"]
    assert machine.step_name(state.steps, track) == step and state.e == 0


def test_a_wet_chest_is_dried_on_the_way_to_the_second_pad() -> None:
    wet = 0
    for entry in list_scenarios():
        scenario = load_scenario(entry.id)[0]
        for name in scenario.suits:
            protocol = load_protocol(name)[0]
            machine = build(protocol, resolve(protocol, scenario))
            story = lead_in(machine, protocol, "unit_ready")
            if scenario.facts.get("chest") == "wet":
                assert story.index("chest_dried") < story.index("pad_right")
                wet += 1
    assert wet


def test_the_first_step_needs_nothing_and_an_unknown_one_is_told() -> None:
    protocol = load_protocol(SHIPPED[0])[0]
    machine = build(protocol, resolve(protocol))
    assert lead_in(machine, protocol, "scene") == ()
    with pytest.raises(PlanProblem, match="there is no step 'nowhere'"):
        lead_in(machine, protocol, "nowhere")


AGAIN = """# protocol: erc-2025/adult-one-rescuer
# mode: test
# learner: 07
# attempt: 2
# starts_from: unit_beside
0.00 go
1.00 space
1.55 space
2.10 space
2.65 space
3.20 space
3.75 space
5.00 o
7.00 j
9.00 r
11.00 l
13.00 a
20.00 v
22.00 c
24.00 enter
26.00 space
26.50 space
30.00 z
30.40 z
"""


@pytest.fixture
def again(tmp_path: Path) -> Path:
    script = read_script(AGAIN, "again")
    return play(script, setup_of(script, setup_for), tmp_path)


def debrief(path: Path) -> dict[str, Any]:
    table: dict[str, Any] = json.loads(FORMS["json"](debrief_of(read_log(path))))
    return table


def test_what_went_before_is_in_the_log_and_replays_to_the_digest(again: Path) -> None:
    record = read_log(again)
    begun = [line for line in record.lines if line["kind"] == "begun"]
    assert [line["input"] for line in begun] == [
        "scene_checked",
        "response_checked",
        "call_made",
        "not_breathing",
        "compression",
        "unit_arrived",
    ]
    assert {(line["t"], line["e"], line["via"], line["outcome"]) for line in begun} == {(0, 0, "start", "taken")}
    assert record.head.starts_from == "unit_beside" and replay(record).same
    assert all(seen.via != "start" or seen.e == 0 for seen in fold(record).happened().seen)


def test_nobody_is_credited_with_what_went_before(again: Path) -> None:
    table = debrief(again)
    status = {step["id"]: step["status"] for step in table["steps"]}
    for step in ("scene", "response", "call", "breathing", "begin", "unit_away"):
        assert status[step] == "not applicable", step
    for step in ("unit_beside", "first_pad", "second_pad", "say_clear", "press_shock", "hands_back"):
        assert status[step] == "independent", step
    assert table["compressions"]["seen"] == 8
    assert table["milestones"]["called"] is None and table["milestones"]["first_compression"] == 1.0
    assert {order["track"]: order["cost"] for order in table["order"]}["rescuer"] == 0
    assert all(visit["at"] != 0 for order in table["order"] for visit in order["visits"])
    assert not [one for one in table["findings"] if one["severity"] == "critical"]
    assert table["verdict"]["result"] is None  # a part of a drill signs nobody off


def test_a_step_passed_at_the_start_is_judged_when_it_comes_again(tmp_path: Path) -> None:
    text = AGAIN.replace("unit_beside", "press_shock").split("0.00 go")[0] + "0.00 go\n"
    text += "2.00 enter\n4.00 space\n4.5 space\n60.00 a\n66.00 x\n70.00 enter\n73.00 space\n80.00 z\n80.40 z\n"
    script = read_script(text, "again")
    table = debrief(play(script, setup_of(script, setup_for), tmp_path))
    found = {step["id"]: step for step in table["steps"]}
    assert found["press_shock"]["status"] == "independent"
    assert [one["rule"] for one in table["findings"] if one["severity"] == "critical"] == [
        "shock-without-clear",
        "step-omitted",
    ]
    assert found["say_clear"]["status"] == "omitted"
