"""The checker: from a protocol to its verdicts, classes a second, memory, and SPIN with its compile beside it."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

from coach.check.proof.checked import check_rules
from coach.check.proof.prove import Prover, Scope
from coach.check.proof.rules import read_rules
from coach.check.states.classes import Explorer, Limit
from coach.check.states.inputs import EACH
from coach.check.states.reads import Interest
from coach.protocol.library import list_protocols, load_protocol
from coach.protocol.model import Protocol
from tests.bench.figures import Figure

SECONDS = 2.0
"""What a check of one shipped file should take from its text to its verdicts, on a two-core machine."""

WITH_INJECTS = 20.0
MEMORY_MB = 500.0


class Run(NamedTuple):
    """One check in a process of its own: seconds from the file's text to its verdicts, the most memory of it and of the
    largest process beside it (what they share is counted twice), and what came out."""

    seconds: float
    memory_mb: float
    holds: int
    rules: int
    classes: int


def _checked(ident: str, injects: int) -> Run:
    code = (
        "import resource, time\n"
        "from coach.check.whole import check_file\n"
        "from coach.check.proof import checked\n"
        "from coach.cores import Workers\n"
        "from coach.protocol.library import find_protocol\n"
        f"entry = find_protocol({ident!r})\n"
        "began = time.perf_counter()\n"
        "with Workers() as workers:\n"
        f"    found = check_file(entry.text(), str(entry.path), injects={injects}, workers=workers)\n"
        "seconds = time.perf_counter() - began\n"
        "most = sum(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))\n"
        "holds = sum(one.kind == 'holds' for one in found.rules)\n"
        "print(seconds, most / 1024, holds, len(found.rules), found.classes)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=600)
    seconds, memory, *counts = done.stdout.split()
    return Run(float(seconds), float(memory), *map(int, counts))


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
        plain = _checked(entry.id, 0)
        note = f"{plain.holds} of {plain.rules} rules hold, {plain.classes} classes"
        figures.append(Figure(f"{entry.id}: file to verdicts", plain.seconds, "s", SECONDS, "less", note))
        figures.append(Figure(f"{entry.id}: memory", plain.memory_mb, "MB", MEMORY_MB, "less"))
        injects = _checked(entry.id, 1).seconds
        figures.append(Figure(f"{entry.id}: with every single inject", injects, "s", WITH_INJECTS, "less"))
        figures.append(Figure(f"{entry.id}: classes a second", _rate(load_protocol(entry.id)[0]), "/s"))
        spin = _against_spin(entry.id)
        if spin is not None:
            figures.append(spin)
    return figures
