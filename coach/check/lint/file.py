"""The lint of one protocol file: everything in it that can be seen to be wrong without a rule to prove."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path as FilePath

from coach.check.explain import CODES
from coach.check.findings import Finding, Where
from coach.check.lint.counters import lint_counters
from coach.check.lint.floor import lint_floor
from coach.check.lint.guards import lint_guards
from coach.check.lint.keys import lint_keys
from coach.check.lint.numbers import lint_numbers
from coach.check.lint.order import lint_order
from coach.check.lint.said import lint_said
from coach.check.lint.sheet import Sheet
from coach.check.lint.sources import lint_approval, lint_sources
from coach.check.lint.structure import lint_structure
from coach.check.lint.timing import lint_timing
from coach.check.lint.truth import Truth
from coach.check.lint.wording import lint_wording
from coach.check.proof.rules import Rule, read_rules
from coach.protocol.model import Protocol
from coach.protocol.overlay import Trial, effective
from coach.protocol.positions import Path, locate
from coach.protocol.problems import FileProblems, Problem
from coach.protocol.reading import parsed
from coach.protocol.tree import origin


@dataclass(frozen=True, slots=True)
class Linted:
    """A file after its lint. ``protocol`` is None where it does not read, ``rules`` where they are no sentences.

    ``findings`` has everything in order of place, what is waived too; ``text`` is the whole protocol in force.
    ``sheet`` serves whoever adds findings afterwards.
    """

    protocol: Protocol | None
    rules: tuple[Rule, ...] | None
    text: str
    findings: tuple[Finding, ...]
    sheet: Sheet | None


def lint(
    text: str, name: str, folder: FilePath | None = None, today: date | None = None, trial: Trial | None = None
) -> Linted:
    """Lint a protocol file's text; ``name`` is what findings call the file, ``folder`` where bases are looked for too.

    Problems of reading are findings as well. With ``trial`` only what stands in that part is told, as it would be taken
    by this file. Raises FileProblems only for what is no TOML at all.
    """
    parsed(text, name)
    try:
        whole = effective(text, name, folder, trial)
    except FileProblems as problems:
        return Linted(None, None, text, tuple(map(of_reading, problems.problems)), None)
    own, file, part = (text, name, "") if trial is None else (trial.text, trial.name, trial.id)
    sheet = Sheet(whole.protocol, whole.text, file, whole.root, locate(own), today or date.today(), part)
    sheet.bases = frozenset(one.id for one in whole.under if one.kind == "base")
    lint_all(sheet)
    sheet.findings += map(_of_notice, (*whole.notices, *whole.relaxed))
    rules = _rules(sheet)
    return Linted(whole.protocol, rules, whole.text, settled(sheet), sheet)


def lint_all(sheet: Sheet) -> None:
    """Every lint that needs no search."""
    exprs = [expr for _, expr in sheet.all_guards()]
    truth = Truth(sheet.protocol, sheet.terms, exprs)
    lint_structure(sheet, truth)
    lint_floor(sheet)
    lint_order(sheet)
    lint_guards(sheet, truth)
    lint_counters(sheet, truth)
    lint_timing(sheet, truth)
    lint_wording(sheet)
    lint_said(sheet)
    lint_sources(sheet)
    lint_numbers(sheet)
    lint_keys(sheet)
    lint_approval(sheet)


def _rules(sheet: Sheet) -> tuple[Rule, ...] | None:
    """The rules as sentences, or None with a finding for each thing that is wrong with them."""
    try:
        return read_rules(sheet.protocol, sheet.text, sheet.file)
    except FileProblems as problems:
        for one in problems.problems:
            what, where = one.what, Where(one.file, one.line, one.column)
            if sheet.protocol.made_from:  # the places are those of the flattened text
                what = f"{what} (line {one.line} of the flattened file)"
                where, _ = sheet.where(("extends",))
            help_ = f"did you mean `{one.nearest}`?" if one.nearest else one.todo
            sheet.findings.append(Finding("bad-rule", CODES["bad-rule"].level, where, what, help_))
        return None


# --- what reading says ------------------------------------------------------------------------------------------------


def code_of(what: str) -> str:
    """The code of a problem that reading reports."""
    if what.startswith(("unknown ", "no arrow ", "the base has no ")):
        return "unknown-name"
    if "is written by the tracks" in what:
        return "write-conflict"
    if what.startswith("an event that leads to itself"):
        return "zero-time-loop"
    return "bad-file"


def of_reading(problem: Problem) -> Finding:
    """A problem of reading as a finding."""
    code = code_of(problem.what)
    help_ = f"did you mean `{problem.nearest}`?" if problem.nearest else problem.todo
    return Finding(code, CODES[code].level, Where(problem.file, problem.line, problem.column), problem.what, help_)


_TURNED = re.compile(r"the rule `[^`]*` is (relaxed|tightened): ")


def _of_notice(problem: Problem) -> Finding:
    what = problem.what
    code = "overlay-noop" if "changes nothing" in what else "translation-missing"
    help_ = problem.todo
    if turned := _TURNED.match(what):
        code = "rule-tightened" if turned[1] == "tightened" else "rule-relaxed"
    elif "judged less strictly" in what:
        code, help_ = "overlay-relaxed", "keep what the base has, or waive this and say why"
    where = Where(problem.file, problem.line, problem.column)
    return Finding(code, CODES[code].level, where, what, help_, about=_quoted(what), subject=_quoted(what))


def _quoted(what: str) -> str:
    return what.split("`")[1] if what.count("`") >= 2 else ""


# --- waivers ----------------------------------------------------------------------------------------------------------

NEVER = "never-come-by"
"""What coverage finds, and no check of a file."""

UNWAIVABLE = frozenset({"rule-broken", "vacuous-rule", "bad-rule"})
"""What stands whoever accepts it: a rule that is not proved to hold is no rule, and what it holds off may happen."""


OWN_DEEDS = frozenset({"overlay-relaxed"})
"""What a local file does to its base: a waiver of the base was written for what the base did to its own."""


def settled(sheet: Sheet) -> tuple[Finding, ...]:
    """All findings in order of place, those that a waiver covers marked, and those about waivers."""
    found = list(dict.fromkeys(sheet.findings))
    probe = Sheet(sheet.protocol, sheet.text, sheet.file, sheet.root, sheet.own, sheet.today, sheet.part)
    for index, waive in enumerate(sheet.protocol.waive):
        path: Path = ("waive", index)
        covered = [
            number
            for number, one in enumerate(found)
            if _covers(waive.code, waive.where, one)
            and not (one.code in OWN_DEEDS and origin(sheet.root, path)[0] in sheet.bases)
        ]
        place = f" at `{waive.where}`" if waive.where else ""
        if not waive.reason.strip():
            probe.add("waive-without-reason", path, f"the waiver of `{waive.code}` gives no reason", "say why")
        elif waive.code in UNWAIVABLE:
            what = f"`{waive.code}` cannot be waived: a rule that is written must hold"
            help_ = "mend the file or the rule, or relax a base's rule under relax.rule, and take the waiver out"
            probe.add("waive-refused", path, what, help_)
        elif waive.code not in CODES:
            probe.add("waive-unused", (*path, "code"), f"`{waive.code}` is no code of a finding", side="value")
        elif not covered and waive.code != NEVER and _own(sheet, path):  # that one is for coverage to find
            what = f"there is no finding `{waive.code}`{place} to waive"
            probe.add("waive-unused", path, what, "take the waiver out")
        else:
            for number in covered:
                found[number] = replace(found[number], waived=waive.reason)
    return tuple(sorted([*found, *probe.findings], key=lambda one: one.order))


def _own(sheet: Sheet, path: Path) -> bool:
    """Whether a waiver is this file's own, to be found of use in it: what a base waives may well have been mended over
    it, and a flattened file has no base any more to be compared with."""
    flattened = bool(sheet.protocol.made_from) and origin(sheet.root, ("track",))[0] == sheet.protocol.id
    return origin(sheet.root, path)[0] == sheet.protocol.id and not flattened


def _covers(code: str, where: str, one: Finding) -> bool:
    if code != one.code:
        return False
    return where in ("", one.about, one.subject) or one.about.startswith(f"{where}.")


def failing(findings: Iterable[Finding]) -> list[Finding]:
    """Those that make a check fail."""
    return [one for one in findings if one.counts]
