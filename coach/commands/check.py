"""Checking protocol files: what is wrong in them, and what is proved of their rules."""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands.words import FINDINGS, FINE, MISUSE, UNDECIDED, Refused, complain, say, say_json, table, write_text
from coach.cores import Workers
from coach.text import one_line

if TYPE_CHECKING:
    from coach.check.findings import Finding
    from coach.check.proof.story import Story
    from coach.check.proof.verdicts import RuleVerdict, Verdict
    from coach.check.states.classes import Limit
    from coach.check.whole import FileCheck

WIDTH = 100
"""The width of the page; a story's lines are left as they are."""


def check(names: Sequence[str], *, json: bool, sarif: bool, injects: int, seconds: float, scripts: Path | None) -> int:
    """Check files, or protocols by name, and print what came out. ``seconds`` bounds each single search; ``scripts`` is
    a folder for the stories of broken rules, as key scripts with their scenarios."""
    if json and sarif:
        raise Refused("--json and --sarif exclude each other", todo="Choose one.")
    from coach.check.states.classes import Limit

    limit = Limit(seconds=seconds)
    checks: list[FileCheck] = []
    unreadable = False
    with Workers() as workers:
        for name in names:
            found, read = _checked(name, injects, limit, workers)
            unreadable = unreadable or not read
            checks.append(found)
            if not read:
                continue
            if scripts is not None:
                _write_stories(found, scripts)
            if not (json or sarif):
                say(("\n" if len(checks) > 1 else "") + page(found))
    if json:
        say_json({"files": [one.as_dict() for one in checks]})
    elif sarif:
        from coach.check.sarif import sarif as as_sarif

        say_json(as_sarif(finding for one in checks for finding in one.findings))
    if unreadable:
        return MISUSE
    if any(one.failed for one in checks):
        return FINDINGS
    return UNDECIDED if any(one.undecided for one in checks) else FINE


def _checked(name: str, injects: int, limit: Limit, workers: Workers) -> tuple[FileCheck, bool]:
    """One file, or the protocol of that name, and whether it could be read; what cannot is complained of, and its
    problems stand as findings for whoever reads those alone."""
    from coach.check.lint.file import of_reading
    from coach.check.others import check_other
    from coach.check.whole import FileCheck, check_file
    from coach.commands.lists import kind_of
    from coach.protocol.library import find_protocol
    from coach.protocol.problems import FileProblems
    from coach.protocol.reading import read_text

    path = Path(name)
    if not path.exists() and path.suffix != ".toml":
        path = find_protocol(name).path
    shown = _short(path)
    try:
        text = read_text(path, shown)
        kind = kind_of(text)
        with Meter(shown) as meter:
            folder = path.absolute().parent.parent
            if kind != "protocol":
                beside = folder.parent if kind == "scenario" else folder
                told = check_other(text, shown, kind, beside, limit=limit, progress=meter.tell, workers=workers)
            else:
                told = check_file(
                    text, shown, folder=folder, injects=injects, limit=limit, progress=meter.tell, workers=workers
                )
            return told, True
    except FileProblems as problems:
        complain(str(problems))
        return FileCheck(shown, None, tuple(map(of_reading, problems.problems))), False


def _short(path: Path) -> str:
    """A path as a person would name it from here."""
    try:
        return str(path.relative_to(Path.cwd())) if path.is_absolute() else str(path)
    except ValueError:
        return str(path)


class Meter:
    """Progress of a long search on one line of standard error, where that is a terminal; it wipes itself away."""

    def __init__(self, name: str) -> None:
        self._name = one_line(os.path.basename(name))
        self._shown = 0
        self.tell: Callable[[str, int], None] | None = self._tell if sys.stderr.isatty() else None

    def __enter__(self) -> Meter:
        return self

    def steps(self, what: str) -> Callable[[int, int], None] | None:
        """Progress as so many of so many, with a bar."""
        if self.tell is None:
            return None
        return lambda done, of: self._show(f"{what} {bar(done, of)} {done} of {of}")

    def _tell(self, what: str, classes: int) -> None:
        self._show(f"{one_line(what)}, {classes} classes")

    def _show(self, words: str) -> None:
        line = f"{self._name}: {words}"[:WIDTH]
        sys.stderr.write(f"\r{line.ljust(self._shown)}")
        sys.stderr.flush()
        self._shown = len(line)

    def __exit__(self, *_: object) -> None:
        if self._shown:
            sys.stderr.write(f"\r{' ' * self._shown}\r")
            sys.stderr.flush()


def bar(done: int, of: int, width: int = 20) -> str:
    """How far something has come, as a bar of blocks."""
    full = width * done // of if of else width
    return "█" * full + "░" * (width - full)


# --- the page ---------------------------------------------------------------------------------------------------------


def page(found: FileCheck) -> str:
    """What came out of one file, for people."""
    protocol = found.protocol
    out = [found.file]
    if protocol is not None:
        out.append(f"{protocol.id}, version {protocol.version}, after {protocol.guidance}: {found.approval}")
    if found.within:
        out += _wrapped(f"A part: looked at within {', '.join(found.within)}.", "", "  ")
    if found.rules:
        out += ["", f"Rules, for every key at every millisecond; {found.scope}", *_rules(found)]
    told = [one for one in found.findings if one.code != "rule-broken"]
    if told:
        out += ["", "Findings"]
        for one in told:
            out += _finding(one)
    out += ["", _summary(found)]
    if found.dropped:
        out += _wrapped(f"No rule depends on: {_dropped(found.dropped)}.", "", "  ")
    if found.rules and found.whole_graph is None:
        out.append("Whether every arrow, step and timer can come about was not asked: --injects 1 does.")
    return "\n".join(out)


def _rules(found: FileCheck) -> list[str]:
    lines = {one.subject: one.where.line for one in found.findings if one.code in ("rule-broken", "vacuous-rule")}
    rows: list[tuple[str, ...]] = [
        (_verdict(one), one.rule.id, f"line {lines[one.rule.id]}" if one.rule.id in lines else "", _beside(one))
        for one in found.rules
    ]
    if not lines:
        rows = [(*row[:2], row[3]) for row in rows]
    out: list[str] = []
    for line, verdict in zip(table(rows).split("\n"), found.rules, strict=True):
        out.append(f"  {line}")
        if verdict.story is not None and verdict.kind == "broken":
            out += ["", *(f"      {part}".rstrip() for part in verdict.story.text().split("\n")), ""]
    return out


def _verdict(verdict: RuleVerdict) -> str:
    return "BROKEN" if verdict.kind == "broken" else verdict.kind


def _beside(verdict: RuleVerdict) -> str:
    """What there is to say beside a verdict: on how many classes it rests, and where the two or three differ."""
    noticed, taught, without = verdict.noticed, verdict.taught, verdict.without
    parts = [_classes(max(taught.classes, noticed.classes))]
    if taught.kind != noticed.kind:
        parts.append(f"as taught: {taught.kind}; noticed: {noticed.kind}")
    parts += dict.fromkeys(one.why for one in (taught, noticed) if one.why)
    if without is not None:
        parts.append(_without(without))
    return "; ".join(parts)


def _without(without: Verdict) -> str:
    return f"without what it assumes: {without.kind}"


def _classes(count: int) -> str:
    return "1 class" if count == 1 else f"{count:,} classes".replace(",", " ")


def _finding(one: Finding) -> list[str]:
    word = f"{one.level}, waived" if one.waived else one.level
    place = f"{one.where.line}:{one.where.column}"
    out = _wrapped(f"{place}  {word}: {one.what}  [{one.code}]", "  ", "      ")
    if one.waived:
        return [*out, *_wrapped(f"waived: {one.waived}", "      ", "      ")]
    if one.help:
        out += _wrapped(f"{one.help}", "      ", "      ")
    return [*out, *(f"      | {one_line(line)}" for line in one.witness)]


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(
        one_line(text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=then,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _summary(found: FileCheck) -> str:
    kinds = [verdict.kind for verdict in found.rules]
    parts = [
        _many(kinds.count("holds"), "rule holds", "rules hold"),
        _many(kinds.count("broken"), "rule BROKEN", "rules BROKEN"),
        _many(kinds.count("vacuous"), "rule vacuous", "rules vacuous"),
        _many(kinds.count("not decided"), "rule not decided", "rules not decided"),
    ]
    other = [one for one in found.findings if one.code not in ("rule-broken", "vacuous-rule")]
    besides = "no findings" if len(other) == len(found.findings) else "no other findings"
    parts.append(_many(sum(one.counts for one in other), "finding", "findings") or besides)
    parts.append(_many(sum(one.level == "note" and not one.waived for one in other), "note", "notes"))
    parts.append(_many(sum(bool(one.waived) for one in found.findings), "waived", "waived"))
    if found.whole_graph is False:
        parts.append("not every arrow could be looked for before the limit")
    word = "Findings" if found.failed else "Not decided" if found.undecided else "Fine"
    return f"{word}: {', '.join(part for part in parts if part)}."


def _dropped(names: Sequence[str]) -> str:
    """What was left out, by kind; what the program itself has beside the file's own names in a word or two."""
    kinds: dict[str, list[str]] = {}
    limits = injects = False
    for kind, _, name in (one.partition(" ") for one in names):
        if name.startswith(("within:", "late.")):
            limits = True
        elif name.partition(":")[0] in ("inject", "thrown"):
            injects = True
        elif ":" not in name:
            kinds.setdefault(kind, []).append(name)
    parts = [f"{kind if len(some) == 1 else f'{kind}s'} {', '.join(some)}" for kind, some in kinds.items()]
    parts += ["time limits of steps"] * limits + ["injects"] * injects
    return "; ".join(parts)


def _many(count: int, one: str, more: str) -> str:
    return "" if not count else f"{count} {one if count == 1 else more}"


# --- stories to play --------------------------------------------------------------------------------------------------


def _write_stories(found: FileCheck, folder: Path) -> None:
    """The story of each broken rule as a key script that ``kneeside play`` takes, with its scenario beside it."""
    for verdict in found.rules:
        if verdict.kind != "broken" or verdict.story is None:
            continue
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise Refused(f"cannot be made ({error.strerror})", where=str(folder), todo="Choose another.") from error
        stem = f"{Path(found.file).stem}-{verdict.rule.id}"
        scenario = folder / f"{stem}.toml"
        write_text(scenario, verdict.story.scenario, over=True)  # of an earlier check
        write_text(folder / f"{stem}.keys", _script(verdict.story, found.file, scenario))


def _script(story: Story, file: str, scenario: Path) -> str:
    """The script with the very files that the story is about in its head."""
    body = [line for line in story.script.split("\n") if not line.startswith(("# protocol:", "# scenario:"))]
    head = [f"# protocol: {Path(file).absolute()}", f"# scenario: {scenario.absolute()}"]
    return "\n".join([*head, *body])
