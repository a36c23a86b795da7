"""Local files under the lint: what they do themselves is told at their lines, what their base holds is told once."""

from __future__ import annotations

from pathlib import Path

from coach.check.lint.file import Linted, failing, lint
from coach.protocol.reading import digest
from tests.check.test_lint import BASE, TEXT, TODAY, line_of

HEAD = f"""format = 1
id = "quay-side/adult"
version = "1"

[extends]
id = "erc-2025/adult-one-rescuer"
version = "2026.1"
digest = "{digest(TEXT).canonical}"

"""


def laid(differences: str) -> tuple[Linted, str]:
    text = HEAD + differences
    return lint(text, "local.toml", BASE.parent.parent, TODAY), text


def told(differences: str) -> list[tuple[str, int]]:
    found, _ = laid(differences)
    assert found.protocol is not None, [str(one) for one in found.findings]
    return [(one.code, one.where.line) for one in found.findings]


def test_a_sound_local_file_draws_no_finding() -> None:
    assert told('[change.timers.remind_call]\nafter = "10 s"\n') == []


def test_a_change_is_judged_at_its_line_in_the_local_file() -> None:
    differences = "[change.targets.hands_on_share]\nfrom = 85\n"
    assert told(differences) == [("unattainable-target", line_of(HEAD + differences, "from = 85"))]


def test_what_a_removal_does_to_the_base_is_placed_where_the_base_is_named() -> None:
    differences = (
        '[[remove]]\narrow = { track = "rescuer", step = "hands_back", on = "timer:remind_back" }\n'
        'reason = "quiet on the quay"\n'
    )
    found, text = laid(differences)
    (one,) = found.findings
    assert (one.code, one.where.line) == ("timer-unhandled", line_of(text, "[extends]"))
    assert one.what.endswith("(in erc-2025/adult-one-rescuer, timers.remind_back)")


def test_a_change_that_changes_nothing() -> None:
    differences = '[change.timers.remind_call]\nafter = "15 s"\n'
    assert told(differences) == [("overlay-noop", line_of(HEAD + differences, "after ="))]


def test_a_wording_changed_in_one_language_only() -> None:
    differences = '[change.track.rescuer.step.scene.cue]\nen = "Look first: swell, lines, wet steps?"\n'
    ((code, line),) = told(differences)
    assert code == "translation-missing"
    assert line == line_of(HEAD + differences, "[change.track")


def test_a_relaxed_rule_is_told_and_fails_nothing() -> None:
    differences = '[relax.rule.pushes-next]\nreason = "a trial on the quay"\n'
    found, _ = laid(differences)
    assert [(one.code, one.level) for one in found.findings] == [("rule-relaxed", "note")]
    assert not failing(found.findings)
    assert "pushes-next" in found.findings[0].what


def test_a_local_file_may_waive(tmp_path: Path) -> None:
    differences = (
        "[change.targets.hands_on_share]\nfrom = 85\n\n"
        '[[waive]]\ncode = "unattainable-target"\nwhere = "targets.hands_on_share"\nreason = "an aim for the crew"\n'
    )
    found, _ = laid(differences)
    assert [one.waived for one in found.findings] == ["an aim for the crew"]
