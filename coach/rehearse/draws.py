"""Drawing a story: a place that the library has, a casualty who could lie there, and a machine's plan for both.

Everything is fixed by the seed. Nothing impossible is drawn: what a place brings along (water, metal, food) comes only
with that place, what a body brings along only at an age at which it is likely. Sensitive stories are never drawn.
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

MOST_WORDS = 40

BODILY: dict[str, int] = {"patch": 35, "implant": 45}
"""Facts that may be added to a casualty of any place, from this age on (years): our own choice of what is likely."""

OF_PLACES = frozenset({"chest", "metal", "drowning", "choking", "hair", "bystander", "pregnancy", "pregnant", "opioid",
                       "overdose", "breaths"})  # fmt: skip
"""Facts that belong to a scenario's story and are taken from it as they are."""

_SENTENCES: dict[str, dict[str, str]] = {
    "wet": {"en": "The chest is wet.", "es": "El pecho está mojado."},
    "metal": {"en": "The floor is metal.", "es": "El suelo es de metal."},
    "drowning": {"en": "They have just been pulled out of the water.", "es": "Acaban de sacarlo del agua."},
    "choking": {"en": "They choked on food before they fell.", "es": "Se atragantó con comida antes de caer."},
    "hair": {"en": "Thick hair where a pad goes.", "es": "Mucho vello donde va un parche."},
    "patch": {
        "en": "A medicine patch sits where a pad goes.",
        "es": "Hay un parche de medicina donde va un electrodo.",
    },
    "implant": {"en": "A bulge under the left collarbone.", "es": "Un bulto bajo la clavícula izquierda."},
    "bystander": {"en": "Others stand around.", "es": "Hay gente alrededor."},
    "alone": {"en": "You are alone with them.", "es": "Estás solo con la persona."},
    "two": {"en": "Two of you, both trained.", "es": "Sois dos, con formación."},
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
    rescuers = protocol.facts.get("rescuers")
    if rescuers is not None and rescuers.default is not None:
        facts["rescuers"] = rescuers.default  # the protocol says how many are meant, the place only where
    return facts


def usable(protocol: Protocol, scenarios: Iterable[Scenario]) -> tuple[Scenario, ...]:
    """The stories that may be drawn: never a sensitive one, and none whose casualty the protocol is not for."""
    found: list[Scenario] = []
    for one in scenarios:
        try:
            plan_for(protocol, facts_of(protocol, one), 0)
        except PlanProblem:
            continue
        if not one.sensitive:
            found.append(one)
    return tuple(found)


def suits(item_facts: Iterable[str], protocol: Protocol, facts: Mapping[str, Any]) -> bool:
    """Whether a casualty with these facts can bring the decision about that needs ``item_facts``."""
    return all(name in BODILY or is_so(protocol.facts[name], facts.get(name)) for name in item_facts)


def is_so(fact: Fact, value: Any) -> bool:
    """Whether a flag is set, or a choice stands at something else than its default."""
    return bool(value is True or (fact.kind == "choice" and value not in (None, fact.default)))


def impossible(protocol: Protocol, scenario: Scenario | None, facts: Mapping[str, Any]) -> list[str]:
    """What could not be: every broken constraint in words, for the draw and for its tests alike."""
    found: list[str] = []
    told = facts_of(protocol, scenario)
    found += [f"{name} is not this place's" for name in OF_PLACES if name in facts and facts[name] != told.get(name)]
    age = facts.get("age")
    for name, youngest in BODILY.items():
        if facts.get(name) is True and isinstance(age, (int, float)) and age < youngest and told.get(name) is not True:
            found.append(f"{name} at {age}")
    if facts.get("drowning") is True and facts.get("chest", "wet") == "dry":
        found.append("out of the water with a dry chest")
    if facts.get("pregnancy") is True and isinstance(age, (int, float)) and not 14 <= age <= 50:
        found.append(f"pregnant at {age}")
    return found


def needs(listing: Listing, item: str) -> frozenset[str]:
    """The facts that an item asks of the casualty."""
    one = listing.items[item]
    if one.kind == "inject" and "mouth_cleared" in listing.protocol.inject[one.name].allowed:
        return frozenset({"choking"}) & frozenset(listing.protocol.facts)
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
    age, weight = facts.get("age"), facts.get("weight")
    least = max([BODILY[name] for name in bodily], default=18)
    if isinstance(age, (int, float)):
        made["age"] = max(int(age) + draw(seed, f"age:{number}", 0, -4, 4), least)
    if isinstance(weight, (int, float)):
        made["weight"] = max(int(weight) + draw(seed, f"weight:{number}", 0, -6, 6), 45)
    for name, youngest in BODILY.items():
        fact = protocol.facts.get(name)
        if fact is None or fact.kind != "flag" or facts.get(name) is True:
            continue
        likely = isinstance(made.get("age"), int) and made["age"] >= youngest
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
    age = facts.get("age")
    if isinstance(age, (int, float)):
        who = f"Una persona de unos {int(age)} años" if spanish else f"A person of about {int(age)}"
    else:
        who = "Una persona adulta" if spanish else "A grown person"
    first = [f"{place}.", f"{who} se desploma y queda inmóvil." if spanish else f"{who} drops and lies still."]
    special = [
        _SENTENCES[name][language] for name in ("drowning", "choking", "metal", "implant") if facts.get(name) is True
    ]
    if facts.get("chest") in ("wet", "damp"):
        special.append(_SENTENCES["wet"][language])
    special += [_SENTENCES[name][language] for name in ("patch", "hair") if facts.get(name) is True]
    rescuers = facts.get("rescuers")
    if isinstance(rescuers, (int, float)) and rescuers >= 2:
        there = _SENTENCES["two"][language]
    else:
        there = _SENTENCES["bystander" if facts.get("bystander") is True else "alone"][language]
    said = [*first, *special, there]
    while len(" ".join(said).split()) > MOST_WORDS and len(said) > 2:
        said.pop(0)
    return " ".join(said)
