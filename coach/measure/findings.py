"""Findings: what a protocol's own faults, steps and targets say about a drill, and the one thing to take from it.

Nothing here knows a rule by name: faults come from the file's arrows and injects, steps and targets from its tables.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.log.happened import Happened, Look
from coach.measure.episodes import Episode
from coach.measure.floor import ON_MARKS, SHOCKS, VERDICTS, Event, Floor
from coach.measure.rules import MILDER, Rule
from coach.measure.steps import StepDone
from coach.measure.targets import Judged, amount, bounds_text, judge, title_of
from coach.protocol import guards
from coach.protocol.model import Arrow, Fault, Protocol, Severity
from coach.text import one_line

if TYPE_CHECKING:
    from coach.measure.report import Measures

EDGE_MS = 1_000
"""A touch or a compression within this of either edge of an analysis is no fault."""
NO_ORDER_MS = 2_000
"""Two marks by hand closer than this have no order."""
TOUCHING = ON_MARKS | {"touch", "breath"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. ``events`` are the lines it rests on; ``to_confirm`` where it rests on a mark that is missing or on
    a single press: it counts only once the assessor says that it happened so; ``ask`` is what to ask them.
    ``safety`` marks those about touching and shocks, ``hands_off`` the ms of the rescuer's own time past its limit."""

    rule: str
    severity: Severity
    at: int | None
    events: tuple[int, ...]
    say: str
    source: str
    to_confirm: bool = False
    ask: str = ""
    safety: bool = False
    step: str = ""
    hands_off: float = 0.0
    rate: bool = False


@dataclass(frozen=True, slots=True)
class OneThing:
    """The one thing to do again, or (``finding`` is ``None``) the strength to keep."""

    finding: str | None
    say: str
    to_confirm: bool = False


def words(table: Mapping[str, str], language: str, otherwise: str) -> str:
    """A wording in ``language``, else in English, else in whatever it has."""
    return table.get(language) or table.get("en") or next(iter(table.values()), otherwise)


def _titles(protocol: Protocol, names: Sequence[str]) -> str:
    return "; ".join(protocol.sources[name].title if name in protocol.sources else name for name in names)


def _faults(protocol: Protocol) -> Iterator[tuple[str, Fault, bool, tuple[str, ...]]]:
    """Every fault of a file by id, whether it rests on something not seen, and where its source stands."""
    for track in protocol.track.values():
        lists = [(track.go, ()), *((step.go, tuple(step.source)) for step in track.step.values())]
        for arrows, around in lists:
            for index, arrow in enumerate(arrows):
                if arrow.fault is not None:
                    source = tuple(arrow.fault.source or arrow.source or around)
                    yield arrow.fault.id, arrow.fault, _rests_on_missing(arrow, arrows[:index]), source
    for inject in protocol.inject.values():
        for forbidden in inject.forbidden:
            yield forbidden.fault.id, forbidden.fault, False, tuple(forbidden.fault.source or inject.source)
        if inject.late is not None:
            yield inject.late.id, inject.late, True, tuple(inject.late.source or inject.source)


def _rests_on_missing(arrow: Arrow, before: Sequence[Arrow]) -> bool:
    """Whether a fault asks that something was *not* seen: by its guard, or because a faultless arrow for the same
    observation, tried before it, had a guard that did not hold."""
    if any(other.fault is None and other.when and set(other.on) & set(arrow.on) for other in before):
        return True
    stack: list[guards.Expr] = [guards.parse(arrow.when)] if arrow.when else []
    while stack:
        expr = stack.pop()
        if isinstance(expr, guards.Not):
            return True
        if isinstance(expr, guards.And | guards.Or):
            stack += expr.items
    return False


def _at_an_edge(floor: Floor, event: Event) -> bool:
    edges = [mark.e for mark in floor.events if mark.name == "analysis_begins" or mark.name in VERDICTS]
    return any(abs(event.e - edge) <= EDGE_MS for edge in edges)


@dataclass(frozen=True, slots=True)
class _Told:
    """A fault that the machine told: its id and place, the event behind it (if a key was), the analysis it fell in."""

    name: str
    track: str
    e: int
    because: int
    event: Event | None
    episode: int | None


def _told(floor: Floor, happened: Happened, episodes: Sequence[Episode]) -> list[list[_Told]]:
    """The faults told, less those at the edge of an analysis; of one kind in one analysis they are one group."""
    by_seq = {event.seq: event for event in reversed(floor.events)}  # a line before what it made others emit
    groups: dict[object, list[_Told]] = {}
    for number, told in enumerate(happened.told):
        effect = told.effect
        if effect.kind != "fault":
            continue
        event = by_seq.get(told.because)
        if event is not None and event.e != effect.e:
            event = None
        inside = next((i for i, one in enumerate(episodes) if one.start <= effect.e <= one.last), None)
        if event is not None and event.name in TOUCHING and _at_an_edge(floor, event):
            continue
        key: object = number if inside is None else (effect.name, inside)
        groups.setdefault(key, []).append(_Told(effect.name, effect.track, effect.e, told.because, event, inside))
    return list(groups.values())


def fault_findings(
    floor: Floor, happened: Happened, protocol: Protocol, episodes: Sequence[Episode], language: str
) -> list[Finding]:
    """The faults that the machine told, less those that fairness takes out."""
    table = {ident: (fault, missing, source) for ident, fault, missing, source in _faults(protocol)}
    clears = [event.e for event in floor.events if event.name == "clear_called"]
    found: list[Finding] = []
    for group in _told(floor, happened, episodes):
        first = group[0]
        name = "" if first.event is None else first.event.name
        severity: Severity = "major"
        missing, cited = False, ""
        if first.name in table:
            fault, missing, source = table[first.name]
            severity, cited = fault.severity, _titles(protocol, source)
            say = words(fault.say, language, first.name)
        else:
            say = _wrong_answer(protocol, first.track.removeprefix("inject:"), language)
        touched = name in TOUCHING and first.episode is not None
        to_confirm = missing or (touched and len(group) == 1)
        ask = "Did it happen so, or was a key missed?" if to_confirm else ""
        if missing and name in SHOCKS and any(0 < clear - first.e <= NO_ORDER_MS for clear in clears):
            ask = "Clear was keyed just after the shock: was it late, or pressed late?"
        found.append(
            Finding(
                first.name,
                severity,
                first.e,
                tuple(one.because for one in group),
                say,
                cited,
                to_confirm=to_confirm,
                ask=ask,
                safety=name in SHOCKS or touched,
            )
        )
    return found


def _wrong_answer(protocol: Protocol, inject: str, language: str) -> str:
    known = protocol.inject.get(inject)
    return f"{words(known.title, language, inject) if known else inject}: answered wrongly."


def step_findings(steps: Sequence[StepDone], rules: Sequence[Rule], protocol: Protocol, language: str) -> list[Finding]:
    """Steps left out, to be confirmed since they rest on a mark that is missing, and steps out of order."""
    found: list[Finding] = []
    titles = {step.id: step.title for step in steps}
    for rule in rules:
        for step in steps:
            say = f"{step.title}: {words(rule.say, language, rule.id)}"
            source = _titles(protocol, protocol.track[step.track].step[step.id].source or rule.source)
            if rule.kind == "omitted" and step.status == "omitted":
                found.append(
                    Finding(
                        rule.id,
                        rule.severity or step.severity,
                        None,
                        (),
                        say,
                        source,
                        to_confirm=True,
                        ask="Seen and not pressed, did it not happen, or were you not looking?",
                        step=step.id,
                    )
                )
            elif rule.kind == "out_of_order" and step.status == "out of order":
                beside = f" ({titles[step.after]})" if step.after in titles else ""
                severity = rule.severity or MILDER[step.severity]
                found.append(Finding(rule.id, severity, step.at, step.events, say + beside, source, step=step.id))
    return found


def target_findings(found: Measures, rules: Sequence[Rule], protocol: Protocol, language: str) -> list[Finding]:
    """One finding for each rule that a target broke, resting on all readings past it; its time is the worst one's."""
    findings: list[Finding] = []
    for rule in rules:
        target = protocol.targets.get(rule.target)
        if target is None:
            continue
        sides = ("over", "under") if rule.kind == "outside" else (rule.kind,)
        broken = [one for one in judge(found, rule.target, target, rule.owner, rule.by) if one.verdict in sides]
        if not broken:
            continue
        worst = max(broken, key=lambda one: one.excess)
        many = f" ×{len(broken)}" if len(broken) > 1 else ""
        limit = bounds_text(worst.low, worst.high, worst.quantity)
        if worst.reading.note not in ("", "unknown"):
            limit += f"; {worst.reading.note}"
        findings.append(
            Finding(
                rule.id,
                rule.severity or "minor",
                worst.reading.at,
                tuple(dict.fromkeys(seq for one in broken for seq in one.reading.events)),
                f"{words(rule.say, language, rule.id)} {amount(worst.reading.value, worst.quantity)} ({limit}){many}",
                _titles(protocol, rule.source),
                to_confirm=worst.reading.open,
                ask="Hands were off to the end: was the drill over before it was keyed?" if worst.reading.open else "",
                hands_off=worst.excess if worst.reading.own is not None else 0.0,
                rate=worst.quantity == "rate",
            )
        )
    return findings


GRADE = {"critical": 0, "major": 1, "minor": 2}


def in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Gravest first, then by time."""
    return tuple(sorted(findings, key=lambda one: (GRADE[one.severity], one.at is None, one.at or 0, one.rule)))


def concerns(looks: Sequence[Look]) -> Counter[str]:
    """How many looks at each target found a concern."""
    return Counter(one_line(look.target) for look in looks if look.concern)


def one_thing(findings: Sequence[Finding], steps: Sequence[StepDone], looks: Sequence[Look], strength: str) -> OneThing:
    """The first that applies: safety of people; a critical fault, or a critical step left out or (where the file calls
    that more than minor) out of order; the largest own hands-off time past its limit; a rate outside by more than its
    ±; an impression in two or more looks; any other major finding; else a strength to keep. Ties go to the gravest,
    then the longest, then the earliest."""
    critical = {step.id for step in steps if step.severity == "critical"}
    levels = (
        [one for one in findings if one.safety],
        [one for one in findings if one.severity == "critical" or (one.step in critical and one.severity != "minor")],
        sorted((one for one in findings if one.hands_off > 0), key=lambda one: -one.hands_off),
        [one for one in findings if one.rate],
    )
    for level in levels:
        if level:
            return OneThing(level[0].rule, level[0].say, level[0].to_confirm)
    for target, seen in concerns(looks).most_common(1):
        if seen >= 2:
            looked = sum(one_line(look.target) == target for look in looks)
            return OneThing(f"look-{target}", f"By eye, a concern in {seen} of {looked} looks: {target}.")
    rest = [one for one in findings if one.severity != "minor"]
    return OneThing(rest[0].rule, rest[0].say, rest[0].to_confirm) if rest else OneThing(None, strength)


STRENGTHS = (
    "start_after_recognition",
    "first_compression",
    "hands_off",
    "post_shock",
    "pre_shock",
    "breath_gap",
    "compression_rate",
)
"""Targets in the order in which one met throughout is named as the strength to keep: what matters most first."""


def strength_of(found: Measures, judged: Sequence[Judged], happened: Happened) -> str:
    """One thing that went well, always: a pin of the instructor's that was named, a target met throughout, the clear
    call, all critical steps; at the least, that they started or took part. It claims no more than a key saw."""
    for pin in happened.pins:
        if pin.which == "good" and pin.label:
            return f"Noticed as good: {one_line(pin.label)}."
    met: dict[str, list[Judged]] = {}
    for one in judged:
        met.setdefault(one.target, []).append(one)
    for name in (*STRENGTHS, *(other for other in met if other not in STRENGTHS)):
        group = met.get(name, [])
        if group and all(one.verdict == "inside" for one in group):
            worst = max(group, key=lambda one: one.reading.value)
            up_to = "at most " if len(group) > 1 else ""
            value = amount(worst.reading.value, worst.quantity)
            return f"{title_of(name)}: {up_to}{value} (aim {bounds_text(worst.low, worst.high, worst.quantity)})."
    if found.shocks and all(shock.clear_before is not None for shock in found.shocks):
        return "Clear was called before every shock."
    critical = [step for step in found.steps if step.severity == "critical" and step.status != "not applicable"]
    if critical and all(step.status in ("independent", "cued", "prompted") for step in critical):
        return "Every critical step was seen."
    if found.runs:
        return "Hands went on the chest: the step that matters most was taken."
    return "Took part and stayed with it."
