"""Friday's slips: what an author mistypes in a sound file is named at its line, with a story or a witness."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach.check.explain import CODES
from coach.check.findings import Finding
from coach.check.lint.file import Linted, failing, lint
from coach.check.proof.checked import check_rules
from coach.check.whole import report_rules
from coach.protocol.library import load_pads
from coach.protocol.reading import digest
from tests.check.friday import BASE, CHILD, CHILD_PART, Slip
from tests.check.test_lint import TODAY, changed, line_of

FOLDER = Path(__file__).parents[2] / "protocols"
FILES = {"adult": "erc-2025/adult-one-rescuer.toml", "child": "erc-2025/child-one-rescuer.toml"}
TEXTS = {name: (FOLDER / path).read_text(encoding="utf-8") for name, path in FILES.items()}
PART = (FOLDER / "parts/child.toml").read_text(encoding="utf-8")


def told(found: Linted, named: str) -> list[Finding]:
    """The findings of that code, or those on the rule of that id, which alone is proved."""
    assert found.protocol is not None and found.rules is not None, [str(one) for one in found.findings]
    assert found.sheet is not None
    if named in CODES and named != "rule-slack":
        return [one for one in failing(found.findings) if one.code == named]
    measured = named == "rule-slack"
    rules = [rule for rule in found.rules if (measured and rule.assume is not None) or rule.id == named]
    pads, _ = load_pads(found.protocol.pads)
    report_rules(found.sheet, list(check_rules(found.protocol, rules, pads=pads).rules))
    return [one for one in failing(found.sheet.findings) if one.code == named or one.subject == named]


def holds(slip: Slip, found: Linted, line: int) -> None:
    """The slip is named at that line, with a witness where it is a rule's."""
    mine = told(found, slip.named)
    assert {one.where.line for one in mine} == {line}, [str(one) for one in mine]
    assert slip.tells in "\n".join([mine[0].what, mine[0].help, *mine[0].witness])
    for one in mine:
        if one.code == "rule-broken":  # a story ends where it breaks, a witness says for whom it never happens
            assert any(words in "\n".join(one.witness) for words in ("rule broken here", "never happens", "age "))


def line_named(slip: Slip, text: str) -> int:
    """Where it is to be named: the line told, else where the rule stands."""
    if slip.line:
        return line_of(text, slip.line)
    here = f'[[rule]]\nid = "{slip.named}"'
    added = f"[add.rule.{slip.named}]"
    return line_of(text, here if here in text else added if added in text else "[extends]")


@pytest.mark.parametrize("slip", BASE.values(), ids=BASE.keys())
def test_a_slip_in_a_base_is_named(slip: Slip) -> None:
    text = changed(slip.old, slip.new, TEXTS["adult"])
    holds(slip, lint(text, "friday.toml", today=TODAY), line_named(slip, text))


@pytest.mark.parametrize("slip", CHILD.values(), ids=CHILD.keys())
def test_a_slip_in_a_local_file_is_named(slip: Slip) -> None:
    text = changed(slip.old, slip.new, TEXTS["child"])
    holds(slip, lint(text, "friday.toml", FOLDER, TODAY), line_named(slip, text))


@pytest.mark.parametrize("slip", CHILD_PART.values(), ids=CHILD_PART.keys())
def test_a_slip_in_a_part_is_named_in_the_file_that_takes_it(slip: Slip, tmp_path: Path) -> None:
    part = changed('id = "parts/child"', 'id = "parts/friday"', changed(slip.old, slip.new, PART))
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "friday.toml").write_text(part, encoding="utf-8")
    pinned = f'id = "parts/friday"\nversion = "2026.1"\ndigest = "{digest(part).canonical}"'
    taken = f'id = "parts/child"\nversion = "2026.1"\ndigest = "{digest(PART).canonical}"'
    text = changed(taken, pinned, TEXTS["child"])
    holds(slip, lint(text, "friday.toml", tmp_path, TODAY), line_of(text, slip.line or "[[with]]"))


def test_the_sound_files_draw_no_finding_of_any_kind_looked_for_here() -> None:
    named = {slip.named for slips in (BASE, CHILD, CHILD_PART) for slip in slips.values()}
    assert len(named) > 24
    for name, text in TEXTS.items():
        found = lint(text, FILES[name], FOLDER, TODAY)
        assert [one for one in found.findings if not one.waived] == []
        assert found.rules is not None
        ruled = {rule.id for rule in found.rules}
        assert {code for code in named if code not in CODES} <= ruled | {"first-breaths-by-prompts"}
