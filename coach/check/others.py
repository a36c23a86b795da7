"""The check of files that are no protocols: scenarios with each protocol that they suit, parts within the files that
take them, pads files by themselves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path as FilePath

from coach.check.findings import Finding
from coach.check.lint.file import lint, of_reading, settled
from coach.check.lint.pads import lint_pads
from coach.check.lint.scenario import lint_scenario
from coach.check.lint.sheet import Page
from coach.check.states.classes import Limit
from coach.check.whole import FileCheck, Tell, pads_of, report_rules
from coach.cores import ALONE, Workers
from coach.engine.never import never_thrown
from coach.engine.plan import PlanProblem, resolve
from coach.protocol.library import Entry, NotFound, list_protocols, load_protocol
from coach.protocol.local_model import Part
from coach.protocol.model import Protocol, Scenario
from coach.protocol.overlay import Trial, is_overlay, read_part
from coach.protocol.positions import Path
from coach.protocol.problems import FileProblems
from coach.protocol.reading import parsed, read_pads, read_scenario


def check_other(
    text: str,
    name: str,
    kind: str,
    folder: FilePath | None = None,
    *,
    today: date | None = None,
    limit: Limit | None = None,
    progress: Tell | None = None,
    workers: Workers = ALONE,
) -> FileCheck:
    """Check a ``pads`` file, a ``scenario`` with each protocol that it suits, or a ``part`` within each file of the
    library that takes it. Raises FileProblems for no TOML."""
    page = Page(name, parsed(text, name)[1])
    try:
        if kind == "scenario":
            scenario = read_scenario(text, name)
            lint_scenario(page, scenario, _with_each(page, scenario, text, folder))
        elif kind == "part":
            return _within_each(page, read_part(text, name), text, folder, today, limit, progress, workers)
        else:
            lint_pads(page, read_pads(text, name))
    except FileProblems as problems:
        return FileCheck(name, None, tuple(map(of_reading, problems.problems)))
    return FileCheck(name, None, _sorted(page))


def _sorted(page: Page) -> tuple[Finding, ...]:
    return tuple(sorted(page.findings, key=lambda one: one.order))


# --- scenarios --------------------------------------------------------------------------------------------------------


def _with_each(page: Page, scenario: Scenario, text: str, folder: FilePath | None) -> list[Protocol]:
    """Report what is wrong with a scenario under the protocols that it suits, each thing once. Those that read."""
    protocols: list[Protocol] = []
    ruled_out: dict[tuple[Path, str], list[str]] = {}
    refused: dict[str, list[tuple[Path, str]]] = {}
    for place, ident in enumerate(scenario.suits):
        at: Path = ("suits", place)
        try:
            protocol = load_protocol(ident, folder)[0]
            protocols.append(protocol)
            read_scenario(text, page.file, protocol)
            plan = resolve(protocol, scenario)
        except NotFound as missing:
            near = f"did you mean `{missing.nearest}`?" if missing.nearest else "name a protocol that is at hand"
            page.add("unknown-name", at, f"unknown protocol `{ident}`", near, side="value")
        except FileProblems as problems:
            for found in map(of_reading, problems.problems):
                page.keep(found)
        except PlanProblem as problem:
            if len({throw.digit for throw in scenario.throw}) < len(scenario.throw):
                continue  # told at the digit itself
            refused.setdefault(str(problem), []).append((at, ident))
        else:
            for digit, inject in never_thrown(protocol, plan).items():
                index = next((n for n, throw in enumerate(scenario.throw) if throw.digit == digit), None)
                path: Path = at if index is None else ("throw", index, "name")
                what = f"`{inject}` can never be thrown: `{protocol.inject[inject].when}` is false here"
                ruled_out.setdefault((path, what), []).append(ident)
    for words, where in refused.items():
        page.add("bad-file", where[0][0], f"with {', '.join(ident for _, ident in where)}: {words}", side="value")
    for (path, what), idents in ruled_out.items():
        page.add("throw-ruled-out", path, f"with {', '.join(idents)}, {what}", side="value")
    return protocols


# --- parts ------------------------------------------------------------------------------------------------------------


def _within_each(
    page: Page,
    part: Part,
    text: str,
    folder: FilePath | None,
    today: date | None,
    limit: Limit | None,
    progress: Tell | None,
    workers: Workers,
) -> FileCheck:
    """What stands in a part, as each file of the library that takes it would have it; each thing once."""
    takers = list(_takers(part.id, folder))
    trial = Trial(part.id, text, page.file)
    decided = True
    for entry in takers:
        found, sure = _within(entry, trial, folder, today, limit, progress, workers)
        decided = decided and sure
        for one in found:
            known = any((one.code, one.where) == (other.code, other.where) for other in page.findings)
            if one.where.file != page.file:
                what = f"`{entry.id}` cannot take it: {one.what} (line {one.where.line} there)"
                page.add("part-unfit", ("id",), what, one.help, side="value")
            elif not known:
                page.keep(one)
    if not takers:
        what = "no file at hand takes this part, and only within one can it be checked"
        todo = "name it under [[with]] in a file beside it, and check that"
        page.add("part-untaken", ("id",), what, todo, side="value")
    within = tuple(entry.id for entry in takers)
    return replace(FileCheck(page.file, None, _sorted(page), within=within), whole_graph=None if decided else False)


def _takers(ident: str, folder: FilePath | None) -> Iterator[Entry]:
    """The protocols within reach that name a part."""
    for entry in list_protocols(folder):
        try:
            text = entry.text()
            if ident in text and is_overlay(text):
                pins = parsed(text, str(entry.path))[0].get("with", [])
                if any(isinstance(pin, dict) and pin.get("id") == ident for pin in pins):
                    yield entry
        except FileProblems:  # what is no file takes nothing
            continue


def _within(
    entry: Entry,
    trial: Trial,
    folder: FilePath | None,
    today: date | None,
    limit: Limit | None,
    progress: Tell | None,
    workers: Workers,
) -> tuple[list[Finding], bool]:
    """The findings of a part in one file that takes it, and whether all rules were decided."""
    from coach.check.proof.checked import check_rules

    found = lint(entry.text(), str(entry.path), folder, today, trial)
    if found.protocol is None or found.sheet is None or found.rules is None:
        return list(found.findings), True
    pads = pads_of(found.protocol, folder)
    verdicts = check_rules(
        found.protocol, found.rules, pads=pads, limit=limit or Limit(), progress=progress, workers=workers
    ).rules
    report_rules(found.sheet, list(verdicts))
    return list(settled(found.sheet)), not any(one.kind == "not decided" for one in verdicts)
