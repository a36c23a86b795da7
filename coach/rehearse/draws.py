"""Drawing a story: a place that the library has, a casualty who could lie there, and a machine's plan for both.

Everything is fixed by the seed. Nothing impossible is drawn: what a place brings along (water, metal, food) comes only
with that place, what a body brings along only at an age at which it is likely. Sensitive stories come only
where they were asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.drill.setup import words_of
from coach.engine.plan import Plan, PlanProblem, draw, resolve
from coach.protocol.model import Fact, Protocol, Scenario
from coach.rehearse.items import NO_SHOCK, Listing
from coach.text import one_line
from coach.units import MONTH_PARTS_PER, month_parts

MOST_WORDS = 40

BODILY: dict[str, int] = {"patch": 35, "implant": 45}
"""Facts that may be added to a casualty of any place, from this age on (years): our own choice of what is likely."""

A_YEAR = 12
GROWN = 18 * A_YEAR
"""Months. From this one on a story's age and weight may be drawn a little off:
a child's decide about pads and stay as the story has them."""

OF_PLACES = frozenset({"chest", "metal", "drowning", "choking", "hair", "bystander", "pregnancy", "pregnant", "opioid",
                       "overdose", "breaths", "place", "stoma"})  # fmt: skip
"""Facts that belong to a scenario's story and are taken from it as they are."""

_SENTENCES: dict[str, dict[str, str]] = {
    "wet": {"en": "The chest is wet.", "es": "El pecho está mojado."},
    "metal": {"en": "The floor is metal.", "es": "El suelo es de metal."},
    "drowning": {"en": "They have just been pulled out of the water.", "es": "Acaban de sacarlo del agua."},
    "choking": {"en": "They choked on food before they fell.", "es": "Se atragantó con comida antes de caer."},
    "hair": {"en": "Thick hair where a pad goes.", "es": "Mucho vello donde va un electrodo."},
    "pregnant": {"en": "They are visibly pregnant.", "es": "El embarazo se ve."},
    "opioid": {"en": "It looks like an opioid overdose.", "es": "Parece una sobredosis de opioides."},
    "stoma": {"en": "They breathe through the neck.", "es": "Respira por el cuello."},
    "tight": {"en": "There is hardly room to kneel.", "es": "Apenas hay sitio para arrodillarse."},
    "bed": {"en": "They lie in a soft bed.", "es": "Está en una cama blanda."},
    "patch": {
        "en": "A medicine patch sits where a pad goes.",
        "es": "Hay un parche de medicina donde va un electrodo.",
    },
    "implant": {"en": "A bulge under the left collarbone.", "es": "Un bulto bajo la clavícula izquierda."},
    "bystander": {"en": "Others stand around.", "es": "Hay gente alrededor."},
    "alone": {"en": "You are alone with them.", "es": "Estás solo con la persona."},
    "two": {"en": "Two of you, both trained.", "es": "Dos personas, con formación."},
}


@dataclass(frozen=True, slots=True)
class Drawn:
    """One story: where, who, and the plan for the engine. ``unit_at_ms`` is when the unit comes at the earliest."""

    scenario: str
    words: dict[str, str]
    facts: dict[str, Any]
    plan: Plan
    unit_at_ms: int
    title: dict[str, str]


def facts_of(protocol: Protocol, scenario: Scenario | None) -> dict[str, Any]:
    """The casualty's facts as a scenario gives them, else the file's defaults."""
    given = scenario.facts if scenario is not None else {}
    facts: dict[str, Any] = {name: given.get(name, fact.default) for name, fact in protocol.facts.items()}
    if scenario is None and "bystander" in facts:
        facts["bystander"] = True  # where no place is told, people stand around who can touch and be sent
    rescuers = protocol.facts.get("rescuers")
    if rescuers is not None and rescuers.default is not None:
        facts["rescuers"] = rescuers.default  # the protocol says how many are meant, the place only where
    return facts


def months_of(protocol: Protocol, facts: Mapping[str, Any]) -> float | None:
    """The casualty's age in months; None where nobody knows it, or the protocol knows no ages."""
    fact, raw = protocol.facts.get("age"), facts.get("age")
    if fact is None or raw is None or raw == "unknown":
        return None
    return float(month_parts(raw, fact.unit) / MONTH_PARTS_PER["month"])


def usable(protocol: Protocol, scenarios: Iterable[Scenario], *, sensitive: bool = False) -> tuple[Scenario, ...]:
    """The stories that may be drawn: none that the protocol is not for (another casualty, or more rescuers than it
    means), and a sensitive one only where it was asked for. Whoever chose a child's file has asked for them."""
    found: list[Scenario] = []
    asked: list[Scenario] = []
    meant = protocol.facts.get("rescuers")
    for one in scenarios:
        there = one.facts.get("rescuers")
        alone = meant.default if meant is not None else None
        if isinstance(alone, (int, float)) and isinstance(there, (int, float)) and there > alone:
            continue
        try:
            plan_for(protocol, facts_of(protocol, one), 0)
        except PlanProblem:
            continue
        (asked if one.sensitive and not sensitive else found).append(one)
    return tuple(found or asked)


def suits(item_facts: Iterable[str], protocol: Protocol, facts: Mapping[str, Any]) -> bool:
    """Whether a casualty with these facts can bring the decision about that needs ``item_facts``."""
    return all(
        is_so(protocol.facts[name], facts.get(name)) or (name in BODILY and may_have(protocol, name))
        for name in item_facts
    )


def may_have(protocol: Protocol, name: str) -> bool:
    """Whether a bodily fact is likely at some age that the protocol is for."""
    age = protocol.facts.get("age")
    return age is None or age.to is None or month_parts(age.to, age.unit) >= BODILY[name] * MONTH_PARTS_PER["year"]


def is_so(fact: Fact, value: Any) -> bool:
    """Whether a flag is set, or a choice stands at something else than its default."""
    return bool(value is True or (fact.kind == "choice" and value not in (None, fact.default)))


def impossible(protocol: Protocol, scenario: Scenario | None, facts: Mapping[str, Any]) -> list[str]:
    """What could not be: every broken constraint in words, for the draw and for its tests alike."""
    found: list[str] = []
    told = facts_of(protocol, scenario)
    found += [f"{name} is not this place's" for name in OF_PLACES if name in facts and facts[name] != told.get(name)]
    months = months_of(protocol, facts)
    age = 0 if months is None else int(months / A_YEAR)
    for name, youngest in BODILY.items():
        if facts.get(name) is True and months is not None and age < youngest and told.get(name) is not True:
            found.append(f"{name} at {age}")
    if facts.get("drowning") is True and facts.get("chest", "wet") == "dry":
        found.append("out of the water with a dry chest")
    if (facts.get("pregnancy") is True or facts.get("pregnant") is True) and months is not None and not 14 <= age <= 50:
        found.append(f"pregnant at {age}")
    return found


def needs(listing: Listing, item: str) -> frozenset[str]:
    """The facts that an item asks of the casualty."""
    one = listing.items[item]
    if one.kind == "inject":
        inject = listing.protocol.inject[one.name]
        if "mouth_cleared" in inject.allowed:
            return frozenset({"choking"}) & frozenset(listing.protocol.facts)
        if inject.cause == "bystander":  # nobody stands around who is alone
            return frozenset({"bystander"}) & frozenset(listing.protocol.facts)
    return one.suits


def bars(listing: Listing, item: str) -> frozenset[str]:
    """The facts that make an item another one: the plain start is asked of people who did not drown or choke."""
    stem = listing.items[item].id
    return frozenset(other.partition("@")[2] for other in listing.items if other.startswith(f"{stem}@")) & frozenset(
        listing.protocol.facts
    )


def fits(listing: Listing, item: str, facts: Mapping[str, Any]) -> bool:
    """Whether a story with these facts can ask the item."""
    protocol = listing.protocol
    if any(is_so(protocol.facts[name], facts.get(name)) for name in bars(listing, item)):
        return False
    one = listing.items[item]
    if one.kind == "inject" and not listing.by_facts(protocol.inject[one.name].when, facts):
        return False
    if one.kind == "step":
        track, _, step = one.name.partition("@")[0].partition(".")
        if not listing.by_facts(protocol.track[track].step[step].when, facts):
            return False
    return suits(needs(listing, item), protocol, facts)


def askable(listing: Listing, scenarios: Sequence[Scenario]) -> frozenset[str]:
    """The items that some story can ask."""
    stories = [facts_of(listing.protocol, one) for one in (*scenarios, None)]
    return frozenset(item for item in listing.items if any(fits(listing, item, facts) for facts in stories))


def draw_story(
    listing: Listing, scenarios: Sequence[Scenario], wanted: Sequence[str], seed: int, number: int
) -> tuple[Drawn, tuple[str, ...]]:
    """A story in which as many as possible of the ``wanted`` items, the first above all, can be asked; and those.

    ``scenarios`` are :func:`usable` ones; ``number`` counts the stories of one sitting.
    """
    protocol = listing.protocol
    candidates: list[Scenario | None] = list(scenarios)
    if not candidates or (wanted and not any(fits(listing, wanted[0], facts_of(protocol, one)) for one in candidates)):
        candidates.append(None)
    ranked: list[tuple[int, int, int, Scenario | None]] = []
    for place, one in enumerate(candidates):
        facts = facts_of(protocol, one)
        able = sum(fits(listing, item, facts) for item in wanted)
        first = int(bool(wanted) and fits(listing, wanted[0], facts))
        ranked.append((-first, -able, draw(seed, f"story:{number}", place, 0, 1_000_000), one))
    scenario = min(ranked, key=lambda entry: entry[:3])[3]
    facts = facts_of(protocol, scenario)
    bodily = {name for item in wanted for name in needs(listing, item) if name in BODILY and fits(listing, item, facts)}
    facts.update(_drawn_facts(protocol, facts, bodily, seed, number))
    facts.update(_rhythm(listing, wanted, seed, number))
    plan = plan_for(protocol, facts, seed)
    answered = tuple(item for item in wanted if fits(listing, item, facts))
    drawn = Drawn(
        scenario.id if scenario is not None else "",
        {language: situation(protocol, scenario, facts, language) for language in ("en", "es")},
        facts,
        plan,
        draw(seed, f"unit:{number}", 0, 45, 120) * 1_000,
        dict(scenario.title if scenario is not None else protocol.title),
    )
    return drawn, answered


def plan_for(protocol: Protocol, facts: Mapping[str, Any], seed: int) -> Plan:
    """The engine's plan for a casualty: a unit that the laptop plays, hands marked on and off, nothing thrown.

    Raises :class:`coach.engine.plan.PlanProblem` where the protocol is not for them.
    """
    given = {name: value for name, value in facts.items() if value is not None}
    made = Scenario(format=1, id="rehearsal", title={"en": ""}, story={"en": ""}, seed=seed, facts=given)
    return resolve(protocol, made, unit="laptop", counting="marks", seed=seed)


def _drawn_facts(
    protocol: Protocol, facts: Mapping[str, Any], bodily: set[str], seed: int, number: int
) -> dict[str, Any]:
    """Age and weight a little off the story's, and what a body may bring along."""
    made: dict[str, Any] = {}
    months, weight = months_of(protocol, facts), facts.get("weight")
    least = max([BODILY[name] for name in bodily], default=18)
    if months is not None and months >= GROWN:
        made["age"] = max(int(months / A_YEAR) + draw(seed, f"age:{number}", 0, -4, 4), least)
        if isinstance(weight, (int, float)):
            made["weight"] = max(int(weight) + draw(seed, f"weight:{number}", 0, -6, 6), 45)
    for name, youngest in BODILY.items():
        fact = protocol.facts.get(name)
        if fact is None or fact.kind != "flag" or facts.get(name) is True:
            continue
        likely = made.get("age", 0) >= youngest
        made[name] = name in bodily or (likely and draw(seed, f"{name}:{number}", 0, 1, 5) == 1)
    return made


def _rhythm(listing: Listing, wanted: Sequence[str], seed: int, number: int) -> dict[str, Any]:
    """What the analyses find: both kinds always, so that shock and no shock both come; which first is drawn."""
    script = next((name for name, fact in listing.protocol.facts.items() if fact.kind == "script"), None)
    if script is None:
        return {}
    families = {listing.items[item].family for item in wanted if item in listing.items}
    shock_first = draw(seed, f"rhythm:{number}", 0, 0, 1) == 1 or "shock" in families
    first = next((item for item in wanted if item.endswith(f"@{NO_SHOCK}")), None)
    if first is not None and wanted[0] == first:
        shock_first = False
    words = ["shockable", "not_shockable"] if shock_first else ["not_shockable", "shockable"]
    return {script: words} if set(words) <= set(listing.protocol.facts[script].of) else {}


def situation(protocol: Protocol, scenario: Scenario | None, facts: Mapping[str, Any], language: str) -> str:
    """The story in at most forty words: place, person, what is special, who is there; the least needful falls out."""
    spanish = language == "es"
    place = one_line(words_of(scenario.title if scenario is not None else protocol.title, language))
    months = months_of(protocol, facts)
    lies = facts.get("drowning") is True or facts.get("place") == "bed"
    if lies or (months is not None and months < A_YEAR):
        falls = "está inmóvil" if spanish else "lies still"  # nobody drops who was pulled out, or cannot stand yet
    else:
        falls = "se desploma y queda inmóvil" if spanish else "drops and lies still"
    first = [f"{place}.", f"{_who(months, spanish)} {falls}."]
    special = [
        _SENTENCES[name][language]
        for name in ("drowning", "choking", "pregnant", "opioid", "stoma", "metal", "implant")
        if facts.get(name) is True
    ]
    if facts.get("place") in ("tight", "bed"):
        special.append(_SENTENCES[facts["place"]][language])
    if facts.get("chest") in ("wet", "damp"):
        special.append(_SENTENCES["wet"][language])
    special += [_SENTENCES[name][language] for name in ("patch", "hair") if facts.get(name) is True]
    rescuers = facts.get("rescuers")
    two = isinstance(rescuers, (int, float)) and rescuers >= 2
    around = facts.get("bystander") is True
    there = [name for name, so in (("two", two), ("bystander", around), ("alone", not two and not around)) if so]
    said = [*first, *special, *(_SENTENCES[name][language] for name in there)]
    while len(" ".join(said).split()) > MOST_WORDS and len(said) > 2:
        said.pop(0)
    return " ".join(said)


def _who(months: float | None, spanish: bool) -> str:
    """The casualty by age, told no finer than a look would."""
    if months is None:
        return "Una persona adulta" if spanish else "A grown person"
    years = int(months / A_YEAR)
    if months < A_YEAR:
        many = max(int(months), 1)
        if spanish:
            return f"Un bebé de {many} mes{'' if many == 1 else 'es'}"
        return f"An infant of {many} month{'' if many == 1 else 's'}"
    if months < 13 * A_YEAR:
        return f"Un niño o una niña de {years} año{'' if years == 1 else 's'}" if spanish else f"A child of {years}"
    return f"Una persona de unos {years} años" if spanish else f"A person of about {years}"
