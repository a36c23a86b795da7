"""All measures of one drill, worked out in order from what happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Any

from coach.log.happened import Answered, Chosen, Happened
from coach.measure.episodes import Episode, episodes_of
from coach.measure.faults import fault_findings
from coach.measure.findings import (
    ANSWERS,
    Finding,
    OneThing,
    as_thing,
    in_order,
    one_thing,
    step_findings,
    strength_of,
    target_findings,
    words,
)
from coach.measure.floor import Floor, floor_of, lead_in_of
from coach.measure.forms import form_findings
from coach.measure.gaps import Gap, Inject, Window, gaps_of, kit_between, windows_of
from coach.measure.handover import Handover, handover_of
from coach.measure.milestones import Milestones, milestones_of
from coach.measure.order import Order, orders_of
from coach.measure.owners import owners_of
from coach.measure.probe import probes_of
from coach.measure.rate import Rate, RunRate, rate_from, run_rate
from coach.measure.rules import rules_of
from coach.measure.runs import Run, runs_of
from coach.measure.share import HandsOn, ceiling, share_of
from coach.measure.shocks import Shock, shocks_of
from coach.measure.steps import Applies, StepDone, applies_by_facts, holds_by_facts, steps_of
from coach.measure.targets import BY_HAND_MS, MARK_MS, Judged, aim, bound, judge
from coach.protocol.model import Protocol

SIGMA_MS = 25.0
"""Scatter of a person's taps about the beat (1 SD), where the keyboard test measured no other."""


@dataclass(frozen=True, slots=True)
class Period:
    """From the first compression after one analysis to the next analysis; ``cut`` where a pause, a hole or a jump to
    the next check lies in it. In ms."""

    start: int
    length: int
    cut: bool


@dataclass(frozen=True, slots=True)
class Measures:
    """What keys can tell of a drill, before any verdict. Times in ms of ``e``."""

    floor: Floor
    runs: tuple[Run, ...]
    run_rates: tuple[RunRate | None, ...]
    windows: tuple[Window, ...]
    gaps: tuple[Gap, ...]
    episodes: tuple[Episode, ...]
    hands_on: HandsOn
    rate: Rate | None
    band: tuple[float, float] | None
    shocks: tuple[Shock, ...]
    periods: tuple[Period, ...]
    milestones: Milestones
    steps: tuple[StepDone, ...]
    injects: tuple[Inject, ...]
    orders: tuple[Order, ...] = ()
    hand_ms: int = BY_HAND_MS
    """± of a moment pressed by hand: as printed, or twice the assessor's own tested reaction if that is more."""
    mark_ms: int = MARK_MS
    """± of a pause with an end marked by hand: as printed, or the assessor's own tested reaction if that is more."""

    def kit_between(self, start: int, end: int) -> int:
        """How long from ``start`` to ``end`` something of the kit's stood in the way, in ms."""
        return kit_between(self.injects, self.episodes, start, end)

    @property
    def seen(self) -> int | None:
        """Compressions tapped; ``None`` where none were."""
        return sum(len(run.beats) for run in self.runs) or None

    @property
    def inferred(self) -> int:
        """Compressions put back by the correction of single missed taps."""
        return sum(rate.inferred for rate in self.run_rates if rate is not None)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the protocol says of the measures. ``findings`` stand or wait for the assessor's word; ``settled`` are those
    that the assessor took out: seen after all, a slip, or not looked at (then that part is repeated at no cost).
    ``strength_events`` are the lines that the strength rests on;
    ``by_rule`` is the one thing as the rule has it; ``one_thing`` is the assessor's where they chose another."""

    judged: tuple[Judged, ...]
    findings: tuple[Finding, ...]
    one_thing: OneThing
    strength: str
    strength_events: tuple[int, ...]
    handover: Handover
    settled: tuple[Finding, ...] = ()
    by_rule: OneThing | None = None


def injects_of(floor: Floor, happened: Happened, protocol: Protocol, language: str = "en") -> tuple[Inject, ...]:
    """The injects that were thrown, in order, each with its answer."""
    closed = [
        (told.effect.name.removeprefix("closed:"), told.effect.e)
        for told in happened.told
        if told.effect.kind == "emit" and told.effect.name.startswith("closed:")
    ]
    found: list[Inject] = []
    for event in floor.all_of(f"inject:{name}" for name in protocol.inject):
        name = event.name.removeprefix("inject:")
        inject = protocol.inject[name]
        title = words(inject.title, language, name.replace("_", " "))
        answered = next((e for other, e in closed if other == name and e >= event.e), None)
        obliged = bool(inject.allowed or inject.forbidden)
        due = floor.end if inject.within is None else event.e + inject.within
        found.append(
            Inject(
                name,
                title,
                inject.cause or title,
                event.e,
                answered if obliged else event.e,
                obliged,
                None if inject.owner == "learner" else due if answered is None else min(due, answered),
            )
        )
    return tuple(found)


def measure(
    happened: Happened,
    protocol: Protocol,
    header: Mapping[str, Any],
    language: str = "en",
    applies: Applies | None = None,
) -> Measures:
    """All measures of a drill. ``header`` is the first line of its log."""
    floor = floor_of(happened, header)
    runs = runs_of(floor)
    windows = windows_of(floor, runs)
    episodes = episodes_of(floor)
    injects = injects_of(floor, happened, protocol, language)
    gaps = gaps_of(
        floor, runs, windows, episodes, [one for one in injects if one.obliged or protocol.inject[one.name].cause]
    )
    target = protocol.targets.get("compression_rate")
    band: tuple[float, float] | None = None
    if target is not None:
        low, high = bound(target.from_, target.unit), bound(target.to, target.unit)
        band = (low, high) if low is not None and high is not None else None
    sigma = float(header.get("sigma_ms") or SIGMA_MS)
    run_rates = tuple(run_rate(run.beats) for run in runs)
    rate = rate_from(run_rates if floor.beats else list(map(run_rate, probes_of(runs))), sigma, band, floor.beats)
    applies = applies or applies_by_facts(protocol, header)
    window = owners_of(protocol, header).no_order_ms
    asked = [ident for track in protocol.track.values() for ident, step in track.step.items() if applies(step)]
    reaction = round(float(header.get("reaction_ms") or 0))
    fed = lead_in_of(happened)
    whole = floor_of(happened, header, led_in=True) if fed else floor
    orders = orders_of(protocol, whole, asked, window, fed)
    pace = rate.median if rate is not None else None if band is None else sum(band) / 2
    return Measures(
        floor,
        runs,
        run_rates,
        windows,
        gaps,
        episodes,
        _hands_on(floor, runs, windows, gaps, episodes, pace, protocol),
        rate,
        band,
        shocks_of(floor, runs, episodes),
        _periods(floor, runs, episodes),
        milestones_of(floor),
        steps_of(
            floor,
            happened,
            protocol,
            str(header.get("mode", "test")),
            header.get("keys") or {},
            applies,
            window,
            language,
            orders,
        ),
        injects,
        orders,
        max(BY_HAND_MS, 2 * reaction),
        max(MARK_MS, reaction),
    )


def ratio_of(protocol: Protocol) -> int | None:
    """Compressions to a set of breaths, from the protocol's target ``run_length``; ``None`` for compressions only."""
    value = aim(protocol.targets.get("run_length"))
    return None if value is None else round(value)


def _hands_on(
    floor: Floor,
    runs: tuple[Run, ...],
    windows: tuple[Window, ...],
    gaps: tuple[Gap, ...],
    episodes: tuple[Episode, ...],
    pace: float | None,
    protocol: Protocol,
) -> HandsOn:
    target = protocol.targets.get("breath_gap")
    ratio, gap = ratio_of(protocol), aim(target)
    stops = [one.length for one in gaps if one.cause == "breaths" and not one.open and not one.spans]
    own = round(median(stops)) if stops else None
    due = [mark.e for one in episodes for mark in (one.verdict, one.shock) if mark is not None]
    unmarked = not floor.beats and any(run.first < e < run.last for run in runs for e in due)

    def reached(stop: float | None) -> float | None:
        return None if ratio is None or pace is None or stop is None else ceiling(ratio, pace, round(stop))

    return HandsOn(
        None if unmarked else share_of(windows, gaps),
        reached(gap),
        floor.counting,
        ratio,
        pace,
        None if gap is None else round(gap),
        target is not None and target.value is None,
        own,
        reached(own),
        unmarked,
    )


def _periods(floor: Floor, runs: tuple[Run, ...], episodes: tuple[Episode, ...]) -> tuple[Period, ...]:
    periods: list[Period] = []
    begun = [episode for episode in episodes if episode.begins is not None]
    for this, following in pairwise(begun):
        first = next((run.first for run in runs if this.last < run.first < following.start), None)
        if first is not None:
            cut = any(first <= one.e <= following.start for one in floor.cuts)
            periods.append(Period(first, following.start - first, cut))
    return tuple(periods)


def conclude(
    found: Measures, happened: Happened, protocol: Protocol, header: Mapping[str, Any], language: str = "en"
) -> Judgement:
    """What the protocol says of a drill's measures: findings, the one thing, a strength, the handover."""
    holds = holds_by_facts(protocol, header)
    rules = tuple(rule for rule in rules_of(protocol) if holds(rule.when))
    limits = {rule.target: (rule.owner, rule.by) for rule in rules if rule.target}
    judged = tuple(
        one
        for name, target in protocol.targets.items()
        if name in limits or target.from_ is not None or target.to is not None
        for one in judge(found, name, target, *limits.get(name, ("", None)))
    )
    owners = owners_of(protocol, header)
    findings, settled = answered(
        [
            *fault_findings(found.floor, happened, protocol, found.episodes, language, owners),
            *step_findings(found.steps, rules, protocol, language, owners),
            *target_findings(found, rules, protocol, language, owners),
            *form_findings(found, happened, rules, protocol, language, owners),
        ],
        happened.answers,
    )
    strength = strength_of(found, judged, happened, language)
    by_rule = one_thing(findings, found.steps, happened.looks, strength.say, language)
    return Judgement(
        judged,
        findings,
        chosen_thing(happened.chosen, findings, strength.say) or by_rule,
        strength.say,
        strength.events,
        handover_of(found, happened, protocol, header, language),
        settled,
        by_rule,
    )


def answered(
    findings: Sequence[Finding], answers: Sequence[Answered]
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """The findings that stand or wait, gravest first, and those that the assessor's answers took out."""
    said = {one.finding: one.answer for one in answers}
    kept: list[Finding] = []
    settled: list[Finding] = []
    for finding in findings:
        answer = next((word for word in ANSWERS if word == said.get(finding.id)), None)
        if answer is None or not finding.to_confirm:
            kept.append(finding)
            continue
        stands = finding.stands(answer)
        (kept if stands else settled).append(replace(finding, to_confirm=False, answer=answer))
    return in_order(kept), in_order(settled)


def chosen_thing(chosen: Chosen | None, findings: Sequence[Finding], strength: str) -> OneThing | None:
    """The one thing that the assessor chose; ``None`` where they chose none, or one that no longer stands."""
    if chosen is None:
        return None
    if not chosen.finding:
        return OneThing(None, strength)
    one = next((one for one in findings if chosen.finding in (one.id, one.rule)), None)
    return None if one is None else as_thing(one)
