"""The demo drills: played by the code of a live drill, from key script to findings."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.drill.setup import Setup
from coach.log.history import happened
from coach.log.reading import Record, read_log, verify
from coach.measure.report import Judgement, Measures, conclude, measure
from coach.protocol.library import load_protocol, load_scenario
from coach.resources import data_dir

SCRIPTS = sorted(data_dir("demo").glob("*.txt"))


def set_up(protocol_name: str, scenario_name: str) -> Setup:
    protocol, text = load_protocol(protocol_name)
    scenario, story = load_scenario(scenario_name, protocol=protocol)
    return Setup(protocol, text, scenario, story)


def played(path: Path, folder: Path) -> tuple[Record, Measures, Judgement]:
    script = read_script(path.read_text(encoding="utf-8"), path.name)
    setup = setup_of(script, set_up)
    log = play(script, setup, folder)
    assert verify(log).ok
    record = read_log(log)
    told = happened(record)
    found = measure(told, setup.protocol, record.header)
    return record, found, conclude(found, told, setup.protocol, record.header)


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.stem)
def test_every_key_of_a_demo_means_something(path: Path, tmp_path: Path) -> None:
    record, _, _ = played(path, tmp_path)
    spurned = [
        (line["e"], line["key"], line["outcome"])
        for line in record.lines
        if line.get("outcome", "taken") != "taken" and line.get("key") != "z"
    ]
    assert spurned == []
    assert record.lines[-2]["reason"] == "ended"


def test_the_first_drill_is_good_but_for_the_pads(tmp_path: Path) -> None:
    record, found, verdict = played(data_dir("demo") / "first-drill.txt", tmp_path)
    assert len(found.runs) == 5
    assert [shock.clear_before for shock in found.shocks] == [2800]
    longest = max(found.gaps, key=lambda gap: gap.length)
    assert (longest.cause, longest.length) == ("analysis", 42_700)
    assert longest.rescuer == 35_000
    assert verdict.one_thing.finding == "hands-off-long"
    assert {finding.rule for finding in verdict.findings} == {
        "hands-off-long",  # the pads
        "too-many-breaths",  # a third one in the second stop
        "pre-shock-long",
        "share-low",
    }
    assert not [finding for finding in verdict.findings if finding.severity == "critical"]
    assert [step.id for step in found.steps if step.status in ("omitted", "out of order")] == []
    assert 150 <= record.lines[-2]["e"] / 1000 <= 170


def test_two_rescuers_do_well_and_may_call_after_looking(tmp_path: Path) -> None:
    _, found, verdict = played(data_dir("demo") / "two-rescuers.txt", tmp_path)
    assert verdict.findings == ()
    status = {step.id: step.status for step in found.steps}
    assert (status["call"], status["breathing"]) == ("independent", "independent")
    assert len(found.windows) == 2  # she wakes, it fades
    assert len(found.shocks) == 1
    assert verdict.handover.missing == ()


def test_the_same_drill_judged_by_the_other_body_has_the_call_out_of_order(tmp_path: Path) -> None:
    text = (data_dir("demo") / "two-rescuers.txt").read_text(encoding="utf-8")
    other = tmp_path / "erc.txt"
    other.write_text(text.replace("aha-2025/", "erc-2025/"), encoding="utf-8")
    _, found, verdict = played(other, tmp_path)
    assert [(finding.rule, finding.severity) for finding in verdict.findings] == [("step-out-of-order", "minor")]
    assert {step.id for step in found.steps if step.status == "out of order"} <= {"call", "breathing"}
