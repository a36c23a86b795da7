"""The whole check of one protocol file: its lint, its rules, and, where injects are thrown, what never comes about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path as FilePath
from typing import Any

from coach.check.explain import CODES
from coach.check.findings import Finding, Where
from coach.check.lint.file import failing, lint, settled
from coach.check.lint.passing import own_line
from coach.check.lint.sheet import Sheet
from coach.check.proof.possible import waiting
from coach.check.proof.rules import Rule
from coach.check.proof.story import Story
from coach.check.proof.verdicts import RuleVerdict
from coach.check.states.classes import Limit
from coach.cores import ALONE, Workers, uncollected
from coach.protocol.approval import approval_state
from coach.protocol.library import NotFound, load_pads
from coach.protocol.model import Pads, Protocol
from coach.protocol.positions import Path
from coach.protocol.tree import origin
from coach.units import duration_text

Tell = Callable[[str, int], None]
"""Progress: what is being looked at, and how many classes so far."""


@dataclass(frozen=True, slots=True)
class FileCheck:
    """What came out. ``protocol`` is None where the file does not read, and ``approval`` how its approval stands in a
    word, "" then. ``scope`` says in words what could be thrown;
    ``classes`` is how many state classes it rests on; ``dropped`` names what no rule depends on. ``whole_graph`` is
    whether every arrow, step and timer was looked for: None where that was not asked, False where a limit was hit.
    ``within`` names the files in which a part was looked at."""

    file: str
    protocol: Protocol | None
    findings: tuple[Finding, ...]
    rules: tuple[RuleVerdict, ...] = ()
    scope: str = ""
    classes: int = 0
    dropped: tuple[str, ...] = ()
    whole_graph: bool | None = None
    approval: str = ""
    within: tuple[str, ...] = ()

    @property
    def failed(self) -> bool:
        """Whether there is anything that its author must mend or waive."""
        return bool(failing(self.findings))

    @property
    def undecided(self) -> bool:
        """Whether a limit was hit before all was known."""
        return self.whole_graph is False or any(rule.kind == "not decided" for rule in self.rules)

    def as_dict(self) -> dict[str, Any]:
        """Everything as plain values, for JSON."""
        protocol = self.protocol
        return {
            "file": self.file,
            "protocol": None if protocol is None else protocol.id,
            "version": None if protocol is None else protocol.version,
            "approval": self.approval or None,
            "verdict": "findings" if self.failed else "not decided" if self.undecided else "fine",
            "scope": self.scope,
            "classes": self.classes,
            "rules": [verdict.as_dict() for verdict in self.rules],
            "every_arrow_looked_for": self.whole_graph,
            "within": list(self.within),
            "not_looked_at": list(self.dropped),
            "findings": [one.as_dict() for one in self.findings],
        }


@uncollected()
def check_file(
    text: str,
    name: str,
    *,
    folder: FilePath | None = None,
    today: date | None = None,
    injects: int = 0,
    limit: Limit | None = None,
    progress: Tell | None = None,
    workers: Workers = ALONE,
) -> FileCheck:
    """Check a protocol file's text. ``injects``: 0 throws none, 1 each of them alone, more any of them with at most so
    many open at once; from 1 on it is also looked for what can never come about. ``progress`` hears what this process
    does, ``workers`` do the rest of it. Raises FileProblems for no TOML."""
    found = lint(text, name, folder, today)
    if found.protocol is None or found.sheet is None:
        return FileCheck(name, None, found.findings)
    approval = approval_state(found.protocol, found.text, found.sheet.today).word
    if found.rules is None:
        return FileCheck(name, found.protocol, found.findings, approval=approval)
    searched = _searched(found.sheet, found.rules, name, folder, injects, limit or Limit(), progress, workers)
    return replace(searched, approval=approval)


def _searched(
    sheet: Sheet,
    rules: tuple[Rule, ...],
    name: str,
    folder: FilePath | None,
    injects: int,
    limit: Limit,
    progress: Tell | None,
    workers: Workers,
) -> FileCheck:
    from coach.check.lint.graph import lint_graph, lint_ties, tied_pairs, tied_runs
    from coach.check.proof.checked import check_rules
    from coach.check.proof.injects import looks
    from coach.check.proof.survey import survey
    from coach.check.proof.verdicts import joined

    protocol = sheet.protocol
    pads = pads_of(protocol, folder)
    names = tuple(protocol.inject)
    plain = check_rules(
        protocol,
        rules,
        pads=pads,
        injects=names if injects > 1 else (),
        open_at_once=max(injects, 1),
        limit=limit,
        progress=progress,
        workers=workers,
    )
    verdicts = {verdict.rule.id: verdict for verdict in plain.rules}
    classes, dropped = plain.classes, plain.dropped
    whole: bool | None = None
    if injects:
        alone = looks(protocol, rules, plain, pads=pads, limit=limit) if injects == 1 else []
        seeing = partial(survey, protocol, limit)
        tying = partial(tied_runs, protocol, tied_pairs(sheet))
        longest = sorted(alone, key=lambda look: -look.reached)
        tasks: list[Task] = [*longest[::2], seeing, *longest[1::2][::-1], tying]  # the long ones at both ends
        done = dict(zip(tasks, workers.each(_done, tasks, own=lambda task: task(progress)), strict=True))
        for look in alone:
            again = done[look]
            for verdict in again.rules:
                verdicts[verdict.rule.id] = joined(verdicts[verdict.rule.id], verdict)
            classes += again.classes
            dropped = tuple(one for one in again.dropped if one in dropped)
        seen = done[seeing]
        classes += seen.classes
        whole = lint_graph(sheet, seen)
        lint_ties(sheet, done[tying])
    report_rules(sheet, list(verdicts.values()))
    return FileCheck(
        name,
        protocol,
        settled(sheet),
        tuple(verdicts.values()),
        _scope(len(names), injects, any(rule.throws() for rule in rules)),
        classes,
        dropped,
        whole,
    )


Task = Callable[[Tell | None], Any]
"""Something to be looked at, which tells its progress."""


@uncollected()
def _done(task: Task) -> Any:
    return task(None)


def _scope(count: int, injects: int, named: bool) -> str:
    if named and not injects:
        return "no inject is thrown but those that a rule names"
    if not injects or not count:
        return "no inject is thrown" if count else "the file has no injects"
    if injects == 1:
        return f"each of the {count} injects alone"
    return f"any of the {count} injects, at most {injects} open at once"


def pads_of(protocol: Protocol, folder: FilePath | None) -> Pads | None:
    if not protocol.pads:
        return None
    try:
        return load_pads(protocol.pads, folder)[0]
    except NotFound:
        return None


def report_rules(sheet: Sheet, verdicts: list[RuleVerdict]) -> None:
    """Rules that are broken, or that speak of nothing, as findings at their lines."""
    places = {str(rule.get("id")): index for index, rule in enumerate(sheet.protocol.rule)}
    for verdict in verdicts:
        path: Path = ("rule", places[verdict.rule.id])
        if verdict.kind == "broken":
            broken = verdict.taught if verdict.taught.kind == "broken" else verdict.noticed
            how = "as taught" if broken is verdict.taught else "without being noticed"
            story = broken.story
            witness = story.text().split("\n") if story is not None else [broken.why]
            what = f"the rule `{verdict.rule.id}` can be broken {how}"
            if verdict.rule.form == "possible":
                ways = "in no run" if verdict.noticed.kind == "broken" else "in no run without a fault"
                what = f"what the rule `{verdict.rule.id}` wants to be possible happens {ways}"
                witness += waiting(verdict.rule, sheet.protocol)
            _broken(sheet, path, what, witness, story)
        elif verdict.kind == "vacuous":
            what = f"what the rule `{verdict.rule.id}` speaks of never happens"
            help_ = "look at what it names, and at the way there"
            if sheet.part and origin(sheet.root, path)[0] != sheet.part:
                _in_part(sheet, "vacuous-rule", path, what, help_, [])
            else:
                sheet.add("vacuous-rule", path, what, help_)
        elif verdict.kind == "holds":
            _slack(sheet, verdict, path)


def _broken(sheet: Sheet, path: Path, what: str, witness: list[str], story: Story | None) -> None:
    """A broken rule at its line; one of the base where the story passes a line of this file, if it passes any."""
    help_ = "mend the file, or the rule"
    if origin(sheet.root, path)[0] != (sheet.part or sheet.protocol.id):
        own = own_line(sheet, story.passed) if story is not None else None
        if own is not None:
            about, subject = sheet.named(path)
            help_ = "this is the nearest line of the file that the story passes: mend it, or relax the rule"
            found = Finding("rule-broken", CODES["rule-broken"].level, own, what, help_, tuple(witness), about, subject)
            sheet.findings.append(found)
            return
        if sheet.part:
            _in_part(sheet, "rule-broken", path, what, help_, witness)
            return
    sheet.add("rule-broken", path, what, help_, witness)


def _in_part(sheet: Sheet, code: str, path: Path, what: str, help_: str, witness: list[str]) -> None:
    """A finding about the file that takes a part, at the part's own id."""
    about, subject = sheet.named(path)
    where = Where(sheet.file, *sheet.own.value(("id",)))
    told = f"{what} (in {sheet.protocol.id})"
    sheet.findings.append(Finding(code, CODES[code].level, where, told, help_, tuple(witness), about, subject))


SLACK = 2
"""A limit more than this many times what a run ever takes bounds nothing (a choice of this program)."""


def _slack(sheet: Sheet, verdict: RuleVerdict, path: Path) -> None:
    """A time limit that no run comes near: more likely a slip of the unit. What always comes at once needs no limit."""
    rule, longest = verdict.rule, verdict.taught.longest
    limit = rule.at_most or rule.within
    if limit is not None and longest and limit > SLACK * longest:
        key = "at_most" if rule.at_most else "within"
        most = duration_text(longest)
        what = f"the rule `{rule.id}` grants {duration_text(limit)}, and no run takes longer than {most}"
        sheet.add("rule-slack", (*path, key), what, "is the unit right? write what it should bound", side="value")
