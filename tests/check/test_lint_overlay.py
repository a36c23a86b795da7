"""Local files under the lint: what they do themselves is told at their lines, what their base holds is told once."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.check.lint.file import Linted, failing, lint
from coach.check.proof.checked import check_rules
from coach.check.whole import report_rules
from coach.protocol.library import find_protocol
from coach.protocol.overlay import effective
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


@pytest.mark.parametrize(
    ("differences", "line", "words"),
    [
        ('[change.track.rescuer.step.begin]\nseverity = "major"\n', "severity", "severity major instead of critical"),
        ('[change.finding.start-late]\nseverity = "minor"\n', "severity", "severity minor instead of major"),
        ('[change.finding.no-breath.absent]\nover = "3 min"\n', "over", "over 3 min instead of 60 s"),
        ("[add.track.unit.step.first_pad]\nrequired = false\n", "required", "required = false"),
        ('[add.track.unit.step.first_pad]\nseverity = "minor"\n', "severity", "severity minor instead of major"),
        ("[change.targets.hands_off]\nto = 15\n", "to = 15", "to 15 s instead of 10 s"),
        ('[change.targets.hands_off]\nto = "11 s"\n', "to =", "to 11 s instead of 10 s"),
        ("[change.targets.compression_rate]\nfrom = 90\n", "from =", "from 90 /min instead of 100 /min"),
        ('[change.track.crew.step.crew_beside]\nwithin = "1 min"\n', "within", "within 1 min instead of 15 s"),
        ("[change.finding.run-length-off]\noutside = { by = 5 }\n", "outside", "by 5 instead of 2"),
        (
            '[change.arrow.touched-reading]\nfault = { severity = "minor" }\n',
            "fault",
            "`arrow.touched-reading.fault` is judged less strictly than in the base: severity minor instead of major",
        ),
    ],
)
def test_what_judges_less_strictly_than_the_base_is_told_with_old_and_new(
    differences: str, line: str, words: str
) -> None:
    found, text = laid(differences)
    mine = [one for one in failing(found.findings) if one.code == "overlay-relaxed"]
    assert [one.where.line for one in mine] == [line_of(text, line)]
    assert words in mine[0].what


@pytest.mark.parametrize(
    "differences",
    [
        '[change.finding.start-late]\nseverity = "critical"\n',
        "[change.targets.hands_off]\nto = 8\n",
        '[change.targets.hands_off]\nto = "9000 ms"\n',
        "[change.targets.compression_rate]\nfrom = 105\n",
    ],
)
def test_what_judges_more_strictly_is_no_finding(differences: str) -> None:
    assert [code for code, _ in told(differences) if code.startswith("overlay")] == []


def test_a_relaxation_inside_a_part_is_told_where_the_part_is_named(tmp_path: Path) -> None:
    part = 'format = 1\nid = "parts/easy"\nversion = "1"\n[change.targets.hands_off]\nto = 20\n'
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "easy.toml").write_text(part, encoding="utf-8")
    pin = f'[[with]]\nid = "parts/easy"\nversion = "1"\ndigest = "{digest(part).canonical}"\n'
    found = lint(HEAD + pin, "local.toml", tmp_path, TODAY)
    mine = [one for one in found.findings if one.code == "overlay-relaxed"]
    assert [one.where.line for one in mine] == [line_of(HEAD + pin, "[[with]]")]
    assert mine[0].what.endswith("to 20 s instead of 10 s (in parts/easy)")


def test_a_relaxation_with_a_reason_is_waived_and_what_stands_over_it_need_not_say_so_again() -> None:
    child = BASE.with_name("child-one-rescuer.toml").read_text(encoding="utf-8")
    (one,) = lint(child, "child.toml", BASE.parent.parent, TODAY).findings
    assert one.code == "overlay-relaxed" and one.waived
    pair = BASE.with_name("child-two-rescuers.toml").read_text(encoding="utf-8")
    assert lint(pair, "pair.toml", BASE.parent.parent, TODAY).findings == ()


def test_a_waiver_of_a_base_does_not_cover_what_stands_over_it() -> None:
    """It was written for what the base does to its own base, and for that number."""
    child = BASE.with_name("child-one-rescuer.toml").read_text(encoding="utf-8")
    head = HEAD.replace("adult-one", "child-one").replace(digest(TEXT).canonical, whole_digest(child))
    text = head + '[change.targets.start_after_recognition]\nto = "25 min"\n'
    found = lint(text, "local.toml", BASE.parent.parent, TODAY).findings
    here = [(one.code, one.waived) for one in found if one.where.line == line_of(text, 'to = "25 min"')]
    assert sorted(here) == [("overlay-relaxed", ""), ("unit-plausible", "")]
    own = text + '[[waive]]\ncode = "overlay-relaxed"\nreason = "decided by the quay desk"\n'
    relaxed = [one for one in lint(own, "local.toml", BASE.parent.parent, TODAY).findings if "relaxed" in one.code]
    assert [one.waived for one in relaxed] == ["decided by the quay desk"]


def whole_digest(text: str) -> str:
    return effective(text, "child.toml", BASE.parent.parent).digest


def test_a_rule_is_not_removed_and_what_to_write_is_told() -> None:
    found, text = laid('[[remove]]\nrule = "pushes-next"\nreason = "a trial"\n')
    (one,) = found.findings
    assert (one.code, one.where.line) == ("bad-file", line_of(text, 'rule = "pushes'))
    assert "[relax.rule.pushes-next]" in one.help


def broken(differences: str, rule: str) -> tuple[int, str]:
    """The line at which a rule of the base is broken by a local file, and its text."""
    found, text = laid(differences)
    assert found.protocol is not None and found.rules is not None and found.sheet is not None
    alone = [one for one in found.rules if one.id == rule]
    report_rules(found.sheet, list(check_rules(found.protocol, alone).rules))
    (one,) = [one for one in found.sheet.findings if one.code == "rule-broken"]
    assert one.subject == rule
    assert "rule broken here" in one.witness[-1]
    return one.where.line, text


@pytest.mark.parametrize(
    ("differences", "rule", "line"),
    [
        ('[change.arrow."bare_chest.chest_bared"]\nto = "unit_ready"\n', "pads-before-ready", "to ="),
        ('[change.timers.shock_window]\nafter = "60 s"\n', "verdict-comes", "after ="),
        (
            '[[insert]]\nbefore = "kit-fails-while-clear"\n[insert.arrow]\nid = "away"\non = "call_made"\n'
            'when = "hands_return"\nto = "check_again"\nsource = "common"\n',
            "pushes-next",
            "[insert.arrow]",
        ),
        ('[change.terms]\nunit_reads = "in_step(unit, analysing)"\n', "no-nagging", "unit_reads ="),
        (
            '[[remove]]\narrow = { track = "reminders", on = "hands_on" }\nreason = "quiet"\n',
            "no-nagging",
            "[extends]",
        ),
    ],
)
def test_a_rule_of_the_base_breaks_at_the_own_line_that_the_story_passes(
    differences: str, rule: str, line: str
) -> None:
    at, text = broken(differences, rule)
    assert at == line_of(text, line)


@pytest.mark.parametrize("ident", ["erc-2025/child-one-rescuer", "aha-2025/infant-two-rescuers"])
def test_a_flattened_file_draws_what_the_file_itself_draws(ident: str) -> None:
    whole = find_protocol(ident).in_force()
    assert [str(one) for one in lint(whole.text, "flat.toml", today=TODAY).findings if one.counts] == []
