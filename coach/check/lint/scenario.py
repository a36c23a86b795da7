"""Lint of a scenario: its texts in all their languages, its facts and throws against the protocols that it suits."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import PurePath

from coach.check.lint.said import said_in
from coach.check.lint.sheet import Page
from coach.check.lint.wording import Worded, lint_texts
from coach.protocol.model import Protocol, Scenario, Span
from coach.text import nearest
from coach.units import duration_text, held, quantity_text


def lint_scenario(page: Page, scenario: Scenario, protocols: list[Protocol]) -> None:
    """Report what is wrong in a scenario's texts, facts no protocol of ``protocols`` has, throws that stand twice, and
    a story that gives another age or weight than the facts."""
    lint_texts(page, _texts(scenario), list(scenario.title))
    _facts(page, scenario, protocols)
    _throws(page, scenario)
    _late(page, scenario)
    _place(page, scenario)
    _ages(page, scenario)
    given = scenario.facts.get("rescuers", scenario.rescuers)
    if given != scenario.rescuers:
        what = f"the scenario is for {_many(scenario.rescuers)}, and the fact `rescuers` is {given}"
        page.add("number-said", ("facts", "rescuers"), what, "let both say the same", side="value")


def _many(rescuers: int) -> str:
    return "one rescuer" if rescuers == 1 else f"{rescuers} rescuers"


def _texts(scenario: Scenario) -> Iterator[Worded]:
    for key in ("title", "story", "setting"):
        texts: dict[str, str] = getattr(scenario, key)
        if texts:
            yield Worded((key,), key, texts)


def _facts(page: Page, scenario: Scenario, protocols: list[Protocol]) -> None:
    known = {name for protocol in protocols for name in protocol.facts}
    for name in scenario.facts:
        if protocols and name not in known:
            near = nearest(name, known - scenario.facts.keys()) or nearest(name, known)
            help_ = f"did you mean `{near}`?" if near else "take it out: nothing reads it"
            page.add("unknown-name", ("facts", name), f"no protocol that it suits has the fact `{name}`", help_)


def _throws(page: Page, scenario: Scenario) -> None:
    """An inject that stands twice: a digit throws one, as often as the protocol allows, and that is all it takes."""
    seen: dict[str, int] = {}
    for index, throw in enumerate(scenario.throw):
        if throw.name not in seen:
            seen[throw.name] = throw.digit
        elif throw.digit != seen[throw.name]:
            what = f"`{throw.name}` is thrown by the digit {seen[throw.name]} already"
            help_ = "keep one of the two: a digit throws as often as the inject allows"
            page.add("throw-twice", ("throw", index, "digit"), what, help_, side="value")
        else:
            what = f"`{throw.name}` stands here already, by the same digit"
            page.add("throw-twice", ("throw", index, "name"), what, "take one of the two out", side="value")


LONG_MS = 30 * 60_000
"""No drill lasts that long (a choice of this program): what is thrown later is never thrown."""


def _late(page: Page, scenario: Scenario) -> None:
    for index, throw in enumerate(scenario.throw):
        at = throw.at.to if isinstance(throw.at, Span) else throw.at
        if at is not None and at > LONG_MS:
            what = f"`{throw.name}` comes by itself after {duration_text(at)}, and no drill lasts that long"
            page.add("throw-late", ("throw", index, "at"), what, "is the unit right?", side="value")


def _place(page: Page, scenario: Scenario) -> None:
    """In a library a scenario is found by its folder and file, and a log names it by its id."""
    path = PurePath(page.file)
    if len(path.parts) > 2 and path.parts[-3] == "scenarios":
        place = f"{path.parts[-2]}/{path.stem}"
        if scenario.id != place:
            what = f"the file is found as `{place}`, and its id is `{scenario.id}`"
            page.add("id-elsewhere", ("id",), what, "let both say the same", side="value")


# --- the story against the facts --------------------------------------------------------------------------------------

_OF = re.compile(r"\b(?:an?|the)\s+(?:[\w'-]+\s+){1,3}of\s+$|,\s+$|\baged\s+$", re.IGNORECASE)
"""What stands before an age without a unit in English: a man of 58, the market master, 72."""


def _ages(page: Page, scenario: Scenario) -> None:
    for name, units in (("age", ("year", "month")), ("weight", ("kg",))):
        value = scenario.facts.get(name)
        if value is None or isinstance(value, (bool, list)) or value == "unknown":
            continue
        try:
            fact = held(value, "year" if name == "age" else "kg")
        except ValueError:  # told by the protocol's own check
            continue
        for language, text in scenario.story.items():
            told = list(_told(text, language, units))
            if told and fact not in (amount for amount, _ in told):
                amount, at = told[0]
                given = quantity_text(fact, units[0])
                what = f"the story says {quantity_text(amount, units[0])}, and the fact `{name}` is {given}"
                page.add("number-said", ("story", language), what, "mend the story, or the fact", (), "value", at)


_PARTS = {"year": 12_000, "month": 1_000, "kg": 1_000}
"""Held parts in each unit."""


def _told(text: str, language: str, units: tuple[str, ...]) -> Iterator[tuple[int, int]]:
    """Ages or weights that a story gives, in held parts, and where."""
    for one in said_in(text, language):
        if one.unit in units:
            yield round(one.number * _PARTS[one.unit]), one.at
        elif one.unit == "" and "year" in units and language.startswith("en") and _OF.search(text[: one.at]):
            yield round(one.number * _PARTS["year"]), one.at
