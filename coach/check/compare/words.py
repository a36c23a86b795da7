"""A whole comparison: differences, verdicts on the rules, and runs, in words a medical director reads and as JSON."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from coach.check.compare.alike import BOUND
from coach.check.compare.parts import SECTIONS, Change, Differences, differences_of
from coach.check.compare.runs import PAIRS, Parting, Runs, compare_runs
from coach.check.proof.checked import check_rules
from coach.check.proof.rules import read_rules
from coach.check.proof.story import Story
from coach.check.proof.verdicts import RuleVerdict
from coach.check.states.classes import Limit
from coach.protocol.model import Pads, Protocol
from coach.protocol.problems import FileProblems
from coach.text import clean, one_line

RULES_LIMIT = Limit(150_000, 20.0)
"""Classes and seconds that the proofs of one version's rules may take; beyond them a rule is "not checked"."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that was found out about two versions. ``unchecked`` names rules on which there is no verdict."""

    old: Protocol
    new: Protocol
    found: Differences
    broken: tuple[Change, ...]
    unchecked: tuple[str, ...]
    runs: Runs

    @property
    def changes(self) -> tuple[Change, ...]:
        """All changes, in the order of the sections."""
        known = list(SECTIONS)
        return tuple(sorted((*self.found.changes, *self.broken), key=lambda change: known.index(change.section)))

    @property
    def differs(self) -> bool:
        """Whether there is any difference at all."""
        return bool(self.changes) or self.runs.kind == "differ"

    @property
    def judged(self) -> tuple[str, ...]:
        """What differs beside wording, as the changes name it: where all runs are alike, it is what judges them."""
        return tuple(dict.fromkeys(one_line(one.where) for one in self.changes if one.section != "wording"))

    @property
    def reworded(self) -> bool:
        """Whether a learner hears or reads other words; sources are not said."""
        return any(one.section == "wording" and not one.where.startswith("source ") for one in self.changes)

    @property
    def decided(self) -> bool:
        """Whether it is known that there is a difference, or that there is none. Only another order of tables, on which
        the search found nothing, is none."""
        return self.differs or self.runs.kind == "same" or bool(self.found.order)

    def as_dict(self) -> dict[str, Any]:
        """The comparison as plain values, for JSON."""
        parting = self.runs.parting
        return {
            "old": {"id": self.old.id, "version": self.old.version},
            "new": {"id": self.new.id, "version": self.new.version},
            "differs": self.differs,
            "changes": [change.as_dict() for change in self.changes],
            "renamed": dict(self.found.renamed),
            "not_checked": list(self.unchecked),
            "runs": {
                "verdict": self.runs.kind,
                "explored": self.runs.explored,
                "parting": None if parting is None else _parting_dict(parting),
            },
        }

    def text(self) -> str:
        """The comparison for people."""
        out = [f"{self.old.id} {self.old.version} (old) and {self.new.id} {self.new.version} (new)"]
        for section, title in SECTIONS.items():
            changes = [change for change in self.changes if change.section == section]
            if changes:
                out += ["", f"{title}:"]
                for change in changes:
                    first, *story = change.what.split("\n")
                    out.append(f"  {one_line(change.where)}: {one_line(first)}")
                    out += [f"      {clean(line)}" for line in story]
        if self.unchecked:
            out += ["", f"Rules not checked: {', '.join(self.unchecked)}"]
        if not self.changes:
            out += ["", "No difference in what stands in the two files" + _ordered(self.found.order)]
        out += ["", *_runs(self.runs)]
        if self.runs.kind == "same" and self.reworded:
            out.append("Other words are heard in them all the same: those above under Wording. Read each.")
        if self.runs.kind == "same" and (judged := self.judged):
            out.append(f"What a run is judged by, or what is signed, differs all the same: {', '.join(judged)}.")
        return "\n".join(out)


def _ordered(order: tuple[str, ...]) -> str:
    return f", but for the order of {', '.join(order)}." if order else "."


def _runs(runs: Runs) -> list[str]:
    if runs.kind == "same":
        return [f"No difference in any run: {runs.explored}."]
    if runs.parting is None:
        return [f"No run was found on which they differ, which does not prove that there is none: {runs.explored}."]
    parting = runs.parting
    given = [f"{name} {value}" for name, value in parting.facts]
    scenario = ", ".join([f"unit {parting.unit}", f"counting {parting.counting}", *given])
    keys = "1 key" if len(parting.events) == 1 else f"{len(parting.events)} keys"
    length = "The shortest run" if parting.shortest else "A run"
    out = [f"{length} on which what the learner sees differs ({keys}; {scenario}):"]
    for line in parting.lines[:-1]:
        out.append(f"  {_clock(line.e)}  {one_line(line.by)}")
        said = line.old if line.e or line.by != "go" else [words for words in line.old if words.startswith("“")]
        out += [f"            {one_line(words)}" for words in said]
    last = parting.lines[-1]
    out.append(f"  {_clock(last.e)}  {one_line(last.by)}")
    for name, said in (("old", last.old), ("new", last.new)):
        out += [f"      {name}:  {one_line(words)}" for words in said or ("nothing",)]
    return [*out, f"Looked at: {runs.explored}."]


def _clock(ms: int) -> str:
    return f"{ms // 60_000:02d}:{ms % 60_000 // 1000:02d}.{ms % 1000 // 100}"


def _parting_dict(parting: Parting) -> dict[str, Any]:
    return {
        "shortest": parting.shortest,
        "unit": parting.unit,
        "counting": parting.counting,
        "facts": dict(parting.facts),
        "events": [{"ms": e, "event": event} for e, event in parting.events],
        "lines": [
            {"ms": line.e, "by": line.by, "old": list(line.old), "new": list(line.new)} for line in parting.lines
        ],
    }


def compare(
    old: Protocol,
    new: Protocol,
    *,
    old_pads: Pads | None = None,
    new_pads: Pads | None = None,
    limit: int = PAIRS,
    exact: Limit = BOUND,
    rules_limit: Limit = RULES_LIMIT,
    progress: Callable[[str, int], None] | None = None,
) -> Comparison:
    """Compare two protocols that were read without problems. ``exact`` bounds the decision whether they run alike,
    ``limit`` each search for a run on which they part where that gave up; ``progress`` hears what is being done and how
    far it is."""
    found = differences_of(old, new)
    broken: tuple[Change, ...] = ()
    unchecked: tuple[str, ...] = ()
    stories: tuple[Story, ...] = ()
    # where the same parts run under the same rules (and pads), each rule's verdict is the same for both
    if not (found.alike and old.rule == new.rule and old_pads == new_pads):
        broken, unchecked, stories = _newly_broken((old, old_pads), (new, new_pads), rules_limit, progress)
    runs = compare_runs(
        old,
        new,
        found,
        limit=limit,
        exact=exact,
        hints=stories,
        progress=lambda count: progress("runs", count) if progress else None,
    )
    return Comparison(old, new, found, broken, unchecked, runs)


def _newly_broken(
    old: tuple[Protocol, Pads | None],
    new: tuple[Protocol, Pads | None],
    limit: Limit,
    progress: Callable[[str, int], None] | None,
) -> tuple[tuple[Change, ...], tuple[str, ...], tuple[Story, ...]]:
    """The rules that the new version breaks and the old one, as far as known, does not; and those without a verdict."""
    after = _verdicts(*new, limit, progress)
    if after is None:
        return (), ("all: the rules of the new version cannot be read by the checker",), ()
    wanted = [ident for ident, verdict in after.items() if verdict.kind == "broken"]
    before = _verdicts(*old, limit, progress) if wanted else {}
    broken: list[Change] = []
    stories: list[Story] = []
    for ident in wanted:
        was = (before or {}).get(ident)
        if was is not None and was.kind == "broken":
            continue
        known = f"the old version: {was.kind}" if was is not None else "the old version: no such rule"
        verdict = after[ident]
        why = verdict.taught.why or verdict.noticed.why
        said = f"broken now ({known}){f': {why}' if why else ''}"
        story = verdict.story
        if story is not None:
            stories.append(story)
            said += f"\n{story.text()}"
        broken.append(Change("broken", ident, said, runs=False))
    unchecked = tuple(ident for ident, verdict in after.items() if verdict.kind == "not decided")
    return tuple(broken), unchecked, tuple(stories)


def _verdicts(
    protocol: Protocol, pads: Pads | None, limit: Limit, progress: Callable[[str, int], None] | None
) -> dict[str, RuleVerdict] | None:
    try:
        rules = read_rules(protocol)
    except FileProblems:
        return None
    checked = check_rules(protocol, rules, pads=pads, limit=limit, progress=progress)
    return {verdict.rule.id: verdict for verdict in checked.rules}
