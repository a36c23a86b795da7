"""Facts: that each can be held, that its default fits, and that a scenario's value does."""

from __future__ import annotations

from collections.abc import Container, Mapping

from coach.protocol.model import Counter, Fact
from coach.protocol.positions import Path
from coach.protocol.report import Report, known_words
from coach.text import nearest
from coach.units import held, quantity_text

UNKNOWN = "unknown"
"""The word by which a scenario says that a fact is not known."""


def check_facts(
    facts: Mapping[str, Fact], counters: Mapping[str, Counter], report: Report, defaults: bool = True
) -> None:
    """Report facts that no guard could read rightly; with ``defaults``, also those that a bare drill could not set."""
    for name, fact in facts.items():
        path: Path = ("facts", name)
        if name.startswith("this_"):
            report.at_key(path, "names that begin with this_ read scripts", todo="give the fact another name")
        if fact.kind == "number":
            _check_number(path, fact, report)
        elif fact.kind in ("choice", "script"):
            if not fact.of:
                report.lacks(
                    path, ("of",), f"`of` is missing: a {fact.kind} needs its words", 'add of = ["one", "other"]'
                )
            for index, word in enumerate(fact.of):
                if word == UNKNOWN or word in fact.of[:index]:
                    why = "unknown is no word of a choice" if word == UNKNOWN else f"`{word}` stands twice"
                    todo = "write may_be_unknown = true" if word == UNKNOWN else "name each word once"
                    report.at_value((*path, "of", index), why, todo=todo)
        _check_extras(path, fact, counters, report)
        if fact.default is not None:
            check_value((*path, "default"), fact, fact.default, report)
        elif defaults and not fact.may_be_unknown:
            todo = "add default = …, for drills without a scenario, or may_be_unknown = true"
            report.lacks(path, ("default", "may_be_unknown"), f"the fact `{name}` has no default", todo)


def _check_extras(path: Path, fact: Fact, counters: Container[str], report: Report) -> None:
    if fact.kind == "script":
        if not fact.counter:
            report.lacks(path, ("counter",), "`counter` is missing: it says which entry is in force", "add counter = …")
        elif fact.counter and fact.counter not in counters and "counters" not in report.doubtful:
            near = nearest(fact.counter, counters) if isinstance(counters, Mapping) else None
            report.at_value((*path, "counter"), f"unknown counter `{fact.counter}`", near)
    if fact.kind != "number" and fact.unit:
        report.at_value((*path, "unit"), f"a {fact.kind} has no unit", todo="take the unit out")


def _check_number(path: Path, fact: Fact, report: Report) -> None:
    bounds: dict[str, int] = {}
    for key, bound in (("from", fact.from_), ("to", fact.to)):
        if bound is None:
            report.lacks(path, (key,), f"`{key}` is missing: a number needs its bounds", f"add {key} = …")
            continue
        try:
            bounds[key] = held(bound, fact.unit)
        except ValueError as error:
            report.at_value((*path, key), str(error))
    if len(bounds) == 2 and bounds["from"] > bounds["to"]:
        report.at_value((*path, "to"), "the range ends before it begins", todo="write the smaller bound as from")
        report.mended.add((*path, "default"))  # nothing could be inside it


def check_value(path: Path, fact: Fact, value: bool | float | str | list[str], report: Report) -> None:
    """Report a value that a fact cannot take."""
    if value == UNKNOWN:
        if not fact.may_be_unknown:
            report.at_value(path, "this fact is always known", todo="give a value, or write may_be_unknown = true")
    elif fact.kind == "flag":
        if not isinstance(value, bool):
            report.at_value(path, "true or false is needed here")
    elif fact.kind == "choice":
        _check_word(path, fact, value, report)
    elif fact.kind == "script":
        if not isinstance(value, list) or not value:
            report.at_value(path, "a list of words is needed here")
        else:
            for index, word in enumerate(value):
                _check_word((*path, index), fact, word, report)
            if len(value) > fact.length:
                report.at_value(path, f"{len(value)} entries; the script has at most {fact.length}", todo="shorten it")
    else:
        _check_range(path, fact, value, report)


def _check_word(path: Path, fact: Fact, word: object, report: Report) -> None:
    if not isinstance(word, str):
        report.at_value(path, "a word of the choice is needed here", todo=known_words(fact.of))
    elif fact.of and word not in fact.of:
        report.at_value(path, f"`{word}` is no word of this choice", nearest(word, fact.of), known_words(fact.of))


def _check_range(path: Path, fact: Fact, value: bool | float | str | list[str], report: Report) -> None:
    if isinstance(value, (bool, list)):
        report.at_value(path, "a number is needed here")
        return
    try:
        number = held(value, fact.unit)
        low = None if fact.from_ is None else held(fact.from_, fact.unit)
        high = None if fact.to is None else held(fact.to, fact.unit)
    except ValueError as error:
        report.at_value(path, str(error))
        return
    if (low is not None and number < low) or (high is not None and number > high):
        within = " to ".join(quantity_text(bound, fact.unit) for bound in (low, high) if bound is not None)
        report.at_value(path, f"{quantity_text(number, fact.unit)} is out of range", todo=f"the range is {within}")
