"""The shipped protocols: every rule holds for every combination of facts, and planted faults are each found."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.check.proof.checked import check_rules
from coach.check.proof.prove import Prover, Scope
from coach.check.proof.rules import read_rules
from coach.check.proof.verdicts import RuleVerdict
from coach.check.states.classes import Explorer, Limit
from coach.check.states.inputs import EACH
from coach.check.whole import check_file
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.drill.setup import Setup
from coach.log.history import fold
from coach.log.reading import read_log
from coach.protocol.library import list_protocols, load_pads
from coach.protocol.reading import read_protocol, read_scenario

IDENTS = [entry.id for entry in list_protocols() if entry.where == "shipped"]
TEXTS = {entry.id: entry.in_force().text for entry in list_protocols() if entry.where == "shipped"}
ONE = "erc-2025/adult-one-rescuer"


def checked(text: str, *rules: str) -> list[RuleVerdict]:
    """The verdicts on a protocol's rules, or on those named."""
    protocol = read_protocol(text)
    read = [rule for rule in read_rules(protocol, text) if not rules or rule.id in rules]
    pads, _ = load_pads(protocol.pads)
    return list(check_rules(protocol, read, pads=pads).rules)


@pytest.mark.parametrize("ident", IDENTS)
def test_every_rule_of_a_shipped_file_holds(ident: str) -> None:
    found = checked(TEXTS[ident])
    assert len(found) >= 12
    assert {one.rule.id: one.kind for one in found if one.kind != "holds"} == {}
    prompted = [one for one in found if one.without is not None]
    assert prompted
    assert all(one.without is not None and one.without.kind == "broken" for one in prompted)


@pytest.mark.parametrize("ident", [ONE, "erc-2025/child-one-rescuer"])
def test_with_each_inject_alone_rules_hold_and_every_arrow_comes_about(ident: str) -> None:
    found = check_file(TEXTS[ident], ident, injects=1)
    assert [str(one) for one in found.findings] == []
    assert {one.rule.id: one.kind for one in found.rules if one.kind != "holds"} == {}
    assert found.whole_graph


def test_a_first_look_takes_in_every_state_that_an_exact_one_has() -> None:
    protocol = read_protocol(TEXTS[ONE])
    asked = [rule for rule in read_rules(protocol, TEXTS[ONE]) if rule.id in ("one-shock", "verdict-comes")]
    for rule in asked:
        shapes = []
        for counting, loose, free in ((EACH, "", False), (("",), "all", True)):
            prover = Prover(protocol, counting, Scope(), Limit(), None, loose, free)
            ready = next(iter(prover.ready([rule])))
            assert ready.discrete.part.fickle is free
            nodes = Explorer(ready.discrete).run().nodes
            shapes.append({(one.spot.steps, one.spot.marks, tuple(t[1] for t in one.spot.timers)) for one in nodes})
        assert len(shapes[0]) > 30
        assert shapes[0] <= shapes[1]


PLANTED = [
    ("a verdict forgets to ask for a new clear", 'unmark = ["clear_said", "touched"]', "", "clear-before-shock"),
    (
        "a shock without a clear call is no fault",
        'id = "shock-clear"\non = ["shock_pressed", "shock_delivered"]\nwhen = "clear_said"',
        'id = "shock-clear"\non = ["shock_pressed", "shock_delivered"]\nwhen = "clear_said or not touched"',
        "clear-before-shock",
    ),
    (
        "a touch leaves the clear call standing",
        'when = "clear_said"\nunmark = "clear_said"\n',
        'when = "clear_said"\n',
        "touch-noticed",
    ),
    (
        "after no shock the rescuer waits",
        'to = "hands_back"\ncue = { en = "No shock is not',
        'to = "stand_clear"\ncue = { en = "No shock is not',
        "hands-next",
    ),
    (
        "hands back leads to breaths",
        'on = ["compression", "hands_placed", "probe_tap"]\nto = "pushing"',
        'on = ["compression", "hands_placed", "probe_tap"]\nto = "two_breaths"',
        "pushes-next",
    ),
    (
        "the unit stays armed after a shock",
        'when = "clear_said"\nto = "resting"\nadd = { shocks = 1 }',
        'when = "clear_said"\nadd = { shocks = 1 }',
        "one-shock",
    ),
    (
        "a shock to the awake is no fault",
        'on = "shock_pressed"\nwhen = "alive"',
        'on = "no_shock_advised"\nwhen = "alive and not alive"',
        "no-shock-awake",
    ),
    (
        "the reminder to start comes late",
        'remind_start = { after = "10 s"',
        'remind_start = { after = "16 s"',
        "start-by-prompts",
    ),
    (
        "the reminder of hands off is never started",
        'restart = "remind_hands"\nsource = "common"\n',
        'source = "common"\n',
        "hands-off-by-prompts",
    ),
    ("the reminder to go back is not started", 'restart = "remind_back"\n', "", "back-by-prompts"),
    (
        "no handover any more",
        'go = [{ on = "handover", to = "handing_over" }]',
        'go = [{ on = "handover" }]',
        "handover-possible",
    ),
]


def planted(old: str, new: str) -> str:
    """The protocol with one mistake in it."""
    text = TEXTS[ONE]
    assert old in text, old
    return text.replace(old, new)


@pytest.mark.parametrize(("what", "old", "new", "rule"), PLANTED, ids=[one[0] for one in PLANTED])
def test_a_planted_fault_is_found_and_its_story_plays(what: str, old: str, new: str, rule: str, tmp_path: Path) -> None:
    text = planted(old, new)
    found = checked(text, rule)[0]
    assert found.kind == "broken", what
    assert found.story is not None
    protocol = read_protocol(text)
    scenario_text = found.story.scenario
    scenario = read_scenario(scenario_text, protocol=protocol)
    keys = Setup(protocol, text, scenario, scenario_text).keys

    def find(name: str, _: str) -> Setup:
        assert name == ONE
        return Setup(protocol, text, scenario, scenario_text, keys=keys)

    script = read_script(found.story.script)
    log = play(script, setup_of(script, find), tmp_path)
    history = fold(read_log(log), protocol)
    played = [(one.e, one.event) for one in sorted(history.inputs.values(), key=lambda one: one.seq)]
    assert played == list(found.story.events)
