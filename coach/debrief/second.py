"""A second look at a drill: under another protocol, or by another assessor. Neither verdict replaces the first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from coach.debrief.page import Debrief, build
from coach.debrief.signoff import verdict_of
from coach.engine.build import build as built
from coach.engine.plan import Plan, resolve
from coach.log.history import History
from coach.log.reading import Record
from coach.log.timeline import Timeline
from coach.measure.agreement import Kappa, Table, Times, kappa_of, matched, table_of, wilson
from coach.protocol.approval import approval_state
from coach.protocol.model import Protocol
from coach.protocol.reading import digest


def judged_by(record: Record, protocol: Protocol, text: str, today: date) -> Debrief:
    """The page of a log under another protocol (``text`` is its file), judged today. What the laptop's unit did, and
    what the scenario threw, is fed in as it happened then: only the judgement is new."""
    plan = _plan(record.header, protocol)
    machine = built(protocol, plan)
    history = History(machine, Timeline(machine))
    for line in _as_it_happened(record):
        history.read(line)
    header = {
        **record.header,
        "plan": plan.as_json(),
        "reason": "",  # it was given for the protocol of then
        "protocol": {
            "id": protocol.id,
            "version": protocol.version,
            "guidance": protocol.guidance,
            "approval": approval_state(protocol, text, today).word,
            "digest": digest(text).canonical,
            "text": text,
        },
    }
    page = build(history.happened(), protocol, header, None, str(record.header.get("language") or "en"))
    return replace(page, verdict=verdict_of(page, protocol, header))


def _plan(header: Mapping[str, Any], protocol: Protocol) -> Plan:
    """The drill's own facts where the other protocol knows them, its defaults elsewhere; nothing is thrown anew."""
    then = Plan.from_json(header["plan"])
    now = resolve(protocol, None, unit="floor", counting=then.counting, seed=then.seed)
    facts = {name: then.facts.get(name, value) for name, value in now.facts.items()}
    facts["unit"] = "floor"
    for name, fact in protocol.facts.items():
        if fact.kind == "choice" and facts[name] is not None and facts[name] not in fact.of:
            facts[name] = now.facts[name]
    return replace(now, facts=facts, throws=(), digits=then.digits)


def _as_it_happened(record: Record) -> Iterator[Mapping[str, Any]]:
    """The lines, with what a unit and a scenario did of themselves as inputs of its own moment."""
    gone = {seq for line in record.lines if line["kind"] == "superseded" for seq in line["lines"]}
    for line in record.lines:
        if line["kind"] in ("unit", "thrown") and line["seq"] not in gone:
            moment = {key: line[key] for key in ("seq", "t", "e")}
            yield {**moment, "kind": "advice", "input": line["name"], "via": "unit"}
        else:
            yield line


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far two assessors agree on one drill."""

    times: Times | None
    table: Table
    kappa: Kappa | None
    agreed: tuple[float, float] | None
    """Wilson's interval of the share of steps agreed on."""
    differ: tuple[tuple[str, str, str], ...]
    """Steps judged differently: id, the first's status, the second's."""
    pushes: tuple[int | None, int | None]


def agreement(first: Debrief, second: Debrief) -> Agreement:
    """Two pages of one drill, compared."""
    statuses = [{step.id: step.status for step in page.measures.steps} for page in (first, second)]
    table = table_of(statuses[0], statuses[1])
    differ = tuple(
        (ident, status, statuses[1][ident])
        for ident, status in statuses[0].items()
        if ident in statuses[1] and statuses[1][ident] != status
    )
    return Agreement(
        matched(first.measures.floor, second.measures.floor),
        table,
        kappa_of(table),
        wilson(table.agreed, table.cases),
        differ,
        (first.measures.seen, second.measures.seen),
    )
