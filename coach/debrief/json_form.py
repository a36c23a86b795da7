"""The debrief as JSON: names are stable, adding is free. Lengths in seconds to 0.01, shares to 0.001."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from coach.debrief.page import Debrief, TurnedRule
from coach.debrief.signoff import Verdict
from coach.measure.episodes import Parts
from coach.measure.findings import Finding
from coach.measure.milestones import NAMES
from coach.measure.targets import Quantity, standing
from coach.text import one_line


def s(ms: float | None) -> float | None:
    """Seconds from ms, to 0.01; ``None`` stays."""
    return None if ms is None else round(ms / 1000, 2)


def share(value: float | None) -> float | None:
    """A share to 0.001; ``None`` stays."""
    return None if value is None else round(value, 3)


def a_minute(value: float | None) -> float | None:
    """A rate a minute to 0.01; ``None`` stays."""
    return None if value is None else round(value, 2)


def as_json(debrief: Debrief) -> str:
    """The debrief as one JSON object, indented, with a newline at the end."""
    return json.dumps(cleaned(as_dict(debrief)), ensure_ascii=False, indent=2) + "\n"


def cleaned(value: Any) -> Any:
    """Plain values with every text in them on one line and without controls."""
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, dict):
        return {name: cleaned(one) for name, one in value.items()}
    return [cleaned(one) for one in value] if isinstance(value, list | tuple) else value


def _turned(one: TurnedRule) -> dict[str, Any]:
    """A rule of a base that the protocol relaxes or tightens."""
    return {
        "rule": one.rule,
        "how": "tightened" if one.tightened else "relaxed" if one.turns else "dropped",
        "members": [{"name": turn.member, "was": cleaned(turn.was), "now": cleaned(turn.now)} for turn in one.turns],
        "reason": one.reason,
    }


def as_dict(debrief: Debrief) -> dict[str, Any]:
    """The debrief as plain values."""
    found, judgement = debrief.measures, debrief.judgement
    thing = judgement.one_thing
    return {
        "drill": debrief.drill,
        "protocol": {
            "id": debrief.of.id,
            "version": debrief.of.version,
            "guidance": debrief.of.guidance,
            "approval": debrief.of.approval,
            "digest": debrief.of.digest,
            "rules_changed": [_turned(one) for one in debrief.of.turned],
            "reason_for_test": debrief.of.reason or None,
        },
        "scenario": debrief.scenario,
        "learner": debrief.learner,
        "assessor": debrief.assessor,
        "role": debrief.role,
        "mode": debrief.mode,
        "attempt": debrief.attempt,
        "unit": debrief.unit,
        "counting": debrief.counting,
        "metronome": debrief.metronome,
        "ended": debrief.happened.ended,
        "ended_at": s(debrief.happened.end_e),
        "milestones": _milestones(debrief),
        "from_recognition": _named(found.milestones.from_recognition),
        "window_s": s(sum(window.end - window.start for window in found.windows)),
        "windows": [{"from": s(window.start), "to": s(window.end)} for window in found.windows],
        "hands_on": {
            "share": share(found.hands_on.share),
            "ceiling": share(found.hands_on.ceiling),
            "from": found.hands_on.counting,
            "ceiling_of": {
                "run_length": found.hands_on.ratio,
                "rate": a_minute(found.hands_on.pace),
                "breath_gap": s(found.hands_on.breath_gap),
            },
            "own_breath_gap": s(found.hands_on.own_gap),
            "own_ceiling": share(found.hands_on.own_ceiling),
            "off_mark_missing": found.hands_on.unmarked,
        },
        "gaps": [
            {
                "from": s(gap.start),
                "to": s(gap.end),
                "length": s(gap.length),
                "cause": gap.cause,
                "causes": list(gap.causes),
                "parts": _parts(gap.parts),
                "parts_each": [_parts(parts) for parts in gap.sets],
                "rescuer_s": s(gap.rescuer),
                "kit_s": s(gap.kit),
                "counted": gap.counted,
                "open": gap.open,
                "spans": list(gap.spans),
                "events": list(gap.events),
            }
            for gap in found.gaps
        ],
        "shocks": [
            {
                "at": s(shock.at),
                "pre": s(shock.pre),
                "post": s(shock.post),
                "peri": s(shock.peri),
                "clear_before": s(shock.clear_before),
                "rescuer_pre": s(shock.own_pre),
                "spans": list(shock.spans),
                "events": [shock.seq],
            }
            for shock in found.shocks
        ],
        "compressions": {
            "seen": found.seen,
            "inferred": found.inferred if found.seen is not None else None,
            "dropped": debrief.adjusted.dropped,
            "runs": [
                {
                    "from": s(run.first),
                    "to": s(run.last),
                    "count": run.count,
                    "inferred": None if run.count is None else 0 if rate is None else rate.inferred,
                    "breaths_after": run.breaths_after,
                    "rate": None if rate is None else a_minute(rate.rate),
                }
                for run, rate in zip(found.runs, found.run_rates, strict=True)
            ],
        },
        "rate": _rate(debrief),
        "periods": [{"from": s(one.start), "length": s(one.length), "cut": one.cut} for one in found.periods],
        "pads": _pads(debrief),
        "steps": [
            {
                "id": step.id,
                "status": step.status,
                "at": s(step.at),
                "track": step.track,
                "title": step.title,
                "severity": step.severity,
                "events": list(step.events),
                "times": step.times,
                "done_times": step.done_times,
                "answer": step.answer,
            }
            for step in found.steps
        ],
        "order": [
            {
                "track": order.track,
                "cost": order.cost,
                "visits": [
                    {"status": one.status, "step": one.step, "event": one.name, "at": s(one.at), "line": one.event}
                    for one in order.visits
                ],
            }
            for order in found.orders
        ],
        "findings": [_finding(one) for one in judgement.findings],
        "settled": [_finding(one) for one in judgement.settled],
        "targets": [
            {
                "target": one.target,
                "quantity": one.quantity,
                "value": _of(one.reading.value, one.quantity),
                "from": _of(one.low, one.quantity),
                "to": _of(one.high, one.quantity),
                "margin": _of(one.reading.margin, one.quantity),
                "verdict": one.verdict,
                "at": s(one.reading.at),
                "events": list(one.reading.events),
            }
            for one in judgement.judged
        ],
        "one_thing": {
            "finding": thing.finding,
            "say": thing.say,
            "again": thing.again,
            "to_confirm": thing.to_confirm,
            "by_rule": None if judgement.by_rule is None else judgement.by_rule.finding,
            "chosen_by": "" if debrief.happened.chosen is None else debrief.happened.chosen.who,
        },
        "strength": judgement.strength,
        "by_eye": [{"target": one.target, "looked": one.looked, "concern": one.concern} for one in debrief.looks],
        "handover": {
            "said": list(judgement.handover.said),
            "missing": list(judgement.handover.missing),
            "true_version": judgement.handover.true_version,
            "at": s(judgement.handover.at),
        },
        "breaks": [
            {"kind": one.kind, "at": s(one.e), "length": s(one.t_to - one.t_from), "open": one.open}
            for one in debrief.happened.breaks
        ],
        "adjusted": {
            "voided": list(debrief.adjusted.voided),
            "nudged": list(debrief.adjusted.nudged),
            "added_later": list(debrief.adjusted.added_later),
            "relabelled": list(debrief.happened.relabelled),
            "dropped": debrief.adjusted.dropped,
        },
        "published": [
            {"id": one.id, "met": one.met, "part": one.part, "source": one.source} for one in debrief.published
        ],
        "verdict": _verdict(debrief.verdict),
        "signed": None
        if debrief.happened.signed is None
        else {
            "who": debrief.happened.signed.who,
            "result": debrief.happened.signed.result,
            "reason": debrief.happened.signed.reason,
            "line": debrief.happened.signed.seq,
        },
        "flipped": list(debrief.flipped),
        "interrupted_at": s(debrief.interrupted_at),
        "tape": debrief.tape,
        "cautions": list(debrief.cautions),
    }


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "id": one.id,
        "rule": one.rule,
        "severity": one.severity,
        "at": s(one.at),
        "events": list(one.events),
        "say": one.say,
        "source": one.source,
        "step": one.step,
        "owner": one.owner,
        "to_confirm": one.to_confirm,
        "rests_on": one.rests_on,
        "ask": one.ask,
        "answer": one.answer,
    }


def _verdict(verdict: Verdict | None) -> dict[str, Any] | None:
    if verdict is None:
        return None
    return {
        "result": verdict.result,
        "not_yet": list(verdict.not_yet),
        "to_confirm": [one.id for one in verdict.confirm],
        "again": list(verdict.again),
        "reason_needed": list(verdict.reason),
        "never": verdict.never,
        "says": verdict.says,
    }


def _named(value: Callable[[str], int | None]) -> dict[str, float | None]:
    return {name: s(value(name)) for name in NAMES}


def _of(value: float | None, quantity: Quantity) -> float | None:
    """A value of a target as its quantity is given: seconds, a share, a rate, or a count."""
    return s(value) if quantity == "time" else share(value) if quantity == "share" else a_minute(value)


def _milestones(debrief: Debrief) -> dict[str, Any]:
    found = debrief.measures.milestones
    return {
        **_named(lambda name: found.reached[name]),
        "not_reached_by": {name: s(found.end) for name in found.not_reached},
    }


def _parts(parts: Parts | None) -> dict[str, float | None] | None:
    if parts is None:
        return None
    return {
        "prep": s(parts.prep),
        "unit": s(parts.unit),
        "press": s(parts.press),
        "resume": s(parts.resume),
        "unsplit": s(parts.unsplit),
    }


def _rate(debrief: Debrief) -> dict[str, Any] | None:
    rate = debrief.measures.rate
    if rate is None:
        return None
    return {
        "median": a_minute(rate.median),
        "low": a_minute(rate.low),
        "high": a_minute(rate.high),
        "runs": rate.runs,
        "plus_minus": a_minute(rate.plus_minus),
        "in_band": share(rate.in_band),
        "windows": rate.windows,
        "verdict": rate_verdict(debrief),
    }


def rate_verdict(debrief: Debrief) -> str | None:
    """Where the rate lies: inside, outside, or at the limit where its ± crosses one; ``None`` without a band."""
    rate, band = debrief.measures.rate, debrief.measures.band
    if rate is None or band is None:
        return None
    return standing(rate.median, rate.plus_minus, *band)


def _pads(debrief: Debrief) -> dict[str, Any] | None:
    pads = debrief.pads
    if pads is None:
        return None
    return {"size": pads.size, "placement": pads.placement, "rule": pads.rule, "why": pads.why}
