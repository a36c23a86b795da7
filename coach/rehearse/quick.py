"""Pads in quick fire: ages and weights on both sides of every boundary of a body's rules, unknowns, wrong pads at hand.

The answer is always what :func:`coach.protocol.pads.decide` says; nothing here knows a rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from coach.engine.plan import draw
from coach.protocol.model import Pads, Protocol
from coach.protocol.pads import BOTH, PadsDecision, PadsRefused, decide
from coach.rehearse.items import NO_SOURCE, Item
from coach.rehearse.options import shuffled
from coach.units import grams, month_parts, quantity_text

LIMIT_MS = 8_000
"""What a choice of pads may take: our own choice, under the limit on any stop of compressions."""

ACTIONS: dict[str, dict[str, str]] = {
    "adult-right-and-left": {"en": "Adult pads, right and left", "es": "Electrodos de adulto, derecha e izquierda"},
    "adult-front-and-back": {"en": "Adult pads, front and back", "es": "Electrodos de adulto, delante y detrás"},
    "paediatric-front-and-back": {"en": "Small pads, front and back", "es": "Electrodos pequeños, delante y detrás"},
    "paediatric-right-and-left": {"en": "Small pads, right and left", "es": "Electrodos pequeños, derecha e izquierda"},
    "other-pads": {"en": "Get other pads, keep pushing meanwhile", "es": "Que traigan otros, mientras se comprime"},
    "wait-to-know": {"en": "Find out age and weight first", "es": "Averigua antes la edad y el peso"},
    "leave-to-crew": {"en": "Leave the pads to the crew", "es": "Deja los electrodos para la ambulancia"},
    "no-unit": {"en": "No pads: push only", "es": "Sin electrodos: solo comprimir"},
    "both-kinds": {"en": "One adult pad, one small pad", "es": "Un electrodo de adulto y uno pequeño"},
}


@dataclass(frozen=True, slots=True)
class Case:
    """A kind of casualty: ages (years) and weights (kg) to draw from as written, None for unknown, and the kit."""

    name: str
    ages: tuple[str | None, ...]
    weights: tuple[str | None, ...]
    kit: tuple[str, ...] = BOTH
    title: str = ""


CASES: tuple[Case, ...] = (
    Case("just-under-weight", ("7.5", "7", "6.5"), ("24.9", "24.5", "23"), title="just under the weight"),
    Case("at-weight", ("8", "8.5", "9"), ("25", "25.1", "26"), title="at the weight and just over"),
    Case("just-under-age", ("7.9", "7.5", "7"), (None,), title="just under the age, weight unknown"),
    Case("at-age", ("8", "8.1", "9"), (None,), title="at the age and just over, weight unknown"),
    Case("only-weight-small", (None,), ("24.9", "20", "12"), title="age unknown, light"),
    Case("only-weight-big", (None,), ("25", "25.1", "40"), title="age unknown, heavy enough"),
    Case("young-and-heavy", ("7", "7.5", "6.5"), ("28", "27", "30"), title="young and heavy: the bodies differ"),
    Case("old-and-light", ("8.5", "9", "10"), ("24.5", "23", "22"), title="older and light: the bodies differ"),
    Case("grown-and-light", ("20", "34", "71"), ("24", "24.9", "24.5"), title="a grown person who is very light"),
    Case("grown", ("45", "62", "80"), ("70", "88", None), title="a grown person"),
    Case("infant", ("0.5", "0.9", "0.25"), ("7", "6.5", "8"), title="an infant"),
    Case("nothing-known", (None,), (None,), title="nothing known"),
    Case("child-no-small-pads", ("4", "5", "6"), ("16", "18", "20"), ("adult",), "a child, only adult pads"),
    Case(
        "grown-only-small", ("45", "62", "80"), ("70", "88", None), ("paediatric",), "a grown person, only small pads"
    ),
    Case(
        "big-child-only-small", ("10", "11", "12"), ("34", "38", "42"), ("paediatric",), "a big child, only small pads"
    ),
)
"""Both sides of 25 kg and of 8 years (the two thresholds that the bodies publish, second-hand), what is unknown, where
ERC and AHA differ, and the wrong pads. A grown person of 24 kg hardly is; that is what the case is for."""


SPANISH: dict[str, str] = {
    "just-under-weight": "justo por debajo del peso",
    "at-weight": "en el peso y apenas por encima",
    "just-under-age": "justo por debajo de la edad, peso sin saber",
    "at-age": "en la edad y apenas por encima, peso sin saber",
    "only-weight-small": "edad sin saber, pesa poco",
    "only-weight-big": "edad sin saber, pesa bastante",
    "young-and-heavy": "menor y pesa mucho: cada guía dice lo suyo",
    "old-and-light": "mayor y pesa poco: cada guía dice lo suyo",
    "grown-and-light": "persona adulta que pesa muy poco",
    "grown": "persona adulta",
    "infant": "bebé",
    "nothing-known": "no se sabe nada",
    "child-no-small-pads": "niño o niña, solo electrodos de adulto",
    "grown-only-small": "persona adulta, solo electrodos pequeños",
    "big-child-only-small": "niño o niña grande, solo electrodos pequeños",
}
"""The cases' titles in Spanish, a draft."""


@dataclass(frozen=True, slots=True)
class Fire:
    """One quick-fire question, drawn: who lies there, what pads are at hand, and what is right."""

    item: str
    age: int | Fraction | None
    weight: int | Fraction | None
    kit: tuple[str, ...]
    decision: PadsDecision
    right: str
    choices: tuple[str, ...]


def items_of(pads: Pads) -> dict[str, Item]:
    """The pads items of a body's file. Why and source come with the decision, when one is drawn (:func:`fire_of`)."""
    made = (
        Item(
            f"{pads.id}:{case.name}", "pads", "pads", case.name,
            {"en": f"Pads: {case.title}", "es": f"Electrodos: {SPANISH[case.name]}"}, False, LIMIT_MS, {}, "",
        )
        for case in CASES
    )  # fmt: skip
    return {item.id: item for item in made}


def why_of(pads: Pads, fire: Fire, language: str) -> str:
    """The rule in a line, and what the kit at hand changes."""
    said = decide(pads, fire.age, fire.weight, fire.kit, confirmed=True, language=language)
    return said.advice or said.why


def source_of(decision: PadsDecision) -> str:
    """The rule's first source with how it was seen."""
    if not decision.sources:
        return NO_SOURCE
    return f"{decision.sources[0].title} ({decision.sources[0].grade})"


def action_of(decision: PadsDecision) -> str:
    """The decision as one of :data:`ACTIONS`."""
    return "other-pads" if decision.size is None else f"{decision.size}-{decision.placement}"


def fire_of(pads: Pads, case: Case, seed: int) -> Fire | None:
    """The case drawn under a body's rules; None where the file refuses such a casualty."""
    age_word = case.ages[draw(seed, f"pads:{case.name}:age", 0, 0, len(case.ages) - 1)]
    weight_word = case.weights[draw(seed, f"pads:{case.name}:weight", 0, 0, len(case.weights) - 1)]
    age = None if age_word is None else month_parts(age_word, "year")
    weight = None if weight_word is None else grams(weight_word, "kg")
    try:
        decision = decide(pads, age, weight, case.kit, confirmed=True)
    except PadsRefused:
        return None
    right = action_of(decision)
    wrong = [
        action
        for action in ACTIONS
        if action != right
        and not also_right(right, action)
        and at_hand(action, case.kit)
        and not (action == "wait-to-know" and age is not None and weight is not None)
    ]
    count = draw(seed, f"pads:{case.name}:count", 0, 3, min(5, len(wrong)))
    picked = shuffled(wrong, seed, f"pads:{case.name}:wrong")[:count]
    # The other size is the mistake that matters: it is always among them where it is possible.
    other = next(
        (a for a in wrong if a.partition("-")[0] in BOTH and a.partition("-")[0] != right.partition("-")[0]), None
    )
    if other is not None and other not in picked:
        picked[-1] = other
    shown = shuffled([right, *picked], seed, f"pads:{case.name}:order")
    return Fire(f"{pads.id}:{case.name}", age, weight, case.kit, decision, right, tuple(shown))


def front_and_back(pads: Pads | None, protocol: Protocol, facts: Mapping[str, Any]) -> bool:
    """Whether the pads of a story's casualty go on front and back, by the body's rules; False where they do not say."""
    known = {name: facts.get(name) for name in ("age", "weight")}
    units = {name: protocol.facts[name].unit for name in known if name in protocol.facts}
    if pads is None or set(units) != set(known):
        return False
    age, weight = (None if known[name] in (None, "unknown") else known[name] for name in ("age", "weight"))
    try:
        found = decide(
            pads,
            None if age is None else month_parts(age, units["age"]),
            None if weight is None else grams(weight, units["weight"]),
            BOTH,
            confirmed=True,
        )
    except PadsRefused:
        return False
    return found.placement == "front-and-back"


def also_right(right: str, action: str) -> bool:
    """Whether an action would be right too: the same pads elsewhere, which is accepted where they do not touch."""
    size = action.partition("-")[0]
    return size in BOTH and right.partition("-")[0] == size


def at_hand(action: str, kit: tuple[str, ...]) -> bool:
    """Whether the pads of an action are there at all."""
    size = action.partition("-")[0]
    if action == "both-kinds":
        return set(BOTH) <= set(kit)
    if action == "other-pads":  # there are no others where both are here
        return not set(BOTH) <= set(kit)
    return size in kit if size in BOTH else True


def who(fire: Fire, language: str) -> str:
    """The casualty and the kit in words."""
    spanish = language == "es"
    unknown = "no se sabe" if spanish else "unknown"
    old = quantity_text(fire.age, "year") if fire.age is not None else unknown
    heavy = quantity_text(fire.weight, "kg") if fire.weight is not None else unknown
    if spanish:
        old = old.replace("years", "años").replace("year", "año").replace("months", "meses").replace("month", "mes")
    kits: dict[tuple[str, ...], tuple[str, str]] = {
        ("adult",): ("Only adult pads are here.", "Solo hay electrodos de adulto."),
        ("paediatric",): ("Only small pads are here.", "Solo hay electrodos pequeños."),
    }
    kit = kits.get(fire.kit, ("Both kinds of pads are here.", "Hay electrodos de los dos tipos."))
    if spanish:
        return f"Edad: {old}. Peso: {heavy}. {kit[1]} ¿Cuáles, y dónde?"
    return f"Age: {old}. Weight: {heavy}. {kit[0]} Which, and where?"
