"""Guards against the names of their file: that each name exists, means what it is used as, and is in reach."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from coach.protocol import guards
from coach.protocol.guards import Choice, Compare, GuardProblem, InStep, Name, Running, Unknown
from coach.protocol.model import Counter, Fact, Protocol
from coach.protocol.names import BUILT_IN_FACTS, HANDS_STEPS, HANDS_TRACK, marks_set
from coach.protocol.positions import Path
from coach.protocol.report import Report, known_words
from coach.text import nearest

MAX_TERM_CHAIN = 16
"""Terms that lead to terms: at most so many in a row."""

_DIMENSION = {"kg": "kg", "year": "age", "years": "age", "month": "age", "months": "age"}


@dataclass(frozen=True, slots=True)
class GuardNames:
    """Everything that a guard of a file may name."""

    facts: Mapping[str, Fact]
    counters: Mapping[str, Counter]
    marks: frozenset[str]
    terms: Mapping[str, str]
    timers: frozenset[str]
    steps: Mapping[str, frozenset[str]]  # by track


def guard_names(protocol: Protocol) -> GuardNames:
    """What the guards of a protocol may name."""
    steps = {name: frozenset(track.step) for name, track in protocol.track.items()}
    return GuardNames(
        {**protocol.facts, **BUILT_IN_FACTS},
        protocol.counters,
        frozenset(marks_set(protocol)),
        protocol.terms,
        frozenset(protocol.timers),
        {**steps, HANDS_TRACK: frozenset(HANDS_STEPS)},
    )


def check_terms(terms: Mapping[str, str], names: GuardNames, report: Report) -> None:
    """Report bad terms, and terms that lead back to themselves."""
    leads: dict[str, list[str]] = {}
    for name, text in terms.items():
        expr = check_guard(("terms", name), text, names, report)
        leads[name] = [other for other in guards.names(expr) if other in terms] if expr else []
    told: set[str] = set()
    too_long = False
    for name in terms:
        ring = _ring(name, leads)
        if ring and not told.intersection(ring):
            told.update(ring)
            what = f"the term leads back to itself: {' -> '.join([*ring, ring[0]])}"
            report.at_key(("terms", name), what, todo="write one of them out")
        elif not ring and not too_long and _longest(name, leads, told) > MAX_TERM_CHAIN:
            too_long = True
            report.at_key(("terms", name), f"more than {MAX_TERM_CHAIN} terms in a row", todo="write some of them out")


def _ring(start: str, leads: Mapping[str, list[str]]) -> list[str]:
    """The shortest way from a term back to itself; empty where there is none."""
    ways: list[list[str]] = [[start]]
    seen: set[str] = set()
    while ways:
        way = ways.pop(0)
        for other in sorted(leads[way[-1]]):
            if other == start:
                return way
            if other not in seen:
                seen.add(other)
                ways.append([*way, other])
    return []


def _longest(start: str, leads: Mapping[str, list[str]], told: set[str]) -> int:
    """The number of terms in the longest row that begins at one; rows through terms told of already do not count."""
    level, length = {start}, 0
    while level and length <= MAX_TERM_CHAIN:
        length += 1
        level = {other for name in level for other in leads[name]} - told
    return length


def check_guard(path: Path, text: str, names: GuardNames, report: Report) -> guards.Expr | None:
    """The tree of a guard, or None where it does not read; whatever is wrong with it is reported inside the text."""
    try:
        expr = guards.parse(text)
    except GuardProblem as problem:
        report.inside(path, problem.offset, problem.what, problem.nearest, problem.todo)
        return None
    check = _Guard(path, names, report)
    for test in guards.tests(expr):
        check.test(test)
    return expr


class _Guard:
    def __init__(self, path: Path, names: GuardNames, report: Report) -> None:
        self.path = path
        self.names = names
        self.report = report

    def _say(self, at: int, what: str, near: str | None = None, todo: str = "") -> None:
        self.report.inside(self.path, at, what, near, todo)

    def _unknown(self, at: int, kind: str, name: str, legal: Iterable[str], declared_by: Iterable[str]) -> None:
        if not self.report.doubtful.intersection(declared_by):
            known = list(legal)
            self._say(at, f"unknown {kind} `{name}`", nearest(name, known), known_words(known))

    def _bare_names(self) -> set[str]:
        names = self.names
        return {*names.facts, *names.counters, *names.marks, *names.terms}

    def _missing(self, at: int, name: str, legal: Iterable[str] | None = None) -> None:
        declared_by = ("facts", "counters", "terms", "mark", "within")
        self._unknown(at, "name", name, self._bare_names() if legal is None else legal, declared_by)

    def test(self, test: guards.Test) -> None:
        names = self.names
        match test:
            case Name():
                self._name(test)
            case Compare():
                self._compare(test)
            case Choice():
                self._choice(test)
            case Unknown(fact, at):
                if fact not in names.facts:
                    self._unknown(at, "fact", fact, names.facts, ["facts"])
            case Running(timer, at):
                if timer not in names.timers:
                    self._unknown(at, "timer", timer, names.timers, ["timers"])
            case InStep(track, step, at, step_at):
                if track not in names.steps:
                    self._unknown(at, "track", track, names.steps, ["track"])
                elif step not in names.steps[track]:
                    self._unknown(step_at, "step", step, names.steps[track], [])

    def _name(self, test: Name) -> None:
        name, at, names = test.name, test.at, self.names
        if name in names.marks or name in names.terms:
            return
        if name in names.counters:
            self._say(at, f"the counter `{name}` needs a comparison", todo=f"write {name} > 0")
        elif name in names.facts:
            fact = names.facts[name]
            if fact.kind == "script":
                self._say(at, f"the script `{name}` is read one entry at a time", f"this_{name}")
            elif fact.kind != "flag":
                example = f"{name} == {fact.of[0]}" if fact.of else f"{name} > 0"
                self._say(at, f"the {fact.kind} `{name}` needs a comparison", todo=f"write {example}")
        elif name.startswith("this_") and name.removeprefix("this_") in names.facts:
            self._say(at, f"`{name}` needs a comparison", todo=f"write {name} == a word of the script")
        else:
            self._missing(at, name)

    def _compare(self, test: Compare) -> None:
        names = self.names
        if test.name in names.counters:
            limit = names.counters[test.name].max
            if test.unit:
                self._say(test.value_at, f"the counter `{test.name}` has no unit", todo="write the bare number")
            elif test.value > limit and ("counters", test.name, "max") not in self.report.mended:
                what = f"the counter `{test.name}` is never counted beyond {limit}"
                self._say(test.value_at, what, todo=f"raise its max to {test.value} or more")
            return
        fact = names.facts.get(test.name)
        if fact is None:
            numbers = [name for name, fact in names.facts.items() if fact.kind == "number"]
            self._missing(test.at, test.name, [*numbers, *names.counters])
        elif fact.kind != "number":
            self._say(test.at, f"`{test.name}` is a {fact.kind}, not a number", todo="compare it as what it is")
        elif ("facts", test.name, "unit") not in self.report.mended:
            self._unit(test, fact)

    def _unit(self, test: Compare, fact: Fact) -> None:
        wanted = {"kg": "kg", "year": "years", "month": "months"}.get(fact.unit, "")
        if wanted and not test.unit:
            number = guards.render(test).rsplit(" ", 1)[1]
            self._say(
                test.value_at, f"the unit is missing: `{test.name}` is in {wanted}", todo=f"write {number} {wanted}"
            )
        elif _DIMENSION.get(test.unit, "") != _DIMENSION.get(fact.unit, ""):
            todo = f"write {wanted}" if wanted else "write the bare number"
            self._say(test.value_at, f"`{test.name}` is not in {test.unit}", wanted or None, todo)

    def _choice(self, test: Choice) -> None:
        names, script = self.names, test.name.removeprefix("this_")
        fact = names.facts.get(test.name)
        if fact is None and test.name.startswith("this_") and script in names.facts:
            fact = names.facts[script]
            if fact.kind != "script":
                self._say(test.at, f"`{script}` is no script", script)
                return
        elif fact is not None and fact.kind == "script":
            self._say(test.at, f"the script `{test.name}` is read one entry at a time", f"this_{test.name}")
            return
        for word, at in zip(test.words, test.words_at, strict=True):
            if word in names.facts and not (fact and word in fact.of):
                self._say(
                    at, f"`{word}` is a fact: facts are compared with constants only", todo="write a word or number"
                )
                return
        if fact is None:
            choices = [name for name, known in names.facts.items() if known.kind == "choice"]
            scripts = [f"this_{name}" for name, known in names.facts.items() if known.kind == "script"]
            self._missing(test.at, test.name, [*choices, *scripts])
        elif not fact.of:
            kind = "number" if fact.kind == "number" else fact.kind
            self._say(test.at, f"`{test.name}` is a {kind} and has no words", todo="compare it as what it is")
        else:
            for word, at in zip(test.words, test.words_at, strict=True):
                if word not in fact.of:
                    near = nearest(word, fact.of)
                    self._say(at, f"`{word}` is no word of `{test.name}`", near, known_words(fact.of))
