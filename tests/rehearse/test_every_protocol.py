"""Every shipped protocol can be rehearsed: each decision on its list really comes, with one right answer to choose."""

from __future__ import annotations

import pytest

from coach.rehearse.asking import labelled
from coach.rehearse.draws import draw_story, situation
from coach.rehearse.moments import Moment
from coach.rehearse.options import FEWEST, choices
from coach.rehearse.quick import CASES, fire_of
from coach.rehearse.sitting import Sitting
from coach.rehearse.telling import situation_now
from coach.rehearse.verbs import PUSH
from coach.rehearse.world import Step, Walk
from tests.rehearse.made import DAY, ERC, SHIPPED, empty, matter, play


@pytest.mark.parametrize("protocol", SHIPPED)
def test_every_decision_on_the_list_can_be_asked(protocol: str) -> None:
    found = matter(protocol)
    for item, one in found.items.items():
        if one.kind == "pads":
            continue
        drawn, able = draw_story(found.listing, found.stories, [item], 5, 0)
        walk = Walk(found.listing, drawn.plan, drawn.unit_at_ms, found.machine)
        moment = walk.to_next({item})
        assert item in able and moment is not None, item
        if one.kind != "handover":
            shown = choices(walk, moment, 5, item)
            assert len(shown) >= FEWEST, item
            assert [action for action in shown if walk.judge(moment, action).worth == "right"] == [moment.right[0]]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("protocol", SHIPPED)
def test_a_sitting_on_every_protocol_asks_what_it_planned(protocol: str, language: str) -> None:
    sitting = Sitting(matter(protocol), empty(), day=DAY, seed=3, language=language)
    asked = play(sitting)
    assert len(asked) == len(sitting.given) == sitting.planned
    assert all(one.right for one in sitting.given if not one.item.endswith(":handover"))
    assert all(one.why and one.source for one in sitting.given)


def at_item(protocol: str, tail: str, seed: int = 5) -> tuple[Walk, Moment, str]:
    """A walk to a decision, and the situation before it in English."""
    found = matter(protocol)
    item = next(one for one in found.items if one.endswith(tail))
    drawn, _ = draw_story(found.listing, found.stories, [item], seed, 0)
    walk = Walk(found.listing, drawn.plan, drawn.unit_at_ms, found.machine)
    moment = walk.to_next({item})
    assert moment is not None
    return walk, moment, drawn.words["en"] + " " + situation_now(walk, walk.told, "en")


def test_a_bystander_touches_only_where_others_stand_around() -> None:
    for seed in range(20):
        _, _, said = at_item(ERC, "inject:bystander_touch", seed)
        assert "alone" not in said and "Others stand around." in said


def test_vomit_is_rolled_away_and_nobody_is_asked_to_tell_rolling_from_the_side_position() -> None:
    for seed in range(20):
        walk, moment, _ = at_item(ERC, "inject:vomit", seed)
        assert moment.right == ("rolled",) and "recovery" not in choices(walk, moment, seed, "x")
    sitting = Sitting(matter(), empty(), day=DAY, seed=1)
    sitting._walk, sitting._moment = walk, moment
    assert "recovery" not in sitting.understood("turn them on their side").actions


def test_no_breath_is_right_while_something_is_in_the_mouth() -> None:
    walk, moment, _ = at_item(ERC, "inject:object_seen")
    assert "breath" not in moment.also and walk.judge(moment, "breath").worth == "wrong"


def test_a_loose_pad_is_pressed_down_whichever_it_is_or_pushes_go_on() -> None:
    walk, moment, _ = at_item(ERC, "inject:pads_loose")
    assert moment.right == ("pad_right", "pad_left", "hands_placed")
    assert dict(labelled(moment.right, walk, "en"))["pad_right"] == "Press the loose pad down"


def test_why_is_the_cue_by_which_the_step_was_entered() -> None:
    walk, moment, said = at_item(ERC, "step:rescuer.press_shock")
    assert walk.why(moment.item)["en"] == "Ready. Nobody near, air safe? Give it now." and "Ready. Your hand" in said
    walk, moment, _ = at_item(ERC, "step:rescuer.hands_back@no_shock_advised")
    assert walk.why(moment.item)["en"].startswith("No shock is not recovery")


def test_a_unit_that_waits_is_told_also_where_it_said_so_before() -> None:
    walk, _, _ = at_item(ERC, "step:rescuer.press_shock")
    assert situation_now(walk, [Step("clear_called")], "en") == "Everyone stands back. The unit waits for its button."


def test_what_the_unit_said_meanwhile_is_told_before_the_deed() -> None:
    for seed in range(10):
        walk, _, _ = at_item(ERC, "step:unit.unit_ready", seed)
        events = [step.event for step in walk.told]
        last_pad = max(events.index("pad_right"), events.index("pad_left"))
        assert not any(
            "skin only" in walk.machine.voices[step.voice]["en"] for step in walk.told[last_pad:] if step.voice
        )


@pytest.mark.parametrize(
    ("age", "english", "spanish"),
    [
        ("6 months", "An infant of 6 months lies still.", "Un bebé de 6 meses está inmóvil."),
        (1, "A child of 1 drops", "Un niño o una niña de 1 año se desploma"),
        (6, "A child of 6 drops", "Un niño o una niña de 6 años se desploma"),
        (48, "A person of about 48 drops", "Una persona de unos 48 años se desploma"),
        (None, "A grown person drops", "Una persona adulta se desploma"),
    ],
)
def test_who_lies_there_is_told_by_age(age: object, english: str, spanish: str) -> None:
    protocol = matter().protocol
    assert english in situation(protocol, None, {"age": age}, "en")
    assert spanish in situation(protocol, None, {"age": age}, "es")
    drowned = situation(protocol, None, {"age": 30, "drowning": True}, "en")
    assert "lies still" in drowned and "drops" not in drowned


def test_a_second_look_is_offered_only_where_somebody_looked() -> None:
    for seed in range(30):
        for tail in ("step:unit.first_pad", "step:rescuer.pushing", "inject:pads_loose"):
            walk, moment, _ = at_item(ERC, tail, seed)
            assert "look_longer" not in choices(walk, moment, seed, "x")


def test_quick_fire_asks_for_nothing_that_is_known_or_there() -> None:
    pads = matter().pads
    assert pads is not None
    for case in CASES:
        for seed in range(40):
            fire = fire_of(pads, case, seed)
            assert fire is not None
            if fire.age is not None and fire.weight is not None:
                assert "wait-to-know" not in fire.choices
            if len(fire.kit) == 2:
                assert "other-pads" not in fire.choices


def test_more_rescuers_than_the_protocol_means_are_not_drawn() -> None:
    assert not any((one.facts.get("rescuers") or 1) > 1 for one in matter(ERC).stories)


@pytest.mark.parametrize("who", ["child", "infant"])
def test_breaths_come_before_pushes_for_a_child_under_erc_and_after_them_under_aha(who: str) -> None:
    """Five first breaths (ERC 2025, second-hand); compressions first (AHA 2025, second-hand)."""
    walk, moment, _ = at_item(f"erc-2025/{who}-one-rescuer", "step:rescuer.first_breaths")
    assert moment.right == ("breath",) and walk.judge(moment, PUSH).worth == "wrong"
    assert dict(labelled(("breath",), walk, "en"))["breath"] == "Give the first breaths"
    place = len(walk.seen)
    walk.perform("breath")
    assert [one.event for one in walk.seen[place:]] == ["breath"] * 5
    due = walk.due()
    assert due is not None and due.right == (PUSH,)
    aha = matter(f"aha-2025/{who}-one-rescuer")
    assert not any(item.endswith("first_breaths") for item in aha.items)
    walk, moment, _ = at_item(f"aha-2025/{who}-one-rescuer", "step:rescuer.begin")
    assert moment.right == (PUSH,)


def test_a_run_is_as_long_as_the_file_has_it() -> None:
    """15:2 for a child under ERC and with two under AHA, 30:2 else (second-hand)."""
    runs = {"erc-2025/child-one-rescuer": "Fifteen", "aha-2025/child-one-rescuer": "Thirty",
            "aha-2025/child-two-rescuers": "Fifteen", ERC: "Thirty"}  # fmt: skip
    for protocol, word in runs.items():
        _, _, said = at_item(protocol, "step:rescuer.pushing")
        assert said.endswith(f"{word} pushes are done."), protocol


def test_pads_of_the_small_go_front_and_back() -> None:
    for protocol, front in (("erc-2025/infant-one-rescuer", True), ("aha-2025/child-one-rescuer", True), (ERC, False)):
        found = matter(protocol)
        sitting = Sitting(found, empty(), day=DAY, seed=3)
        sitting.begin(0)
        sitting._world = [item for item in found.items if item.endswith("step:unit.first_pad")]
        sitting._new_story()
        assert sitting._walk is not None
        shown = dict(labelled(("pad_right", "pad_left"), sitting._walk, "en"))
        assert shown["pad_right"] == ("Stick the front pad" if front else "Stick the right pad")
        assert shown["pad_left"] == ("Stick the back pad" if front else "Stick the left pad")


def test_nobody_is_asked_for_breaths_where_none_are_given() -> None:
    found = matter("erc-2025/adult-compressions-one-rescuer")
    assert not any(item.endswith(("rescuer.pushing", "rescuer.two_breaths")) for item in found.items)


def test_a_breath_that_does_not_go_in_is_told_after_a_try() -> None:
    _, moment, said = at_item(ERC, "inject:breath_blocked")
    assert moment.right == (PUSH,) and "You gave two breaths. The breath does not go in." in said
    assert "went in." not in said


def test_after_useless_pads_the_story_sticks_none() -> None:
    walk, moment, _ = at_item(ERC, "inject:no_pads")
    walk.perform(moment.right[0])
    assert walk.to_next(set(matter().items)) is None
    assert not any(step.event.startswith("pad_") for step in walk.told)


def test_a_deed_of_the_file_alone_is_offered_only_where_it_is_asked_for() -> None:
    own = set(matter().protocol.observations)
    for item in ("step:rescuer.begin", "step:rescuer.pushing", "step:unit.unit_beside", "step:crew.crew_beside"):
        for seed in range(10):
            walk, moment, _ = at_item(ERC, item, seed)
            assert not own & set(choices(walk, moment, seed, "x"))
