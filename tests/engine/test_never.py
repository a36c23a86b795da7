"""Injects that a casualty's facts rule out: told, and truly never thrown."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from coach.check.others import check_other
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.engine.never import never_thrown
from coach.engine.plan import resolve
from coach.log.reading import read_log
from coach.protocol.library import find_scenario, load_protocol, load_scenario
from coach.protocol.reading import read_text

WITH, WITHOUT = "erc-2025/adult-one-rescuer", "erc-2025/adult-compressions-one-rescuer"


def test_a_breath_that_does_not_go_in_is_ruled_out_where_none_is_given() -> None:
    for name, never in ((WITH, {}), (WITHOUT, {3: "breath_blocked"})):
        protocol = load_protocol(name)[0]
        plan = resolve(protocol, load_scenario("brackhaven/pump-house", None, protocol)[0])
        assert never_thrown(protocol, plan) == never


@pytest.mark.parametrize(
    ("guard", "ruled_out"),
    [
        ("breaths", True),
        ("not breaths", False),
        ("age < 18 years", True),
        ("age >= 18 years", False),
        ("weight < 25 kg", True),  # unknown: a comparison with it is false
        ("not weight < 25 kg", False),
        ("unknown(weight)", False),
        ("not unknown(weight)", True),
        ("chest == wet", True),
        ("chest != wet", False),
        ("chest in (dry, wet)", False),
        ("breaths and alive", True),
        ("breaths or alive", False),
        ("not (breaths or alive)", False),
        ("not (not breaths or alive)", True),
        ("shocks > 2", False),
        ("this_rhythm == shockable", False),
    ],
)
def test_only_facts_rule_out_and_only_where_nothing_else_can_help(guard: str, ruled_out: bool) -> None:
    protocol = load_protocol(WITHOUT)[0]
    vomit = protocol.inject["vomit"].model_copy(update={"when": guard})
    changed = protocol.model_copy(update={"inject": {**protocol.inject, "vomit": vomit}})
    plan = resolve(changed)
    plan = replace(plan, facts={**plan.facts, "weight": None, "chest": "dry"}, digits={1: "vomit"})
    assert never_thrown(changed, plan) == ({1: "vomit"} if ruled_out else {})


def test_its_digit_is_not_expected(tmp_path: Path) -> None:
    script = read_script(f"# protocol: {WITHOUT}\n# scenario: brackhaven/pump-house\n0 go\n70 3\n80 z\n80.4 z\n", "t")
    log = read_log(play(script, setup_of(script, setup_for), tmp_path))
    assert [line["outcome"] for line in log.lines if line.get("key") == "3"] == ["not expected"]


def test_a_scenario_is_checked_with_each_protocol_that_it_suits() -> None:
    path = find_scenario("brackhaven/pump-house").path
    text = read_text(path)
    found = check_other(text, path.name, "scenario").findings
    assert {one.code for one in found} == {"throw-ruled-out"} and not any(one.counts for one in found)
    assert {text.split("\n")[one.where.line - 1] for one in found} == {'name = "breath_blocked"'}
    (wrong,) = check_other(text.replace(f'"{WITH}"', '"erc-2025/adult-one-rescuers"'), "t", "scenario").findings[:1]
    assert wrong.code == "unknown-name" and WITH in wrong.help
    lost = check_other(text.replace('"vomit"', '"vommit"').replace('"gasp"', '"gaspp"'), "t", "scenario").findings
    assert any("gaspp" in one.what and one.counts for one in lost)
