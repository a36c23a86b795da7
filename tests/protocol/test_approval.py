"""How an approval stands on a day, what a signature covers, and what may be signed."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from coach.drill.setup import Setup
from coach.drill.setup import approval_state as of_setup
from coach.protocol.approval import approval_digest, approval_state, first_day, last_day
from coach.protocol.library import load_protocol
from coach.protocol.model import Approval
from coach.protocol.overlay import effective, effective_text
from coach.protocol.reading import digest, read_protocol
from coach.protocol.signing import NotApproved, approve, move_on, with_approval
from coach.protocol.wordings import translation_problems, wordings
from coach.resources import data_dir

TODAY = date(2026, 3, 1)

FILE = """# A made-up file: this comment stays.
format = 1
id = "made-up/base"
version = "1"
guidance = "Made up"
title = { en = "Base", es = "Base" }

[approval]     # who signs
author = "desk"
status = "draft"   # nobody yet

[sources.desk]
title = "Made up"
grade = "local"

[timers]
remind = { after = "10 s", source = "desk" }

[track.rescuer]
start = "push"
[track.rescuer.step.push]
cue = { en = "Push within 10 s.", es = "Comprime en 10 s." }
start = "remind"
go = [{ on = "timer:remind" }]

[[rule]]
id = "kept"
always_possible = { on = "compression" }
say = { en = "Possible.", es = "Posible." }
"""

WISHES: dict[str, Any] = {
    "role": "medical director",
    "reason": "First issue.",
    "effective_from": "2026-03-15",
    "review_due": "2027-03",
    "today": TODAY,
}


def signed(text: str = FILE, **changes: Any) -> str:
    return approve(text, "file.toml", None, **{**WISHES, **changes})


def state(text: str, day: str, folder: Path | None = None) -> tuple[str, bool, str]:
    whole = effective(text, "file.toml", folder)
    return approval_state(whole.protocol, whole.text, date.fromisoformat(day))


# --- how it stands ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "day", "word", "sound"),
    [
        ("", "", "2026-03-15", "in force", True),
        ("", "", "2027-03-31", "in force", True),
        ("", "", "2027-04-01", "review date passed", False),
        ("", "", "2026-03-14", "not in force yet", False),
        ("", "", "2026-02-28", "approved later than today", False),
        ('status = "approved"', 'status = "in-force"', "2026-03-15", "in force", True),
        ('status = "approved"', 'status = "draft"', "2026-03-15", "draft", False),
        ('status = "approved"', 'status = "checked"', "2026-03-15", "checked", False),
        ('status = "approved"', 'status = "superseded"', "2026-03-15", "superseded", False),
        ('status = "approved"', 'status = "withdrawn"', "2026-03-15", "withdrawn", False),
        ('approver = "medical director"', 'approver = ""', "2026-03-15", "not signed", False),
        ("approved_on = 2026-03-01", 'approved_on = ""', "2026-03-15", "not signed", False),
        (re.compile('digest = "[0-9a-f]+"'), 'digest = ""', "2026-03-15", "not signed", False),
        # whatever is changed afterwards, the signature no longer fits
        ('after = "10 s"', 'after = "11 s"', "2026-03-15", "changed since approved", False),
        ("Push within 10 s.", "Push within 11 s.", "2026-03-15", "changed since approved", False),
        ('grade = "local"', 'grade = "read"', "2026-03-15", "changed since approved", False),
        ("review_due = \"2027-03\"", 'review_due = "2099-03"', "2026-03-15", "changed since approved", False),
        ("effective = 2026-03-15", "effective = 2026-03-02", "2026-03-15", "changed since approved", False),
        ("medical director", "another director", "2026-03-15", "changed since approved", False),
        ('author = "desk"', 'author = "other"', "2026-03-15", "changed since approved", False),
        # and what says the same is no change
        ("# A made-up file: this comment stays.", "# Another comment.", "2026-03-15", "in force", True),
        ('{ after = "10 s", source = "desk" }', '{ source = "desk", after = "10 s" }', "2026-03-15", "in force", True),
    ],
)  # fmt: skip
def test_how_an_approval_stands(old: str | re.Pattern[str], new: str, day: str, word: str, sound: bool) -> None:
    text = re.sub(old if isinstance(old, re.Pattern) else re.escape(old), new, signed(), count=1) if old else signed()
    assert state(text, day)[:2] == (word, sound)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"approver": "desk"}, "approver is author"),
        ({"approver": " DESK "}, "approver is author"),
        ({"effective": "2026-02-28"}, "effective before approval"),
    ],
)
def test_a_signature_that_fits_can_still_be_wrong(changes: dict[str, str], word: str) -> None:
    table = {"author": "desk", "approver": "director", "approved_on": "2026-03-01", "status": "in-force", **changes}
    approval = Approval.model_validate(table)
    text = with_approval(FILE, "t", {**table, "digest": approval_digest(FILE, approval)})
    assert state(text, "2026-06-01")[:2] == (word, False)


def test_a_month_runs_from_its_first_day_to_its_last() -> None:
    assert (first_day("2024-02"), last_day("2024-02")) == (date(2024, 2, 1), date(2024, 2, 29))
    assert last_day("2026-12") == date(2026, 12, 31)
    assert last_day("2026-12-05") == date(2026, 12, 5)


def test_the_state_of_a_drill_is_that_of_the_text_in_its_log() -> None:
    text = signed()
    assert of_setup(Setup(read_protocol(text), text), date(2026, 4, 1)).word == "in force"
    changed = text.replace("Possible.", "Perhaps.")
    assert of_setup(Setup(read_protocol(changed), changed), date(2026, 4, 1)).sound is False


# --- signing ----------------------------------------------------------------------------------------------------------


def test_signing_changes_the_approval_and_not_a_character_more() -> None:
    text = signed()
    before, after = FILE.split("\n"), text.split("\n")
    assert [line for line in after if line not in before] == [
        'status = "approved"   # nobody yet',
        'approver = "medical director"',
        "approved_on = 2026-03-01",
        "effective = 2026-03-15",
        'review_due = "2027-03"',
        'reason = "First issue."',
        f'digest = "{read_protocol(text).approval.digest}"',
        "[[approval.history]]",
        'status = "approved"',
        'by = "medical director"',
        "on = 2026-03-01",
        "effective = 2026-03-15",
        'review_due = "2027-03"',
        'reason = "First issue."',
        f'digest = "{read_protocol(text).approval.digest}"',
        f'content = "{digest(FILE).canonical}"',
    ]
    assert [line for line in before if line not in after] == ['status = "draft"   # nobody yet']
    assert digest(text).canonical == digest(FILE).canonical
    assert signed(text) == text


@pytest.mark.parametrize("old", ["\n", "\r\n"])
def test_line_ends_and_a_missing_table_are_no_trouble(old: str) -> None:
    head, _, rest = FILE.partition("[approval]")
    text = (head + "[approval]\nauthor = 'desk'\n" + rest[rest.index("[sources") :]).replace("\n", old)
    assert state(signed(text), "2026-03-15")[0] == "in force"
    assert ("\r" in signed(text)) is (old == "\r\n") and signed(text).count("\n") == signed(text).count(old)
    bare = (head + rest[rest.index("[sources") :]).replace("\n", old)
    assert tomllib.loads(with_approval(bare, "t", {"status": "checked"}))["approval"] == {"status": "checked"}


def test_hostile_values_stay_values() -> None:
    nasty = 'x"\n[approval]\nstatus = "in-force"\x1b[2J'
    text = signed(role=nasty, reason="'''\\" + nasty)
    approval = read_protocol(text).approval
    assert approval.status == "approved" and "\x1b" not in text
    assert approval.approver == nasty.replace("\x1b", "")


@pytest.mark.parametrize(
    ("text", "changes", "said"),
    [
        (FILE, {"role": " "}, "nobody signs"),
        (FILE, {"role": "Desk"}, "the author, desk, cannot be the approver too"),
        (FILE.replace('author = "desk"', ""), {}, "does not say who wrote it"),
        (FILE, {"reason": ""}, "no reason is given"),
        (FILE, {"effective_from": "2026-02-28"}, "before it is approved"),
        (FILE, {"effective_from": "soon"}, "effective is a day, written 2026-01-31"),
        (FILE, {"effective_from": "2026-W20-1"}, "effective is a day, written 2026-01-31"),
        (FILE, {"review_due": "2026-03-15"}, "before it is ever in force"),
        (FILE, {"review_due": "2026-13"}, "review due is a day, written"),
        (FILE.replace(', es = "Comprime en 10 s."', ""), {}, "track.rescuer.step.push.cue is missing in es"),
        (FILE.replace("Comprime en 10 s.", "Comprime en 12 s."), {}, "other languages (en: 10; es: 12)"),
        (FILE.replace('status = "draft"', 'status = "withdrawn"'), {}, "approve a new version of it instead"),
        (FILE.replace("[approval] ", "[approval.x]\n[approval] "), {}, "unknown key"),
    ],
)  # fmt: skip
def test_what_may_not_be_signed(text: str, changes: dict[str, str], said: str) -> None:
    with pytest.raises(ValueError, match=re.escape(said)):
        signed(text, **changes)


@pytest.mark.parametrize("form", ['approval = { author = "desk" }', 'approval.author = "desk"'])
def test_an_approval_without_a_heading_is_refused_in_words(form: str) -> None:
    head, _, rest = FILE.partition("[approval]")
    text = head + form + "\n" + rest[rest.index("[sources") - 1 :]
    with pytest.raises(NotApproved, match="write it as a table headed"):
        signed(text)


def test_the_other_states() -> None:
    text = signed()
    with pytest.raises(NotApproved, match="not in force before 2026-03-15"):
        move_on(text, "t", None, status="in-force", reason="", today=TODAY)
    in_force = move_on(text, "t", None, status="in-force", reason="", today=date(2026, 3, 20))
    assert state(in_force, "2026-03-20")[:2] == ("in force", True)
    with pytest.raises(NotApproved, match="no reason"):
        move_on(in_force, "t", None, status="withdrawn", reason="", today=TODAY, role="lead")
    gone = move_on(in_force, "t", None, status="withdrawn", reason="A wrong limit.", today=TODAY, role="lead")
    assert state(gone, "2026-03-20") == ("withdrawn", False, "withdrawn: A wrong limit.")


# --- local files ------------------------------------------------------------------------------------------------------


def local(folder: Path, body: str = "") -> str:
    (folder / "made-up").mkdir(exist_ok=True)
    (folder / "made-up" / "base.toml").write_text(FILE, encoding="utf-8")
    return f"""format = 1
id = "quay/local"
version = "1"
[approval]
author = "quay desk"
[extends]
id = "made-up/base"
version = "1"
digest = "{digest(FILE).canonical}"
{body}"""


def test_a_local_file_is_signed_as_the_whole_that_it_brings_into_force(tmp_path: Path) -> None:
    text = approve(local(tmp_path), "t", tmp_path, **WISHES)
    assert state(text, "2026-03-15", tmp_path)[0] == "in force"
    flat = effective_text(text, "t", tmp_path)
    assert approval_state(read_protocol(flat), flat, date(2026, 3, 15)).sound
    more = text.replace("[extends]", '[change.timers.remind]\nafter = "11 s"\n[extends]')
    assert state(more, "2026-03-15", tmp_path)[0] == "changed since approved"


def test_a_relaxed_rule_is_said_beside_every_state(tmp_path: Path) -> None:
    text = local(tmp_path, '[relax.rule.kept]\nreason = "Stairs."\n')
    assert state(text, "2026-03-15", tmp_path)[0] == "draft, 1 rule relaxed"
    word, sound, why = state(approve(text, "t", tmp_path, **WISHES), "2026-03-15", tmp_path)
    assert (word, sound) == ("in force, 1 rule relaxed", True) and why.endswith("1 rule relaxed: kept")


def test_a_tightened_rule_is_not_called_relaxed(tmp_path: Path) -> None:
    rule = FILE.replace('always_possible = { on = "compression" }', 'while = { guard = "wet" }\nat_most = "31 s"')
    rule = rule.replace("[timers]", '[facts.wet]\nkind = "flag"\ndefault = false\nsource = "desk"\n[timers]')
    text = local(tmp_path, '[relax.rule.kept]\nreason = "We can."\nto = { at_most = "30 s" }\n')
    (tmp_path / "made-up" / "base.toml").write_text(rule, encoding="utf-8")
    text = text.replace(digest(FILE).canonical, digest(rule).canonical)
    assert state(text, "2026-03-15", tmp_path)[0] == "draft, 1 rule tightened"


# --- wordings ---------------------------------------------------------------------------------------------------------


def test_every_text_of_a_shipped_file_is_found_in_both_languages() -> None:
    path = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"
    protocol = read_protocol(path)
    found = list(wordings(protocol))
    assert len(found) == len({worded.where for worded in found})
    texts = {text for worded in found for text in worded.texts.values()}
    written = re.findall(r'\bes = "((?:[^"\\]|\\.)*)"', path.read_text(encoding="utf-8"))
    assert {tomllib.loads(f'x = "{text}"')["x"] for text in written} <= texts
    assert translation_problems(protocol) == []


# --- the sheet --------------------------------------------------------------------------------------------------------


def test_the_sheet_has_every_number_text_rule_and_source() -> None:
    from coach.check.approval.sheet import as_html, as_markdown, sheet

    path = data_dir("protocols") / "erc-2025" / "adult-one-rescuer.toml"
    text = path.read_text(encoding="utf-8")
    protocol = read_protocol(path)
    page = sheet(protocol, text, {}, TODAY)
    assert {number.what.partition(" ")[2].partition(":")[0] for number in page.numbers} >= {
        *protocol.timers,
        *protocol.targets,
        *(name for track in protocol.track.values() for name, step in track.step.items() if step.within),
        *(name for name, inject in protocol.inject.items() if inject.within),
    }
    assert all(number.sources for number in page.numbers)
    assert len(page.texts) == len(list(wordings(protocol))) and page.languages == ("en", "es")
    assert [rule[0] for rule in page.rules] == [rule["id"] for rule in protocol.rule]
    assert {rule[2] for rule in page.rules} == {"not checked"}
    for form in (as_markdown(page), as_html(page)):
        assert digest(text).canonical in form and "draft: nobody has approved it" in form
        assert all(name in form for name in ("Author", "Approver (role)", "Date and signature"))
    assert "NO SOURCE" not in as_markdown(page)
    pads = (data_dir("protocols") / "erc-2025" / "pads.toml").read_text(encoding="utf-8")
    told = dict(sheet(protocol, text, {}, TODAY, pads).ident)["pads rules"]
    assert told.startswith("erc-2025/pads, a file of its own") and digest(pads).canonical in told
    assert "not at hand" in dict(page.ident)["pads rules"]


BOOKKEEPING = {"format", "version", "digit", "max", "set", "add", "length", "digest", "id", "source", "say", "es", "en"}
"""Members that hold no number of the trade; texts are on the sheet as texts."""


def trade_numbers(value: object, key: str = "") -> list[str]:
    """Every number of a file's tables as it is written, whatever member holds it; written apart from the sheet."""
    if isinstance(value, dict):
        kept = {name: part for name, part in value.items() if name not in BOOKKEEPING}
        return [found for name, part in kept.items() for found in trade_numbers(part, str(name))]
    if isinstance(value, list):
        return [found for part in value for found in trade_numbers(part, key)]
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return [f"{value:g}"]
    return measured(r"(?:(?<=[<>=] )|^)", value) if isinstance(value, str) else []


def measured(before: str, text: str) -> list[str]:
    """The numbers of a text; minutes in seconds, since a minute may be written as 60 s."""
    found = re.findall(before + r"(\d[\d.]*)( min\b)?", text)
    return [f"{float(number) * (60 if minutes else 1):g}" for number, minutes in found]


@pytest.mark.parametrize(
    "name", ["erc-2025/adult-one-rescuer", "aha-2025/child-two-rescuers", "anzcor-2021/adult-two-rescuers"]
)
def test_the_sheet_has_each_number_that_the_whole_file_has(name: str) -> None:
    from coach.check.approval.sheet import sheet

    protocol, text = load_protocol(name)
    whole = tomllib.loads(text)
    for apart in ("sources", "approval", "made_from"):
        whole.pop(apart, None)
    wanted = Counter(trade_numbers(whole))
    page = sheet(protocol, text, {}, TODAY)
    listed = Counter(found for number in page.numbers for found in measured("", number.value))
    assert sum(wanted.values()) > 80 and wanted - listed == Counter()
    assert [number.what for number in page.numbers if not number.sources] == []


def test_the_sheet_hides_nothing_and_nothing_in_it_acts(tmp_path: Path) -> None:
    from coach.check.approval.sheet import as_html, as_markdown, sheet

    nasty = "<script>alert(1)</script>{{ 7*7 }} | x\\u001b[2J"
    text = local(tmp_path, f'[relax.rule.kept]\nreason = "{nasty}"\n[change]\ntimers.remind.after = "12 s"\n')
    text += f'title.en = "{nasty}"\n[[remove]]\ntimer = "remind"\nmember = "source"\nreason = "x"\n'
    whole = effective(text, "t", tmp_path)
    page = sheet(whole.protocol, whole.text, {}, TODAY)
    html, markdown = as_html(page), as_markdown(page)
    assert "<script" not in html and "{{ 7*7 }}" in html and "\x1b" not in html + markdown
    assert "RELAXED RULES" in html and "RELAXED RULES" in markdown and "NO SOURCE" in markdown
    assert "\\<script" in markdown and markdown.count("\\| x") == markdown.count("7\\*7")


def test_the_sheet_says_first_what_is_relaxed_waived_and_changed(tmp_path: Path) -> None:
    from coach.check.approval.sheet import as_html, as_markdown, sheet
    from coach.check.proof.rules import read_rules
    from coach.check.proof.verdicts import RuleVerdict, Verdict

    base = FILE.replace("[timers]", '[facts.wet]\nkind = "flag"\ndefault = false\nsource = "desk"\n[timers]').replace(
        'always_possible = { on = "compression" }',
        'source = "desk"\nwhile = { guard = "wet" }\nat_most = "31 s"\n'
        'assume = { follow_prompt_within = "10 s", prompts = "timer:remind" }',
    )
    body = '[relax.rule.kept]\nreason = "Stairs."\nto = { at_most = "45 s" }\n[change.timers.remind]\nafter = "12 s"\n'
    body += '[[waive]]\ncode = "cue-too-long"\nwhere = "track.rescuer"\nreason = "Read aloud."\n'
    text = local(tmp_path, body).replace(digest(FILE).canonical, digest(base).canonical)
    (tmp_path / "made-up" / "base.toml").write_text(base, encoding="utf-8")
    whole = effective(text, "t", tmp_path)
    (rule,) = read_rules(whole.protocol)
    verdict = RuleVerdict(rule, Verdict("holds", 1), Verdict("holds", 1), Verdict("broken", 1))
    page = sheet(whole.protocol, whole.text, {"kept": verdict}, TODAY, base=read_protocol(base))
    assert page.relaxed == (("kept", "at most 45 s, was 31 s", "Stairs.", page.rules[0][1]),)
    assert page.waived == (("cue-too-long", "track.rescuer", "Read aloud."),)
    assert page.changed == (("Timing and numbers", "timer remind", "after 12 s instead of 10 s"),)
    assert page.rules[0][2] == "holds as taught, holds as noticed; without what it assumes: broken"
    assert "It assumes: follow_prompt_within = 10 s" in page.rules[0][1]
    for form in (as_html(page), as_markdown(page)):
        first = form.index("Rules and what the checker says")
        assert form.index("RELAXED RULES") < form.index("WAIVED FINDINGS") < form.index("differs from the base") < first
        assert "As taught: on every run" in form and "As noticed: on every run" in form
    tight = effective(text.replace("45 s", "30 s"), "t", tmp_path)
    page = sheet(tight.protocol, tight.text, {}, TODAY)
    assert page.relaxed == () and page.tightened[0][1] == "at most 30 s, was 31 s"
    assert "RELAXED" not in as_html(page) and page.changed is None
