"""Which pads, and where, for an age and a weight: the rules stand in a body's pads file, the kit at hand comes after.

It is teaching, and advice for nobody's care.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Literal, TypeAlias

from coach.protocol.guards import Layout, compile_guard, parse
from coach.protocol.model import Fact, Pads, PadsRule, Source, Wording
from coach.units import held, quantity_text

Size = Literal["adult", "paediatric"]
Placement = Literal["right-and-left", "front-and-back"]
Amount: TypeAlias = int | Fraction
BOTH: tuple[Size, ...] = ("adult", "paediatric")

_ADVICE: dict[str, dict[str, str]] = {
    "no-paediatric": {
        "en": "No small pads here: adult pads, front and back, not touching. Never hold the shock back.",
        "es": "No hay electrodos pequeños: los de adulto, delante y detrás, sin tocarse. No se retrasa la descarga.",
    },
    "only-paediatric": {
        "en": "Small pads are not used on an adult: get adult pads, keep compressing.",
        "es": "Los electrodos pequeños no se usan en un adulto: trae los de adulto, sigue comprimiendo.",
    },
    "nothing-known": {
        "en": "Only small pads here: use them if it is plainly a small child; else get adult pads, keep compressing.",
        "es": "Solo los hay pequeños: úsalos si es claramente un niño pequeño; si no, trae los de adulto y comprime.",
    },
    "no-pads": {
        "en": "No pads here: get some, keep compressing.",
        "es": "No hay electrodos: trae unos, sigue comprimiendo.",
    },
}
"""What the kit at hand changes. No small pads: ERC and RCUK 2025 use the unit as for adults, AHA 2025 says it may be
considered, the Red Cross asks that pads do not touch (second-hand). Never small pads on an adult: too little energy
(read in a workplace handbook). The Spanish is a draft."""


class PadsRefused(ValueError):
    """An age or weight that no decision is made for; the text says why."""


class NeedsConfirming(PadsRefused):
    """An age and a weight that hardly go together: a person has to say that both are meant."""


@dataclass(frozen=True, slots=True)
class PadsDecision:
    """Which pads, and where.

    ``size`` and ``placement`` are None where the pads at hand are not to be used. ``rule`` is the rule that fired,
    ``why`` its words. ``other_rule`` is what the other fact alone would have fired, None where that fact is not known;
    ``disagrees`` is true where it would have chosen another size. ``advice`` is what the kit at hand changes, or "".
    """

    size: Size | None
    placement: Placement | None
    rule: str
    why: str
    other_rule: str | None
    disagrees: bool
    sources: tuple[Source, ...]
    advice: str

    def as_dict(self) -> dict[str, Any]:
        """The decision as plain values, for JSON."""
        return {
            "size": self.size,
            "placement": self.placement,
            "rule": self.rule,
            "why": self.why,
            "other_rule": self.other_rule,
            "disagrees": self.disagrees,
            "advice": self.advice,
            "sources": [{"title": source.title, "grade": source.grade} for source in self.sources],
        }


def decide(
    pads: Pads,
    age: Amount | None,
    weight: Amount | None,
    have: Sequence[str] = BOTH,
    *,
    confirmed: bool = False,
    language: str = "en",
) -> PadsDecision:
    """The decision for an ``age`` in thousandths of a month and a ``weight`` in grams, None for unknown.

    ``have`` names the sizes of pads at hand. Fractions are exact: 55 lb decides as 24 947.580 35 g. Raises PadsRefused
    for a value out of the file's range, and NeedsConfirming for an implausible pair unless ``confirmed``.
    """
    _check_range(pads, "year", "age", age)
    _check_range(pads, "kg", "weight", weight)
    if age is not None and weight is not None and not confirmed:
        _check_pair(age, weight)
    fired = rule_for(pads, age, weight)
    other = _second_opinion(pads, fired, age, weight)
    size, placement, note = _with_kit(fired, have, known=age is not None or weight is not None)
    return PadsDecision(
        size,
        placement,
        fired.id,
        _worded(fired.why, language),
        other.id if other else None,
        other is not None and other.size != fired.size,
        tuple(pads.sources[name] for name in fired.source if name in pads.sources),
        _worded(_ADVICE[note], language) if note else "",
    )


def _worded(wording: Wording, language: str) -> str:
    return wording.get(language) or wording.get("en") or next(iter(wording.values()), "")


def _is_kind(fact: Fact, unit: str) -> bool:
    return fact.unit == unit or (unit == "year" and fact.unit == "month")


def rule_for(pads: Pads, age: Amount | None, weight: Amount | None) -> PadsRule:
    """The first rule whose guard holds; a file that was read ends with a rule that always does."""
    for rule in pads.rule:
        if rule_holds(pads, rule, age, weight):
            return rule
    raise PadsRefused(f"no rule of {pads.id} holds")


def rule_holds(pads: Pads, rule: PadsRule, age: Amount | None, weight: Amount | None) -> bool:
    """Whether the guard of one rule holds, whatever stands before it."""
    layout = Layout(
        facts={name: (index, fact) for index, (name, fact) in enumerate(pads.facts.items())},
        terms={name: parse(text) for name, text in pads.terms.items()},
    )
    facts = [age if _is_kind(f, "year") else weight if _is_kind(f, "kg") else None for f in pads.facts.values()]
    return not rule.when or bool(compile_guard(parse(rule.when), layout)(None, facts))


def _second_opinion(pads: Pads, fired: PadsRule, age: Amount | None, weight: Amount | None) -> PadsRule | None:
    """The rule that the fact which did not decide would have fired alone."""
    if age is None or weight is None:
        return None
    by_age, by_weight = rule_for(pads, age, None), rule_for(pads, None, weight)
    if fired.id == by_weight.id:
        return by_age
    if fired.id == by_age.id:
        return by_weight
    return by_age if by_age.size != fired.size else by_weight


def _with_kit(fired: PadsRule, have: Sequence[str], known: bool) -> tuple[Size | None, Placement | None, str]:
    if fired.size in have:
        return fired.size, fired.placement, ""
    if fired.size == "paediatric" and "adult" in have:
        return "adult", "front-and-back", "no-paediatric"
    if "paediatric" not in have:
        return None, None, "no-pads"
    return None, None, "only-paediatric" if known else "nothing-known"


# --- what is refused --------------------------------------------------------------------------------------------------


def _check_range(pads: Pads, unit: str, what: str, value: Amount | None) -> None:
    if value is None:
        return
    for fact in pads.facts.values():
        if not _is_kind(fact, unit) or fact.from_ is None or fact.to is None:
            continue
        low, high = held(fact.from_, fact.unit), held(fact.to, fact.unit)
        if not low <= value <= high:
            bounds = f"{quantity_text(low, fact.unit)} to {quantity_text(high, fact.unit)}"
            raise PadsRefused(f"{what} {quantity_text(value, fact.unit)} is out of range: {bounds}")


OLDEST_ESTIMATE = 14
"""Years: the end of the oldest range of the published formulas. Above it its lower bound goes on, and no upper."""

LEAST_SHARE = Fraction(2, 5)
MOST_TIMES = 3
"""How far below the least and above the greatest published estimate a weight still passes unasked. Our own choice,
wide on purpose: the formulas miss by a third (mean error of the oldest one at 1 to 16 years, read), and the question
is for a slip of the keyboard or of the unit, never for a child who is heavy or light."""


def _estimates(years: Fraction) -> list[Fraction]:
    """Published estimates of the weight in kg at an age, each read in a quotation of its source.

    APLS 2011: months/2 + 4 under a year, 2a + 8 to 5 years, 3a + 7 from 6. Best Guess (Tinning and Acworth 2007):
    (months + 9)/2, 2(a + 5) to 5 years, 4a from 5. APLS 2005: 2(a + 4) from 1 year. Luscombe and Owens 2007: 3a + 7.
    """
    if years < 1:
        months = years * 12
        return [months / 2 + 4, (months + 9) / 2]
    best_guess = 2 * (years + 5) if years < 5 else 4 * years
    apls = 2 * years + 8 if years < 6 else 3 * years + 7
    return [apls, best_guess, 2 * (years + 4), 3 * years + 7]


def plausible_weights(age: Amount) -> tuple[Fraction, Fraction | None]:
    """The least and greatest weight in grams that pass unasked at an age (thousandths of a month)."""
    years = Fraction(age) / 12_000
    estimates = _estimates(min(years, Fraction(OLDEST_ESTIMATE)))
    greatest = None if years > OLDEST_ESTIMATE else max(estimates) * MOST_TIMES * 1_000
    return min(estimates) * LEAST_SHARE * 1_000, greatest


def _check_pair(age: Amount, weight: Amount) -> None:
    least, greatest = plausible_weights(age)
    if weight < least or (greatest is not None and weight > greatest):
        pair = f"{quantity_text(age, 'year')} and {quantity_text(weight, 'kg')}"
        upper = f" to {quantity_text(greatest, 'kg')}" if greatest is not None else " upwards"
        hint = f"about {quantity_text(least, 'kg')}{upper} would pass unasked"
        raise NeedsConfirming(f"{pair} hardly go together ({hint}): confirm that both are meant")
