"""Opening a drill: its file, its header, its machine; and taking an interrupted one up again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from coach.clock import Clock
from coach.drill.session import Drill
from coach.drill.setup import Setup, header
from coach.engine.build import build
from coach.engine.leadin import lead_in
from coach.engine.plan import Plan, resolve
from coach.log.disk import Disk
from coach.log.header import Header, PadsText
from coach.log.history import fold
from coach.log.lines import LogProblem
from coach.log.places import log_path, new_drill_id
from coach.log.reading import read_log
from coach.log.recover import resume
from coach.log.writing import Log, LogWriter
from coach.protocol.model import Pads, Protocol
from coach.protocol.reading import digest, read_pads, read_protocol, read_scenario


def open_drill(
    setup: Setup,
    *,
    clock: Clock,
    folder: Path,
    second: Path | None = None,
    drill_id: str = "",
    must_save: bool = False,
) -> Drill:
    """A drill that stands ready, its header written to a new log in ``folder``.

    Where that folder cannot be written the record goes to ``second`` and the drill says so; with ``must_save`` that is
    a :class:`coach.log.lines.LogProblem` instead. Raises :class:`coach.engine.plan.PlanProblem` where scenario and
    protocol do not fit, or nothing leads to the step to begin at, before anything is written.
    """
    drill_id = drill_id or new_drill_id(clock.wall())
    path = log_path(folder, drill_id)

    def writer() -> LogWriter:
        return LogWriter(path, fallback=log_path(second, drill_id) if second is not None else None)

    drill = stand_ready(setup, clock, drill_id, writer)
    if must_save and not drill.log.saved:
        problem = drill.log.problem
        drill.log.close()
        raise LogProblem(path, 0, problem, "name a folder that can be written")
    return drill


def stand_ready(setup: Setup, clock: Clock, drill_id: str, log_for: Callable[[], Log]) -> Drill:
    """A drill before its go, its header written to the log that ``log_for`` makes: only once nothing is left that could
    refuse the set-up. Raises :class:`coach.engine.plan.PlanProblem` as :func:`open_drill`."""
    plan = resolve(setup.protocol, setup.scenario, unit=setup.unit, counting=setup.counting, seed=setup.seed)
    machine = build(setup.protocol, plan)
    before = lead_in(machine, setup.protocol, setup.starts_from, setup.counting) if setup.starts_from else ()
    log = log_for()
    drill = Drill(setup, plan, machine, clock, log, drill_id)
    drill.lead_in = before
    scenario_digest = digest(setup.scenario_text).canonical if setup.scenario_text else ""
    log.write(header(setup, plan, clock, drill_id, digest(setup.protocol_text).canonical, scenario_digest), urgent=True)
    return drill


@lru_cache(maxsize=8)
def _pads(text: str) -> Pads:
    """The pads rules that a log carries."""
    return read_pads(text, name="the pads rules in the log")


@lru_cache(maxsize=8)
def _protocol(text: str, ident: str) -> Protocol:
    """The protocol that a log carries; a class of drills carries one and the same. It never changes once read."""
    return read_protocol(text, name=f"the protocol in the log ({ident})")


def setup_from(header: Mapping[str, Any]) -> Setup:
    """The set-up of a drill from its log's header. Raises :class:`coach.protocol.problems.FileProblems` where the
    protocol or the scenario in it cannot be read."""
    head = Header.from_dict(header)
    scenario_text = head.scenario.text if head.scenario is not None else ""
    pads = head.pads or PadsText("", "")
    return Setup(
        protocol=_protocol(head.protocol.text, head.protocol.id),
        protocol_text=head.protocol.text,
        scenario=read_scenario(scenario_text, name="the scenario in the log") if scenario_text else None,
        scenario_text=scenario_text,
        mode=head.mode,
        counting=head.counting,
        unit=head.unit,
        language=head.language,
        learner=head.learner,
        assessor=head.assessor,
        role=head.role,
        reason=head.reason,
        keys=dict(head.keys),
        pads=_pads(pads.text) if pads.text else None,
        pads_text=pads.text,
        pads_guidance=pads.guidance,
        kit=tuple(header["pads"].get("kit", ("adult", "paediatric"))) if head.pads is not None else (),
        sigma_ms=int(head.sigma_ms),
        reaction_ms=int(head.reaction_ms),
        metronome=head.metronome,
        group=head.class_,
        slot=head.slot,
        station=head.station,
        manikin=head.manikin,
        kit_unit=head.kit_unit,
        attempt=head.attempt,
        starts_from=head.starts_from,
    )


def resume_drill(path: Path, *, clock: Clock, second: Path | None = None, disk: Disk | None = None) -> Drill:
    """Take an interrupted drill up again where it stood; the stretch that nobody saw is marked as a hole.

    Raises :class:`coach.log.lines.LogProblem` where the log does not fit, has ended or is being written.
    """
    head = read_log(path).head
    log, interrupted = resume(path, fallback=log_path(second, head.drill) if second is not None else None, disk=disk)
    record = interrupted.record
    try:
        setup = setup_from(record.header)
        history = fold(record, setup.protocol)
    except BaseException:
        log.close()
        raise
    drill = Drill(setup, Plan.from_json(record.header["plan"]), history.machine, clock, log, head.drill)
    drill.take_up(history, record.lines, interrupted.hole(clock))
    return drill
