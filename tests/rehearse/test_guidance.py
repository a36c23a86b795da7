"""The answers of shipped items against what the bodies publish; the source stands beside each check.

All are second-hand unless another grade is named: the primary texts of 2025 were not opened.
"""

from __future__ import annotations

import pytest

from coach.rehearse.draws import draw_story
from coach.rehearse.items import LIMIT_MS
from coach.rehearse.moments import Moment
from coach.rehearse.options import wrong_ones
from coach.rehearse.verbs import PUSH
from coach.rehearse.world import Walk
from tests.rehearse.made import AHA, ERC, SHIPPED, matter


def at(protocol: str, tail: str) -> tuple[Walk, Moment]:
    """A walk that stands at an item, and the decision."""
    found = matter(protocol)
    item = f"{protocol}:{tail}"
    drawn, able = draw_story(found.listing, found.stories, [item], 7, 0)
    assert able == (item,)
    walk = Walk(found.listing, drawn.plan, drawn.unit_at_ms, found.machine)
    moment = walk.to_next({item})
    assert moment is not None, f"{item} is never asked"
    return walk, moment


def worth(protocol: str, tail: str, action: str) -> str:
    """What an action is worth as the answer to an item."""
    walk, moment = at(protocol, tail)
    return walk.judge(moment, action).worth


@pytest.mark.parametrize("protocol", SHIPPED)
def test_every_item_of_a_shipped_protocol_is_asked_and_has_a_right_answer(protocol: str) -> None:
    for item, one in matter(protocol).items.items():
        if one.kind == "pads":
            continue
        walk, moment = at(protocol, item.removeprefix(f"{protocol}:"))
        if one.kind != "handover":
            assert walk.judge(moment, moment.right[0]).worth == "right", item


def test_after_erc_the_call_comes_before_the_look_at_the_breathing() -> None:
    """ERC-BLS25 and RCUK-BLS25: call for anyone who does not respond, breathing while it connects."""
    walk, moment = at(ERC, "step:rescuer.call")
    assert moment.right == ("call_made",)
    judged = walk.judge(moment, "not_breathing")
    assert (judged.worth, judged.jump) == ("wrong", True)


def test_after_aha_either_order_is_right_and_neither_is_offered_as_wrong() -> None:
    """AHA-BLS25: call and look at the breathing in either order."""
    walk, moment = at(AHA, "step:rescuer.call")
    assert walk.judge(moment, "call_made").worth == "right"
    assert walk.judge(moment, "not_breathing").worth == "also"
    assert "not_breathing" not in [action for group in wrong_ones(walk, moment) for action in group]


@pytest.mark.parametrize("protocol", [ERC, AHA])
def test_an_adult_gets_pushes_before_breaths(protocol: str) -> None:
    """ILCOR-BLS25: adults, compressions first, no breaths before them."""
    assert worth(protocol, "step:rescuer.begin", PUSH) == "right"
    assert worth(protocol, "step:rescuer.begin", "breath") == "wrong"


@pytest.mark.parametrize("fact", ["drowning", "choking"])
@pytest.mark.parametrize("protocol", [ERC, AHA])
def test_after_drowning_or_choking_a_breath_first_is_no_wrong_answer(protocol: str, fact: str) -> None:
    """ILCOR-BLS25: lay drowning = pushes first, breaths first for those with a duty; after choking by look."""
    walk, moment = at(protocol, f"step:rescuer.begin@{fact}")
    assert moment.right[0] == PUSH
    assert "breath" not in [action for group in wrong_ones(walk, moment) for action in group]


@pytest.mark.parametrize("tail", ["step:rescuer.hands_back", "step:rescuer.hands_back@no_shock_advised"])
@pytest.mark.parametrize("protocol", SHIPPED)
def test_after_a_shock_and_after_no_shock_hands_go_back_at_once(protocol: str, tail: str) -> None:
    """AHA-BLS25, ERC-BLS25: compressions at once after a shock or after no shock, no check, two minutes."""
    assert worth(protocol, tail, PUSH) == "right"
    for check in ("not_breathing", "response_checked", "feel_pulse", "wait_watch", "let_unit_decide"):
        assert worth(protocol, tail, check) == "wrong", check
    assert worth(protocol, tail, "recovery") == "danger"


@pytest.mark.parametrize("protocol", [ERC, AHA])
def test_thirty_pushes_then_two_breaths_then_pushes(protocol: str) -> None:
    """ILCOR-BLS25: 30:2; compressions alone are never a fault, so pushing on is no wrong answer."""
    walk, moment = at(protocol, "step:rescuer.pushing")
    assert moment.right == ("breath",)
    assert walk.judge(moment, PUSH).worth == "also"
    assert worth(protocol, "step:rescuer.two_breaths", PUSH) == "right"
    assert worth(protocol, "step:rescuer.two_breaths", "breath") == "wrong"


@pytest.mark.parametrize("protocol", SHIPPED)
def test_a_shock_needs_a_clear_call_and_a_new_one_after_a_touch(protocol: str) -> None:
    """ERC-BLS25, AHA-BLS25: nobody touches during analysis and shock."""
    assert worth(protocol, "step:rescuer.say_clear", "clear_called") == "right"
    assert worth(protocol, "step:rescuer.say_clear", "shock_pressed") == "danger"
    assert worth(protocol, "step:rescuer.press_shock", "shock_pressed") == "right"
    assert worth(protocol, "inject:bystander_touch", "shock_pressed") == "danger"
    assert worth(protocol, "inject:bystander_touch", "clear_called") == "right"
    assert worth(protocol, "step:rescuer.stand_clear", PUSH) == "wrong"


@pytest.mark.parametrize("protocol", SHIPPED)
def test_gasping_is_not_breathing(protocol: str) -> None:
    """ERC-BLS25, AHA-BLS25: slow, laboured or gasping counts as arrest."""
    assert worth(protocol, "inject:gasp", "not_breathing") == "right"
    walk, moment = at(protocol, "inject:gasp")
    judged = walk.judge(moment, "recovery")
    assert judged.worth == "danger" and judged.fault is not None
    assert judged.fault.id == "gasp-taken-for-breathing"


@pytest.mark.parametrize("protocol", SHIPPED)
def test_signs_of_life_stop_the_hands_and_nothing_comes_off(protocol: str) -> None:
    """ERC-BLS25: awake and breathing normally: stop, stay; pads and unit stay on."""
    assert worth(protocol, "step:rescuer.awake", "hands_lifted") == "right"
    assert worth(protocol, "step:rescuer.awake", "recovery") == "also"
    for slip in (PUSH, "pads_off", "unit_off", "walk_away"):
        assert worth(protocol, "step:rescuer.awake", slip) == "wrong", slip
    assert worth(protocol, "inject:life_fades", "not_breathing") == "right"


@pytest.mark.parametrize("protocol", [one for one in SHIPPED if "infant" not in one])
def test_a_wet_chest_is_wiped_and_nobody_is_dragged(protocol: str) -> None:
    """RCUK FAQ (read): dry the chest; wet or metal ground is safe if nobody touches."""
    walk, moment = at(protocol, "fact:chest")
    assert moment.right == ("chest_dried",)
    assert walk.judge(moment, "pad_right").worth == "wrong"
    assert "wet_or_metal" in moment.tags


@pytest.mark.parametrize("protocol", [one for one in SHIPPED if "adult" in one])
def test_a_medicine_patch_comes_off_before_a_pad(protocol: str) -> None:
    """Textbooks and handbooks (read): remove, wipe, then pad."""
    assert worth(protocol, "fact:patch", "patch_removed") == "right"
    assert worth(protocol, "fact:patch", "pad_right") == "wrong"


def test_limits_are_the_files_own() -> None:
    """Each step's ``within`` where it has one; else ten seconds, the limit on any stop (from memory)."""
    items = matter(ERC).items
    assert items[f"{ERC}:inject:bystander_touch"].limit_ms == 15_000
    assert items[f"{ERC}:step:crew.crew_beside"].limit_ms == 15_000
    assert items[f"{ERC}:fact:hair"].limit_ms == LIMIT_MS
    assert items[f"{ERC}:step:rescuer.say_clear"].critical
    assert not items[f"{ERC}:step:rescuer.scene"].critical
