"""What judging a drill costs beside parsing its JSON, a thousand drills on one core and on all, and the alignment.

The drill is ten minutes long, every push tapped, in teach mode, so that its log has cues as well; the program is warm:
the protocol is read and its machine built, as they are for the second drill of a class. "Against pm4py" holds our
aligner to what pm4py's fastest took for the same forty-event traces when tests/outside/pm4py_costs.py last ran, scaled
by how fast this machine runs a plain loop now: pm4py itself is not needed.
"""

from __future__ import annotations

import json
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from coach.debrief.from_log import debrief_of
from coach.debrief.many import each
from coach.debrief.progress import attempt_of
from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.script import read_script
from coach.log.reading import read_log
from coach.measure.alignment import Model, Move
from tests.bench.figures import Figure, ratio, side_by_side
from tests.outside.pm4py_costs import WRITTEN, plain_loop_s

MINUTES = 10
ROUNDS = 15
DRILLS = 1_000
PUSH_S = 60 / 110


def ten_minutes() -> str:
    """A key script of ten minutes: 30:2 at 110/min, an analysis with its shock each two minutes."""
    keys: list[tuple[float, str]] = [(2.9, "j"), (6.1, "u"), (9.8, "e"), (16.2, "n")]
    keys += [(80, "1"), (84, "o"), (88, "j"), (94, "r"), (100, "l")]
    at, due, end = 22.0, 105.0, MINUTES * 60.0
    while at < end - 25:
        keys += [(at + number * PUSH_S, "space") for number in range(30)]
        at += 30 * PUSH_S
        if at >= due:
            keys += [(at + 1, "a"), (at + 8, "v"), (at + 10, "c"), (at + 12, "enter")]
            at, due = at + 14, at + 134
        else:
            keys += [(at + 1.2, "b"), (at + 2.9, "b")]
            at += 4.4
    keys += [(end, "z"), (end + 0.4, "z")]
    lines = "\n".join(f"{moment:.2f} {key}" for moment, key in sorted(keys))
    return f"# protocol: erc-2025/adult-one-rescuer\n# mode: teach\n# learner: 07\n0.00 go\n{lines}\n"


def run() -> list[Figure]:
    """The three figures and what stands beside them."""
    script = read_script(ten_minutes())
    with tempfile.TemporaryDirectory() as folder:
        path = play(script, setup_of(script, setup_for), Path(folder))
        return [*_one(path), *_many(path), *_alignment()]


def _one(path: Path) -> list[Figure]:
    record, raw = read_log(path), path.read_bytes().splitlines()

    def judged() -> int:
        debrief_of(record)
        return 1

    def parsed() -> int:
        for line in raw:
            json.loads(line)
        return 1

    def from_file() -> int:
        debrief_of(read_log(path))
        return 1

    speeds = side_by_side(
        {"judged": lambda: judged, "parsed": lambda: parsed, "from the file": lambda: from_file}, ROUNDS
    )
    note = f"{MINUTES} minutes, {len(raw)} lines; parsed in {1000 / statistics.median(speeds['parsed']):.1f} ms"
    return [
        Figure(
            "debrief of a drill to parsing its JSON",
            ratio(speeds["parsed"], speeds["judged"]),
            goal=4,
            better="less",
            note=note,
        ),
        Figure(
            "the same from the file, every hash checked",
            ratio(speeds["parsed"], speeds["from the file"]),
            better="less",
        ),
    ]


def _many(path: Path) -> list[Figure]:
    """A thousand drills are the same log a thousand times: each is read and judged anew."""

    def seconds(count: int, processes: int) -> float:
        began = time.perf_counter()
        told = list(each([path] * count, attempt_of, processes))
        if any(problem for _, problem in told) or len(told) != count:
            raise AssertionError("a drill was not judged")
        return time.perf_counter() - began

    seconds(10, 1)
    quarter, whole = seconds(DRILLS // 4, 1), seconds(DRILLS, 1)
    both = seconds(DRILLS, 2)
    return [
        Figure(
            "1,000 drills judged, growth from 250",
            whole / quarter / 4,
            goal=1.2,
            better="less",
            note=f"{whole:.1f} s on one core; 1 is linear",
        ),
        Figure("1,000 drills on two cores", whole / both, goal=1.5, note=f"{both:.1f} s; other work on them slows it"),
    ]


def _alignment() -> list[Figure]:
    found: dict[str, Any] = json.loads(WRITTEN.read_text(encoding="utf-8"))
    ready = [
        (
            Model(case["states"], tuple(Move(*move) for move in case["moves"]), 0, frozenset(case["finals"])),
            case["seen"],
        )
        for case in found["timed"]
    ]
    rounds, loops = [], []
    for _ in range(ROUNDS):
        loops.append(plain_loop_s())
        began = time.perf_counter()
        for model, seen in ready:
            model.align(seen)
        rounds.append((time.perf_counter() - began) / len(ready))
    ours = statistics.median(rounds)
    theirs = found["pm4py_s_a_trace"] * statistics.median(loops) / found["plain_loop_s"]
    note = f"{ours * 1000:.2f} ms a trace; pm4py's least-memory Dijkstra {theirs * 1000:.2f} ms, scaled to this machine"
    return [Figure("alignment of 40 events to pm4py's fastest", ours / theirs, goal=0.5, better="less", note=note)]
