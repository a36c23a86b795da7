"""The checker: from a protocol to its verdicts, classes a second, memory, and SPIN with its compile beside it."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from coach.check.proof.injects import check_each_inject
from coach.check.proof.prove import Checked, Prover, Scope, check_rules
from coach.check.proof.rules import read_rules
from coach.check.states.classes import Explorer, Limit
from coach.check.states.inputs import EACH
from coach.check.states.slicing import Interest
from coach.protocol.library import list_protocols, load_pads, load_protocol
from coach.protocol.model import Protocol
from tests.bench.figures import Figure

SECONDS = 2.0
"""What a check of one shipped file should take, in this process's own time on a two-core machine."""

WITH_INJECTS = 20.0
MEMORY_MB = 500.0


def _checked(ident: str) -> tuple[Protocol, Checked, float]:
    began = time.process_time()
    protocol, text = load_protocol(ident)
    pads, _ = load_pads(protocol.pads)
    checked = check_rules(protocol, read_rules(protocol, text), pads=pads)
    return protocol, checked, time.process_time() - began


def _each_inject(protocol: Protocol, text: str, plain: Checked) -> float:
    began = time.process_time()
    for _name, _checked_one in check_each_inject(protocol, read_rules(protocol, text), plain, processes=1):
        pass
    return time.process_time() - began


def _memory_mb(ident: str) -> float:
    """The most memory of a process of its own that checks one file."""
    code = (
        "from tests.bench.bench_check import _checked\n"
        f"_checked({ident!r})\n"
        "print(next(line for line in open('/proc/self/status') if line.startswith('VmHWM')).split()[1])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=600)
    return int(done.stdout) / 1024


def _rate(protocol: Protocol) -> float:
    """Classes a second on the tracks of the rescuer, the unit and the hands, facts open, for at most 30 000 classes."""
    prover = Prover(protocol, EACH, Scope(), Limit())
    layout = prover.machine.layout
    interest = Interest(tracks=frozenset({layout.tracks["rescuer"], layout.tracks["unit"], layout.tracks["hands"]}))
    discrete = prover.discrete(prover.part(interest), interest)
    began = time.process_time()
    graph = Explorer(discrete, keep_edges=False, limit=Limit(30_000, 30.0)).run()
    return len(graph.nodes) / (time.process_time() - began)


def _against_spin(ident: str) -> Figure | None:
    """Seconds of SPIN, its compile included, for one verdict on a grid, over ours for one rule with all facts open."""
    if shutil.which("spin") is None or shutil.which("gcc") is None:
        return None
    from coach.protocol import guards
    from tests.outside.grid import Grid
    from tests.outside.test_spin import TICK_MS, reduced, run_spin

    protocol, text = load_protocol(ident)
    rules = [rule for rule in read_rules(protocol, text) if rule.id == "clear-before-shock"]
    began = time.perf_counter()
    check_rules(protocol, rules)
    ours = time.perf_counter() - began
    part, _ = reduced(ident, "floor", "shockable", ("unit", "rescuer"))
    bad = guards.parse("in_step(unit, resting) and clear_said")
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        run_spin(Grid(part, TICK_MS).promela(bad), Path(folder), "-DBFS")
        theirs = time.perf_counter() - began
    note = f"one rule; SPIN: facts settled, a tick of {TICK_MS // 1000} s, its compile included"
    return Figure(f"{ident}: SPIN's time over ours", theirs / ours, "x", 1.0, "more", note)


def run() -> list[Figure]:
    """Every shipped protocol: seconds without and with injects, memory, against SPIN."""
    figures: list[Figure] = []
    for entry in (one for one in list_protocols() if one.where == "shipped"):
        protocol, checked, seconds = _checked(entry.id)
        held = sum(one.kind == "holds" for one in checked.rules)
        note = f"{held} of {len(checked.rules)} rules hold, {checked.classes} classes"
        figures.append(Figure(f"{entry.id}: file to verdicts", seconds, "s", SECONDS, "less", note))
        injects = _each_inject(protocol, entry.in_force().text, checked)
        figures.append(Figure(f"{entry.id}: with every single inject", injects, "s", WITH_INJECTS, "less"))
        figures.append(Figure(f"{entry.id}: memory", _memory_mb(entry.id), "MB", MEMORY_MB, "less"))
        figures.append(Figure(f"{entry.id}: classes a second", _rate(protocol), "/s"))
        spin = _against_spin(entry.id)
        if spin is not None:
            figures.append(spin)
    return figures
