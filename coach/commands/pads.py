"""``kneeside pads``: which pads, and where, from what was typed."""

from __future__ import annotations

from fractions import Fraction

from coach.commands.words import FINE, Refused, remark, say, say_json
from coach.units import grams, month_parts

UNKNOWN = "unknown"


def _age(age: str, months: str) -> Fraction | None:
    """Thousandths of a month from years, months or both; None for unknown."""
    if age == UNKNOWN and not months:
        return None
    try:
        years = Fraction(0) if age == UNKNOWN else month_parts(age, "year")
        return years + (month_parts(months, "month") if months else 0)
    except ValueError as error:
        todo = "Write --age 7.5, or --months 6, or leave both out for unknown."
        raise Refused(f"the age cannot be read: {error}", todo=todo) from error


def _weight(weight: str) -> Fraction | None:
    """Grams; None for unknown."""
    if weight == UNKNOWN:
        return None
    try:
        return grams(weight)
    except ValueError as error:
        todo = "Write --weight 24.9kg or --weight 55lb, or leave it out for unknown."
        raise Refused(f"the weight cannot be read: {error}", todo=todo) from error


def _guidance(named: str) -> str:
    """The guidance to decide by; where nobody chose one, that is said."""
    if named:
        return named
    from coach.settings import read_settings

    settings = read_settings()
    if not settings.found:
        remark(f"No guidance was named and there are no settings: {settings.guidance} is used.")
    return settings.guidance


def pads(
    *,
    age: str,
    weight: str,
    months: str,
    guidance: str,
    no_paediatric: bool,
    only_paediatric: bool,
    confirmed: bool,
    json: bool,
) -> int:
    """Print the decision, the rule behind it, and the other rule where it disagrees."""
    if no_paediatric and only_paediatric:
        raise Refused("no paediatric pads and only paediatric pads cannot both be", todo="Leave one of the two out.")
    old, heavy = _age(age, months), _weight(weight)
    from coach.protocol.library import load_pads
    from coach.protocol.pads import NeedsConfirming, PadsRefused, decide

    rules, _ = load_pads(_guidance(guidance))
    have = ("adult",) if no_paediatric else ("paediatric",) if only_paediatric else ("adult", "paediatric")
    try:
        made = decide(rules, old, heavy, have, confirmed=confirmed)
    except NeedsConfirming as error:
        raise Refused(str(error), todo="With --confirm they are taken as they are.") from error
    except PadsRefused as error:
        raise Refused(str(error)) from error
    if json:
        say_json({"guidance": rules.guidance, **made.as_dict()})
        return FINE
    where = (made.placement or "").replace("-", " ")
    say(f"{made.size} pads, {where}" if made.size else "these pads are not used")
    if made.advice:
        say(made.advice)
    say(f"{made.why} (rule {made.rule}, after {rules.guidance}, not endorsed)")
    for source in made.sources:
        say(f"source: {source.title} ({source.grade})")
    if made.disagrees:
        say(f"the other rule, {made.other_rule}, would choose the other size")
    say("It is teaching: no advice for a real person.")
    return FINE
