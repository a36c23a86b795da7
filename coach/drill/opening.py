"""Opening a drill: its file, its header, its machine; and taking an interrupted one up again."""

from __future__ import annotations

from pathlib import Path

from coach.clock import Clock
from coach.drill.session import Drill
from coach.drill.setup import Setup, header
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.log.lines import LogProblem
from coach.log.places import log_path, new_drill_id
from coach.log.writing import LogWriter
from coach.protocol.reading import digest


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
    protocol do not fit, before anything is written.
    """
    plan = resolve(setup.protocol, setup.scenario, unit=setup.unit, counting=setup.counting, seed=setup.seed)
    machine = build(setup.protocol, plan)
    drill_id = drill_id or new_drill_id(clock.wall())
    path = log_path(folder, drill_id)
    log = LogWriter(path, fallback=log_path(second, drill_id) if second is not None else None)
    drill = Drill(setup, plan, machine, clock, log, drill_id)
    scenario_digest = digest(setup.scenario_text).canonical if setup.scenario_text else ""
    log.write(header(setup, plan, clock, drill_id, digest(setup.protocol_text).canonical, scenario_digest), urgent=True)
    if must_save and not log.saved:
        problem = log.problem
        log.close()
        raise LogProblem(path, 0, problem, "name a folder that can be written")
    return drill
