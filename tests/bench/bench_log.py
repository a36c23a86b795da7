"""What a log line costs in the path of a key, beside one bare write of the same bytes; and how fast a log verifies.

Lines come as a drill's do, a few milliseconds apart and every fiftieth urgent, so that the thread that syncs is at
work all the time. For each line the bare write and the log's take turns at going first, on the same disk. After each
rest the processor's caches are cold, as they are when a person presses a key: the same back to back is shown too.
"""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from pathlib import Path

from coach.log.reading import verify
from coach.log.writing import LogWriter
from tests.bench.figures import Figure
from tests.log.made import header, key

LINES = 1000
APART_S = 0.003
DIGEST = "0123456789abcdef" * 4


def run() -> list[Figure]:
    """Write a thousand lines both ways, then verify them twenty times over."""
    with tempfile.TemporaryDirectory() as folder:
        hot, _ = _write(Path(folder) / "hot", 0)
        ours, bare = _write(Path(folder), APART_S)
        check = _verified_per_s(Path(folder))
    p50, p95 = statistics.median(ours), _p95(ours)
    where = f"{LINES} lines, {APART_S * 1000:g} ms apart, beside a syncing thread"
    return [
        Figure("log line in the key path, p50", p50, "ms", note=where),
        Figure(
            "log line in the key path, p95",
            p95,
            "ms",
            goal=0.2,
            better="less",
            note="the caches are cold, as for a key",
        ),
        Figure("log line back to back, p50", statistics.median(hot), "ms", better="less"),
        Figure("log line to a bare os.write of the same bytes, p50", p50 / statistics.median(bare), better="less"),
        Figure("log line to a bare os.write of the same bytes, p95", p95 / _p95(bare), better="less"),
        Figure("lines verified", check, "lines/s"),
    ]


def _p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


def _write(folder: Path, apart_s: float) -> tuple[list[float], list[float]]:
    log = LogWriter(folder / "log.jsonl")
    log.write(header())
    log.write({"t": 0, "e": 0, "kind": "go"})
    length = (folder / "log.jsonl").stat().st_size
    log.write(key(0, digest=DIGEST))
    data = b"x" * ((folder / "log.jsonl").stat().st_size - length)
    fd = os.open(folder / "bare", os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    ours: list[float] = []
    bare: list[float] = []

    def write_ours(number: int) -> None:
        line, urgent = key(number, digest=DIGEST), number % 50 == 0
        began = time.perf_counter()
        log.write(line, urgent)
        ours.append((time.perf_counter() - began) * 1000)

    def write_bare(_: int) -> None:
        began = time.perf_counter()
        os.write(fd, data)
        bare.append((time.perf_counter() - began) * 1000)

    for number in range(LINES):
        first, second = (write_ours, write_bare) if number % 2 else (write_bare, write_ours)
        first(number)
        second(number)
        time.sleep(apart_s)
    os.close(fd)
    log.close()
    return ours, bare


def _verified_per_s(folder: Path) -> float:
    rounds = []
    for _ in range(20):
        began = time.perf_counter()
        verdict = verify(folder / "log.jsonl")
        rounds.append(verdict.line / (time.perf_counter() - began))
        if not verdict.ok:
            raise RuntimeError(verdict.what)
    return statistics.median(rounds)
