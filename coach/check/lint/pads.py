"""Lint of a pads file: rules that never decide, and reasons that say another age or weight than their guards."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from coach.check.lint.said import SIZES, said_in, sizes
from coach.check.lint.sheet import Page
from coach.check.lint.wording import Worded, lint_texts
from coach.protocol import guards
from coach.protocol.guards import Expr, Name
from coach.protocol.model import Pads, PadsRule
from coach.protocol.pads import rule_for, rule_holds
from coach.units import held

_HELD = {"kg": 1_000, "year": 12_000, "month": 1_000}


def lint_pads(page: Page, pads: Pads) -> None:
    """Report rules that no age and weight ever come to, reasons against their guards, texts that lack a language."""
    texts = [Worded(("rule", index, "why"), "reason", rule.why) for index, rule in enumerate(pads.rule)]
    lint_texts(page, texts, list(dict.fromkeys(language for one in texts for language in one.texts)))
    terms = {name: guards.parse(text) for name, text in pads.terms.items()}
    cases = list(_cases(pads, terms))
    _dead(page, pads, cases)
    for index, rule in enumerate(pads.rule):
        _reason(page, pads, index, rule, terms, cases)


Case = tuple[Fraction | None, Fraction | None]
"""An age in thousandths of a month and a weight in grams; None for unknown."""


def _cases(pads: Pads, terms: dict[str, Expr]) -> Iterator[Case]:
    """One case for each way in which the guards can come out: every border, and both sides of it."""
    exprs = [*terms.values(), *(guards.parse(rule.when) for rule in pads.rule if rule.when)]
    known = sizes(exprs)
    ages = {Fraction(value) * _HELD[unit] for unit in ("year", "month") for value in known[unit]}
    weights = {Fraction(value) * _HELD["kg"] for value in known["kg"]}
    for age in _around(pads, ("year", "month"), ages):
        for weight in _around(pads, ("kg",), weights):
            yield age, weight


def _around(pads: Pads, units: tuple[str, ...], borders: set[Fraction]) -> list[Fraction | None]:
    """Unknown, every border with a value on each side, and the ends of the range."""
    facts = [fact for fact in pads.facts.values() if fact.unit in units]
    ends = {Fraction(held(end, fact.unit)) for fact in facts for end in (fact.from_, fact.to) if end is not None}
    values = sorted({value + step for value in borders for step in (-1, 0, 1)} | ends)
    inside = [value for value in values if not ends or min(ends) <= value <= max(ends)]
    return [None, *inside]


def _dead(page: Page, pads: Pads, cases: list[Case]) -> None:
    used = {rule_for(pads, age, weight).id for age, weight in cases}
    always = next((number for number, rule in enumerate(pads.rule) if not rule.when), len(pads.rule))
    for index, rule in enumerate(pads.rule):
        if rule.id not in used:
            what = f"the rule `{rule.id}` never decides: those before it take every age and weight"
            if index > always:
                what = f"the rule `{rule.id}` never decides: `{pads.rule[always].id}` before it has no when"
            page.add("pads-dead", ("rule", index, "id"), what, "put it before them, or take it out", side="value")


# --- reasons ----------------------------------------------------------------------------------------------------------

_UNDER = {
    "en": re.compile(r"\b(?:under|below|less than|up to)\s+(?:about\s+)?$", re.IGNORECASE),
    "es": re.compile(r"\b(?:menos de|por debajo de)\s+(?:unos\s+)?$", re.IGNORECASE),
}
_FROM = {
    "en": re.compile(r"^\S+\s+\S+\s+(?:or|and)\s+(?:more|over|older|heavier)", re.IGNORECASE),
    "es": re.compile(r"^\S+\s+\S+\s+o\s+más", re.IGNORECASE),
}
"""What stands before and behind an age or a weight that is a limit from above, or from below."""


_OTHER: dict[str, dict[str, re.Pattern[str]]] = {
    "en": {
        "adult": re.compile(r"\b(?:small|paediatric|pediatric) pads", re.IGNORECASE),
        "paediatric": re.compile(r"\b(?:adult|standard) pads", re.IGNORECASE),
        "right-and-left": re.compile(r"\bfront and back", re.IGNORECASE),
        "front-and-back": re.compile(r"\bright and left", re.IGNORECASE),
    },
    "es": {
        "adult": re.compile(r"\b(?:parches|electrodos) (?:pequeños|pediátricos|infantiles)", re.IGNORECASE),
        "paediatric": re.compile(r"\b(?:parches|electrodos) (?:de adulto|normales)", re.IGNORECASE),
        "right-and-left": re.compile(r"\bdelante y detrás", re.IGNORECASE),
        "front-and-back": re.compile(r"\bderecha e izquierda", re.IGNORECASE),
    },
}
"""By what a rule chooses: words of its reason that speak of the other."""


def _reason(page: Page, pads: Pads, index: int, rule: PadsRule, terms: dict[str, Expr], cases: list[Case]) -> None:
    """Ages and weights in the reason of a rule against its guard: whether it has them, and on which side it holds; and
    pads and places that are not those that it chooses."""
    for language, text in rule.why.items():
        for chosen, pattern in _OTHER.get(language.partition("-")[0], {}).items():
            found = pattern.search(text)
            if found and chosen in (rule.size, rule.placement):
                what = f"the reason says `{found[0]}`, and the rule chooses {chosen}"
                path = ("rule", index, "why", language)
                page.add("pads-reason", path, what, "mend the reason, or what is chosen", (), "value", found.start())
    known = sizes(_through(guards.parse(rule.when), terms)) if rule.when else {unit: set() for unit in SIZES}
    for language, text in rule.why.items():
        code = language.partition("-")[0]
        for one in said_in(text, language):
            if one.unit not in SIZES:
                continue
            what = ""
            if one.number not in known[one.unit]:
                has = ", ".join(f"{value:g} {unit}" for unit, values in known.items() for value in sorted(values))
                what = f"the reason says {one.number:g} {one.unit}, and the guard has {has or 'no such number'}"
            elif code in _UNDER and _UNDER[code].search(text[: one.at]):
                what = _side(pads, rule, cases, one.number, one.unit, under=True)
            elif code in _FROM and _FROM[code].search(text[one.at :]):
                what = _side(pads, rule, cases, one.number, one.unit, under=False)
            if what:
                help_ = "mend the reason, or the guard"
                page.add("number-said", ("rule", index, "why", language), what, help_, (), "value", one.at)


def _through(expr: Expr, terms: dict[str, Expr]) -> list[Expr]:
    """A guard and the terms that it names."""
    found, waiting, seen = [expr], [expr], set[str]()
    while waiting:
        for test in guards.tests(waiting.pop()):
            if isinstance(test, Name) and test.name in terms and test.name not in seen:
                seen.add(test.name)
                found.append(terms[test.name])
                waiting.append(terms[test.name])
    return found


def _side(pads: Pads, rule: PadsRule, cases: list[Case], number: float, unit: str, under: bool) -> str:
    """Where the rule holds on the other side of a limit than its reason has it."""
    limit = Fraction(number) * _HELD[unit]
    for age, weight in cases:
        value = weight if unit == "kg" else age
        if value is not None and (value >= limit) is under and rule_holds(pads, rule, age, weight):
            side = "under" if under else "from"
            where = "from there on" if under else "below it"
            return f"the reason says {side} {number:g} {unit}, and the guard holds {where} too"
    return ""
