"""SARIF 2.1.0: what the standard asks of a log, and that nothing of a finding is lost."""

from __future__ import annotations

import json
from pathlib import Path

from coach.check.explain import CODES
from coach.check.findings import Finding, Where
from coach.check.sarif import sarif
from tests.check.test_lint import TEXT, changed, linted

ONE = Finding("guard-gap", "error", Where("my files/a b.toml", 3, 7), "a gap", "close it", ("weight 25 kg",), "track.x")


def test_the_form_of_the_standard() -> None:
    log = sarif([ONE])
    assert log["version"] == "2.1.0"
    assert log["$schema"].endswith("sarif-schema-2.1.0.json")
    (run,) = log["runs"]
    assert run["tool"]["driver"]["name"] == "kneeside check"
    assert run["columnKind"] == "unicodeCodePoints"
    (rule,) = run["tool"]["driver"]["rules"]
    assert rule["id"] == "guard-gap"
    assert rule["fullDescription"]["text"] == CODES["guard-gap"].help
    (result,) = run["results"]
    assert (result["ruleId"], result["ruleIndex"], result["level"]) == ("guard-gap", 0, "error")
    assert result["message"]["text"] == "a gap.\nclose it.\nweight 25 kg"
    (place,) = result["locations"]
    assert place["physicalLocation"] == {
        "artifactLocation": {"uri": "my%20files/a%20b.toml"},
        "region": {"startLine": 3, "startColumn": 7},
    }
    assert place["logicalLocations"] == [{"fullyQualifiedName": "track.x"}]


def test_an_absolute_path_is_a_file_uri(tmp_path: Path) -> None:
    finding = Finding("guard-gap", "error", Where(str(tmp_path / "a b.toml"), 1, 1), "a gap")
    uri = sarif([finding])["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri == (tmp_path / "a b.toml").as_uri()


def test_nothing_found_is_a_run_without_results() -> None:
    run = sarif([])["runs"][0]
    assert run["results"] == []
    assert run["tool"]["driver"]["rules"] == []


def test_a_waived_finding_is_suppressed_with_its_reason() -> None:
    text = changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,")
    waive = '[[waive]]\ncode = "unattainable-target"\nreason = "an aim"\n\n[[finding]]'
    (result,) = sarif(linted(changed("[[finding]]", waive, text)).findings)["runs"][0]["results"]
    assert result["suppressions"] == [{"kind": "inSource", "status": "accepted", "justification": "an aim"}]


def test_each_result_names_its_rule_by_index() -> None:
    text = changed('when = "bystander and not sent"', 'when = "weight < 55 kg and not sent"')
    text = changed("hands_on_share = { from = 60,", "hands_on_share = { from = 80,", text)
    run = sarif(linted(text).findings)["runs"][0]
    rules = run["tool"]["driver"]["rules"]
    assert len(run["results"]) >= 3
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    assert json.loads(json.dumps(run)) == run


def test_text_of_a_file_cannot_act_on_a_terminal() -> None:
    text = TEXT.replace('en = "Push again now, two more', 'en = "It saves lives\\u001b[2J, more', 1)
    assert "\\u001b" not in json.dumps(sarif(linted(text).findings))
