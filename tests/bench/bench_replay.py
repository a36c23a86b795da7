"""How much faster than it ran a drill is replayed, every digest compared.

The drill is the demo's, played beforehand. "With the machine at hand" is what folding a log costs; "from the file" is
one ``kneeside replay`` less the start of Python, where the chain is checked, and the protocol that the log carries is
read and compiled anew.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from coach.drill.choosing import setup_for
from coach.drill.play import play, setup_of
from coach.drill.replay import replay
from coach.drill.script import read_script
from coach.log.history import History, begin
from coach.log.reading import read_log
from coach.log.timeline import Timeline
from coach.resources import data_dir
from tests.bench.figures import Figure

ROUNDS = 15


def _median_s(work: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def run() -> list[Figure]:
    """Ratios of the drill's own time to that of its replay; raises where a state differs."""
    script = read_script((data_dir("demo") / "first-drill.txt").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as folder:
        path = play(script, setup_of(script, setup_for), Path(folder))
        record = read_log(path)
        machine = begin(record.header).machine

        def folded() -> History:
            history = History(machine, Timeline(machine))
            for line in record.lines:
                history.read(line)
            return history

        once, again = folded(), replay(record)
        if once.differs is not None or not again.same:
            raise AssertionError(f"the replay differs: {once.differs or again.differs}")
        drill_s = record.last_t / 1000
        fold_s = _median_s(folded)
        file_s = _median_s(lambda: replay(read_log(path)))
    note = f"a drill of {drill_s:.0f} s, {len(record.lines)} lines, {once.checked} digests compared"
    return [
        Figure("replay with the machine at hand", drill_s / fold_s, goal=10_000, note=note),
        Figure("replay from the file, protocol read and compiled", drill_s / file_s, note="for information"),
    ]
