"""The handover: what a crew wants to hear, told from the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from coach.log.happened import Happened
from coach.measure.findings import words
from coach.measure.floor import VERDICTS
from coach.measure.gaps import Inject
from coach.protocol.model import Protocol
from coach.text import one_line
from coach.units import clock, quantity_text

if TYPE_CHECKING:
    from coach.measure.report import Measures

WORTH_SAYING = frozenset(
    {"chest", "choking", "drowning", "hair", "implant", "metal", "opioid", "overdose", "patch", "pregnancy", "pregnant"}
)
"""Facts of a casualty that a crew wants to hear of, where they are so and not the file's default."""

ABOUT_OTHERS = frozenset({"clear_called", "helper_sent", "call_made"})
"""An inject that only these answer is about bystanders and helpers, so no sign of the casualty's."""

ITEMS = ("who_where", "collapse_time", "cpr_since_by", "shocks", "last_advice", "seen", "now", "needed")


@dataclass(frozen=True, slots=True)
class Handover:
    """What the learner said of the eight items, what was missing, and the true version of each in words. ``at`` is
    when the handover began (ms since go), ``None`` where it never did."""

    said: tuple[str, ...]
    missing: tuple[str, ...]
    true_version: dict[str, str]
    at: int | None


def handover_of(
    found: Measures, happened: Happened, protocol: Protocol, header: Mapping[str, Any], language: str
) -> Handover:
    """The handover of a drill; times are told as at its beginning, or at the end where there was none."""
    begun = found.floor.first("handover")
    now = happened.end_e if begun is None else begun.e
    said = tuple(item for item in ITEMS if item in happened.handover_said)
    true = {
        "who_where": _who_where(protocol, header, language),
        "collapse_time": f"Collapse {clock(now)} ago (the drill's go).",
        "cpr_since_by": _cpr(found, header, now),
        "shocks": _shocks(found, now),
        "last_advice": _advice(found, now),
        "seen": _seen(found.injects, protocol, header, now, language),
        "now": _now(found, now),
        "needed": _needed(found, now),
    }
    return Handover(
        said,
        tuple(item for item in ITEMS if item not in said),
        {item: one_line(text) for item, text in true.items()},
        None if begun is None else begun.e,
    )


def _facts(header: Mapping[str, Any]) -> Mapping[str, Any]:
    return (header.get("plan") or {}).get("facts") or {}


def _who_where(protocol: Protocol, header: Mapping[str, Any], language: str) -> str:
    facts = _facts(header)
    parts = []
    for name, fact in protocol.facts.items():
        value = facts.get(name)
        if fact.kind == "number" and fact.unit in ("year", "month") and isinstance(value, int):
            parts.append(f"{quantity_text(value, fact.unit)} old")
    scenario = header.get("scenario") or {}
    title = scenario.get("title") or ""
    parts.append(words(title, language, "") if isinstance(title, Mapping) else str(title))
    return ", ".join(part for part in parts if part) or "An adult; nothing else is on record."


def _cpr(found: Measures, header: Mapping[str, Any], now: int) -> str:
    first = found.milestones.reached["first_compression"]
    if first is None or first > now:
        return "No compressions were keyed."
    swaps = sum(event.name == "swapped" and event.e <= now for event in found.floor.events)
    change = f"; who pushes changed {swaps} time{'' if swaps == 1 else 's'}" if swaps else ""
    learner = header.get("learner") or ""
    by = f"learner {learner}" if learner and learner != "none" else "the learner"
    return f"Compressions for {clock(now - first)}, since {clock(first)}, begun by {by}{change}."


def _shocks(found: Measures, now: int) -> str:
    given = [shock for shock in found.shocks if shock.at <= now]
    if not given:
        return "No shock given."
    last = f", the last {clock(now - given[-1].at)} ago" if given else ""
    return f"{len(given)} shock{'' if len(given) == 1 else 's'} given{last}."


def _advice(found: Measures, now: int) -> str:
    verdicts = [event for event in found.floor.events if event.name in VERDICTS and event.e <= now]
    if not verdicts:
        return "The unit gave no verdict."
    what = "shock advised" if verdicts[-1].name == "shock_advised" else "no shock advised"
    return f"Last verdict: {what}, {clock(now - verdicts[-1].e)} ago."


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
        seen.append(title if value is True else f"{title}: {value}")
    return "; ".join(dict.fromkeys(seen)) + "." if seen else "Nothing else on record."


def _alive(found: Measures, now: int) -> int | None:
    return next((since for since, until in found.floor.alive if since <= now <= until), None)


def _now(found: Measures, now: int) -> str:
    since = _alive(found, now)
    if since is not None:
        return f"Signs of life since {clock(since)}."
    on = any(run.first <= now and (run.open or now - run.last < 2_000) for run in found.runs if run.first <= now)
    return f"No signs of life keyed; hands {'on' if on else 'off'} at that moment."


def _needed(found: Measures, now: int) -> str:
    if _alive(found, now) is not None:
        return "Watch the breathing; leave pads and unit on."
    return "Take over the compressions without a break; leave pads and unit on."
