"""SPIN, an independent model checker, on shipped protocols with their facts settled: the same states, transitions,
verdict and depth as our own grid search, whose states are among those of the state classes."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from coach.check.states.classes import Explorer, Limit
from coach.check.states.discrete import Discrete
from coach.check.states.inputs import Gate, inputs_of
from coach.check.states.openfacts import Frame
from coach.check.states.reads import Interest
from coach.check.states.slicing import Part, cut
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.protocol import guards
from coach.protocol.guards import Expr
from coach.protocol.library import load_protocol
from tests.outside.grid import Cell, Grid

spin = pytest.mark.skipif(
    shutil.which("spin") is None or shutil.which("gcc") is None,
    reason="SPIN CHECK SKIPPED: Debian's packages spin and gcc are not installed",
)


def reduced(ident: str, unit: str, rhythm: str, tracks: tuple[str, ...], fixed: str = "") -> tuple[Part, Machine]:
    """A shipped protocol with settled facts, cut down to some tracks; ``fixed`` is what each rhythm check finds."""
    protocol, _ = load_protocol(ident)
    whole_ticks = {
        name: timer.model_copy(update={"after": timer.after and -(-timer.after // TICK_MS) * TICK_MS})
        for name, timer in protocol.timers.items()
    }
    protocol = protocol.model_copy(update={"timers": whole_ticks})
    plan = resolve(protocol, unit=unit)
    plan.facts["rhythm"] = (rhythm,)
    machine = build(protocol, plan)
    inputs = [one for one in inputs_of(protocol, machine, "each", ()) if unit == "floor" or one not in BY_UNIT]
    interest = Interest(
        tracks=frozenset(machine.layout.tracks[name] for name in tracks), marks=1 << machine.layout.marks["clear_said"]
    )
    part = cut(machine, interest, inputs, (), True)
    # the script has one entry, so that its counter decides nothing
    counter = machine.layout.counters["analyses"]
    part.kept.counters.discard(counter)
    return _without(part, counter), machine


TICK_MS = 10_000
"""The grid. Times of the unit that the laptop plays are made whole ticks of it."""

BY_UNIT = ("analysis_begins", "shock_advised", "no_shock_advised", "shock_delivered")


def _without(part: Part, counter: int) -> Part:
    table = {
        event: tuple(
            (
                track,
                tuple(
                    tuple(
                        move._replace(counts=tuple(one for one in move.counts if one.counter != counter))
                        for move in moves
                    )
                    for moves in by_step
                ),
            )
            for track, by_step in row
        )
        for event, row in part.machine.table.items()
    }
    return replace(part, machine=replace(part.machine, table=table))


def run_spin(model: str, folder: Path, *defines: str) -> str:
    """What ``pan`` prints for a model."""
    (folder / "model.pml").write_text(model, encoding="utf-8")
    for command in (
        ["spin", "-a", "model.pml"],
        ["gcc", "-O1", "-DSAFETY", "-DNOREDUCE", *defines, "-o", "pan", "pan.c"],
    ):
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120, check=False)
        assert done.returncode == 0, done.stdout + done.stderr
    done = subprocess.run(
        ["./pan", "-w22", "-m2000000"], cwd=folder, capture_output=True, text=True, timeout=120, check=False
    )
    return done.stdout


def figure(output: str, pattern: str) -> int:
    match = re.search(pattern, output)
    assert match is not None, output
    return int(match.group(1))


GRIDS = [
    ("erc-2025/adult-one-rescuer", "floor", ("unit", "rescuer")),
    ("erc-2025/adult-one-rescuer", "laptop", ("unit", "rescuer")),
    ("aha-2025/adult-two-rescuers", "floor", ("unit", "rescuer", "swap")),
]


@spin
@pytest.mark.parametrize(("ident", "unit", "tracks"), GRIDS)
def test_spin_stores_the_states_that_our_grid_search_finds(
    ident: str, unit: str, tracks: tuple[str, ...], tmp_path: Path
) -> None:
    part, machine = reduced(ident, unit, "shockable", tracks)
    grid = Grid(part, TICK_MS)
    ours = grid.search(lambda _: False)
    output = run_spin(grid.promela(None), tmp_path)
    assert "errors: 0" in output
    assert figure(output, r"(\d+) states, stored") == len(ours.states)
    assert figure(output, r"(\d+) transitions") == ours.transitions + 1
    frame = Frame(machine, dict(zip(machine.fact_names, machine.facts, strict=True)))
    gate = Gate(machine, (), 2, "all")
    graph = Explorer(Discrete(part, frame, gate), keep_edges=False, limit=Limit(200_000, 60)).run()
    assert graph.complete
    classes = {(node.spot.steps, node.spot.marks, _running(node.spot.timers)) for node in graph.nodes}
    on_grid = {(cell.steps, cell.marks, _running(cell.timers)) for cell in ours.states}
    assert on_grid <= classes
    assert len(on_grid) > 100


def _running(timers: tuple[tuple[int, int, int], ...]) -> tuple[tuple[int, int], ...]:
    return tuple((timer, left) for _, timer, left in timers)


BAD = [
    ("erc-2025/adult-one-rescuer", "floor", "in_step(unit, shock_advised) and clear_said", True),
    ("erc-2025/adult-one-rescuer", "laptop", "in_step(unit, resting) and in_step(rescuer, awake)", True),
    ("erc-2025/adult-one-rescuer", "floor", "in_step(unit, resting) and clear_said", False),
]


@spin
@pytest.mark.parametrize(("ident", "unit", "bad", "there"), BAD)
def test_spin_finds_a_bad_state_at_the_same_depth(ident: str, unit: str, bad: str, there: bool, tmp_path: Path) -> None:
    part, machine = reduced(ident, unit, "shockable", ("unit", "rescuer"))
    expr: Expr = guards.parse(bad)
    guard = guards.compile_guard(expr, machine.layout)
    grid = Grid(part, TICK_MS)

    def is_bad(cell: Cell) -> bool:
        return guard(cell, machine.facts)

    ours = grid.search(is_bad)
    output = run_spin(grid.promela(expr), tmp_path, "-DBFS")
    assert (ours.bad_at is not None) is there
    assert ("errors: 1" in output) is there
    if ours.bad_at is not None:
        # SPIN names the depth of the state that the bad move leaves
        assert figure(output, r"at depth (\d+)") + 1 == ours.bad_at
