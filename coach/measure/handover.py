"""The handover: what a crew wants to hear, told from the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any
from typing import Protocol as Shape

from coach import wording
from coach.log.happened import Happened
from coach.measure.findings import words
from coach.measure.floor import ON_MARKS, VERDICTS
from coach.measure.gaps import Inject
from coach.measure.wording import WORDS, known
from coach.protocol.model import Protocol
from coach.text import one_line
from coach.units import clock, quantity_text

if TYPE_CHECKING:
    from coach.measure.report import Measures


class Say(Shape):
    """Says a sentence in the language of the page."""

    def __call__(self, ident: str, /, **values: object) -> str: ...


WORTH_SAYING = frozenset(
    {"chest", "choking", "drowning", "hair", "implant", "metal", "opioid", "overdose", "patch", "pregnancy", "pregnant"}
)
"""Facts of a casualty that a crew wants to hear of, where they are so and not the file's default."""

ABOUT_OTHERS = frozenset({"clear_called", "helper_sent", "call_made"})
"""An inject that only these answer is about bystanders and helpers, so no sign of the casualty's."""

HANDS = ON_MARKS | {"hands_lifted", "breath"}
"""What tells where the hands are."""

SET_UP = 0
"""The line of a log that holds the casualty's facts: its first."""

ITEMS = ("who_where", "collapse_time", "cpr_since_by", "shocks", "last_advice", "seen", "now", "needed")


@dataclass(frozen=True, slots=True)
class Handover:
    """What the learner said of the eight items, what was missing, and the true version of each in words. ``at`` is
    when the handover began (ms since go), ``None`` where it never did; ``rests`` are the lines that each true version
    rests on (0 is the set-up, the first line of a log)."""

    said: tuple[str, ...]
    missing: tuple[str, ...]
    true_version: dict[str, str]
    at: int | None
    rests: dict[str, tuple[int, ...]]


def handover_of(
    found: Measures, happened: Happened, protocol: Protocol, header: Mapping[str, Any], language: str
) -> Handover:
    """The handover of a drill; times are told as at its beginning, or at the end where there was none."""
    begun = found.floor.first("handover")
    now = happened.end_e if begun is None else begun.e
    said = tuple(item for item in ITEMS if item in happened.handover_said)
    say = partial(wording.say, WORDS, language)
    true = {
        "who_where": _who_where(protocol, header, language),
        "collapse_time": say("collapse", ago=clock(now)),
        "cpr_since_by": _cpr(found, header, now, say),
        "shocks": _shocks(found, now, say),
        "last_advice": _advice(found, now, say),
        "seen": _seen(found.injects, protocol, header, now, language),
        "now": _now(found, now, say),
        "needed": _needed(found, now, say),
    }
    return Handover(
        said,
        tuple(item for item in ITEMS if item not in said),
        {item: one_line(text) for item, text in true.items()},
        None if begun is None else begun.e,
        _rests(found, now, (happened.end_seq if begun is None else begun.seq,)),
    )


def _rests(found: Measures, now: int, begun: tuple[int, ...]) -> dict[str, tuple[int, ...]]:
    """The lines that each true version rests on; ``begun`` is the line of the handover, or else of the end, from which
    times are told."""
    floor, lines = found.floor, found.milestones.lines
    first = [lines["first_compression"]] if "first_compression" in lines else []
    swaps = [event.seq for event in floor.all_of(["swapped"]) if event.e <= now]
    verdicts = [event.seq for event in floor.all_of(VERDICTS) if event.e <= now]
    thrown = [event.seq for event in floor.events if event.name.startswith("inject:") and event.e <= now]
    life = [event.seq for event in floor.all_of(["signs_of_life", "life_fades"]) if event.e <= now]
    hands = [event.seq for event in floor.events if event.name in HANDS and event.e <= now]
    state = tuple(life[-1:] or hands[-1:])
    return {
        "who_where": (SET_UP,),
        "collapse_time": begun,
        "cpr_since_by": (*first, *swaps, *begun),
        "shocks": (*(shock.seq for shock in found.shocks if shock.at <= now), *begun),
        "last_advice": (*verdicts[-1:], *begun),
        "seen": (SET_UP, *thrown),
        "now": state,
        "needed": state,
    }


def _facts(header: Mapping[str, Any]) -> Mapping[str, Any]:
    return (header.get("plan") or {}).get("facts") or {}


def _who_where(protocol: Protocol, header: Mapping[str, Any], language: str) -> str:
    facts = _facts(header)
    parts = []
    for name, fact in protocol.facts.items():
        value = facts.get(name)
        if fact.kind == "number" and fact.unit in ("year", "month") and isinstance(value, int):
            number, _, unit = quantity_text(value, fact.unit).partition(" ")
            age = wording.say(WORDS, language, f"age:{unit}", number=number)
            parts.append(wording.say(WORDS, language, "old", age=age))
    scenario = header.get("scenario") or {}
    title = scenario.get("title") or ""
    parts.append(words(title, language, "") if isinstance(title, Mapping) else str(title))
    return ", ".join(part for part in parts if part) or wording.say(WORDS, language, "adult")


def _cpr(found: Measures, header: Mapping[str, Any], now: int, say: Say) -> str:
    first = found.milestones.reached["first_compression"]
    if first is None or first > now:
        return say("no-cpr")
    swaps = sum(event.e <= now for event in found.floor.all_of(["swapped"]))
    changes = say("change" if swaps == 1 else "changes", count=swaps) if swaps else ""
    learner = header.get("learner") or ""
    by = say("by", learner=learner) if learner and learner != "none" else say("by-learner")
    return say("cpr", length=clock(now - first), since=clock(first), by=by, changes=changes)


def _shocks(found: Measures, now: int, say: Say) -> str:
    given = [shock for shock in found.shocks if shock.at <= now]
    if not given:
        return say("no-shock")
    many = "shock" if len(given) == 1 else "shocks"
    return say(many, count=len(given), ago=clock(now - given[-1].at))


def _advice(found: Measures, now: int, say: Say) -> str:
    verdicts = [event for event in found.floor.all_of(VERDICTS) if event.e <= now]
    if not verdicts:
        return say("no-verdict")
    return say(verdicts[-1].name, ago=clock(now - verdicts[-1].e))


def _seen(injects: tuple[Inject, ...], protocol: Protocol, header: Mapping[str, Any], now: int, language: str) -> str:
    seen = [
        inject.title
        for inject in injects
        if inject.obliged and inject.thrown <= now and not set(protocol.inject[inject.name].allowed) <= ABOUT_OTHERS
    ]
    facts = _facts(header)
    for name, fact in protocol.facts.items():
        value = facts.get(name)
        if name not in WORTH_SAYING or value is False or value is None or value == fact.default:
            continue
        title = words(fact.title, language, name.replace("_", " "))
        seen.append(title if value is True else f"{title}: {known(language, 'value', str(value))}")
    return "; ".join(dict.fromkeys(seen)) + "." if seen else wording.say(WORDS, language, "nothing-seen")


def _alive(found: Measures, now: int) -> int | None:
    return next((since for since, until in found.floor.alive if since <= now <= until), None)


def _now(found: Measures, now: int, say: Say) -> str:
    since = _alive(found, now)
    if since is not None:
        return say("alive", since=clock(since))
    on = any(run.first <= now and (run.open or now - run.last < 2_000) for run in found.runs if run.first <= now)
    return say("hands-on" if on else "hands-off")


def _needed(found: Measures, now: int, say: Say) -> str:
    return say("take-over" if _alive(found, now) is None else "watch")
