"""What is drawn: possible, in forty words, the same by seed; options that are never impossible and never also right."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from coach.rehearse.draws import MOST_WORDS, draw_story, facts_of, fits, impossible, usable
from coach.rehearse.moments import ONCE
from coach.rehearse.options import FEWEST, MOST, choices
from coach.rehearse.temptations import TEMPTATIONS
from coach.rehearse.world import Walk
from tests.rehearse.made import ERC, SHIPPED, matter

SEEDS = st.integers(min_value=0, max_value=2**40)
PROTOCOLS = st.sampled_from(SHIPPED)


@settings(max_examples=120, deadline=None)
@given(PROTOCOLS, SEEDS, st.data())
def test_every_draw_is_possible_and_short(protocol: str, seed: int, data: st.DataObject) -> None:
    found = matter(protocol)
    decisions = [item for item, one in found.items.items() if one.kind != "pads"]
    wanted = data.draw(st.lists(st.sampled_from(decisions), min_size=1, max_size=8, unique=True))
    number = data.draw(st.integers(0, 5))
    drawn, able = draw_story(found.listing, found.stories, wanted, seed, number)
    scenario = next((one for one in found.stories if one.id == drawn.scenario), None)
    assert impossible(found.protocol, scenario, drawn.facts) == []
    assert wanted[0] in able
    for words in drawn.words.values():
        assert 5 <= len(words.split()) <= MOST_WORDS
    assert (drawn, able) == draw_story(found.listing, found.stories, wanted, seed, number)
    # Who chose a file for children has asked for stories with children; nobody else is told a sensitive one.
    assert scenario is None or scenario.sensitive == any(young in protocol for young in ("child", "infant"))


def test_what_could_not_be_is_named() -> None:
    found = matter(ERC)
    fruit = next(one for one in found.stories if one.id.endswith("fruit-stall"))
    facts = facts_of(found.protocol, fruit)
    assert impossible(found.protocol, fruit, facts) == []
    assert impossible(found.protocol, fruit, {**facts, "chest": "wet"}) == ["chest is not this place's"]
    assert impossible(found.protocol, fruit, {**facts, "implant": True, "age": 30}) == ["implant at 30"]
    slip = next(one for one in found.stories if one.id.endswith("slipway"))
    dry = {**facts_of(found.protocol, slip), "chest": "dry"}
    assert "out of the water with a dry chest" in impossible(found.protocol, slip, dry)


def test_sensitive_stories_and_foreign_casualties_are_never_drawn() -> None:
    found = matter(ERC)
    fruit = next(one for one in found.stories if one.id.endswith("fruit-stall"))
    tender = fruit.model_copy(update={"sensitive": True})
    child = fruit.model_copy(update={"facts": {**fruit.facts, "age": 3}})
    assert usable(found.protocol, [tender, child, fruit]) == (fruit,)
    assert usable(found.protocol, [tender, child, fruit], sensitive=True) == (tender, fruit)


def test_a_plain_start_is_not_asked_of_somebody_who_drowned() -> None:
    found = matter(ERC)
    slip = facts_of(found.protocol, next(one for one in found.stories if one.id.endswith("slipway")))
    assert not fits(found.listing, f"{ERC}:step:rescuer.begin", slip)
    assert fits(found.listing, f"{ERC}:step:rescuer.begin@drowning", slip)


@settings(max_examples=150, deadline=None)
@given(PROTOCOLS, SEEDS, st.data())
def test_options_hold_one_right_answer_and_nothing_impossible(protocol: str, seed: int, data: st.DataObject) -> None:
    found = matter(protocol)
    decisions = [item for item, one in found.items.items() if one.kind not in ("pads", "handover")]
    wanted = data.draw(st.lists(st.sampled_from(decisions), min_size=1, max_size=4, unique=True))
    drawn, able = draw_story(found.listing, found.stories, wanted, seed, 0)
    walk = Walk(found.listing, drawn.plan, drawn.unit_at_ms, found.machine)
    moment = walk.to_next(set(able))
    assert moment is not None
    shown = choices(walk, moment, seed, moment.item)
    assert FEWEST <= len(shown) <= MOST and len(set(shown)) == len(shown)
    judged = {action: walk.judge(moment, action).worth for action in shown}
    assert [action for action, worth in judged.items() if worth == "right"] == [moment.right[0]]
    assert set(judged.values()) <= {"right", "wrong", "danger"}
    assert shown == choices(walk, moment, seed, moment.item)
    # By other means than the judgement: nothing that was done for good is offered, unless it is the answer.
    again = {action for action in shown if action in ONCE and action in walk.scene.done}
    assert again <= {moment.right[0]}
    if not walk.moments.unit_here(walk.state):
        assert not {"unit_on", "pad_right", "pad_left", "shock_pressed", "pads_off", "unit_off"} & set(shown)
    for action in shown:
        if action in TEMPTATIONS:
            assert TEMPTATIONS[action].needs <= moment.tags and not TEMPTATIONS[action].bars & moment.tags


def test_options_come_in_different_orders() -> None:
    found = matter(ERC)
    drawn, able = draw_story(found.listing, found.stories, [f"{ERC}:step:rescuer.begin"], 1, 0)
    walk = Walk(found.listing, drawn.plan, drawn.unit_at_ms, found.machine)
    moment = walk.to_next(set(able))
    assert moment is not None
    places = {choices(walk, moment, seed, "x").index(moment.right[0]) for seed in range(40)}
    assert len(places) >= 4
