"""Rehearsal with two years of history: answer to next question, and the start of a sitting beside the program's own.

The history holds 10,000 reviews, made by the schedule itself over 730 days. An answer is timed from the call until the
next question stands, its line in the history written. The start of a sitting is timed from the key R at home to the
first question on the screen, every file and the whole history read between the two, beside the start of the program to
its first painted page; the line mode's own start, interpreter and all, only informs. POSIX only.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from datetime import date, timedelta
from pathlib import Path

from coach.engine.plan import draw
from coach.rehearse.history import History, Review, SittingHeld, history_path, read_history
from coach.rehearse.matter import Matter, load_matter
from coach.rehearse.schedule import SURENESS, rating, review
from coach.rehearse.sitting import Sitting
from tests.bench.bench_start import ROOT, TOO_LONG_S, until_painted
from tests.bench.figures import Figure

REVIEWS, DAYS = 10_000, 730
SITTINGS = 40
ROUNDS = 7
SETTLED_S = 3.0
"""Nothing painted for so long: home is at rest, its threads done. A person reads it for as long."""
FRAME_MS = 16.0
TODAY = date(2026, 11, 25)


def two_years(matter: Matter, path: Path) -> None:
    """A history of :data:`REVIEWS` reviews at ``path``."""
    history, day = History(path), TODAY - timedelta(days=DAYS)
    lines: list[dict[str, object]] = []
    history._append = lambda *made: lines.extend(made)  # type: ignore[method-assign]
    items = list(matter.items)
    for number in range(REVIEWS):
        if number % 14 == 0:
            day = TODAY - timedelta(days=DAYS - number * DAYS // REVIEWS)
            drill = number // 14 + 1
            history.add_sitting(SittingHeld(day, drill, matter.protocol.id, matter.digest, drill))
        item = items[draw(1, "item", number, 0, len(items) - 1)]
        one, right = matter.items[item], draw(1, "right", number, 0, 9) > 1
        sure, ms = SURENESS[draw(1, "sure", number, 0, 2)], draw(1, "ms", number, 500, 20_000)
        given = rating(right=right, ms=ms, limit_ms=one.limit_ms, hint=False, sure=sure)
        standing = review(
            item, one.critical, history.standings.get(item), given, day, right=right, sure=sure, drill=drill, ms=ms
        )
        kept = Review(
            day, item, one.title.get("en", ""), one.critical, int(given), right, sure, ms, one.limit_ms, False, "x",
            drill, one.family,
        )  # fmt: skip
        history.add_review(kept, standing, matter.protocol.id)
    History(path)._append(*lines)


def answers(matter: Matter, path: Path) -> list[float]:
    """Milliseconds from each answer to the question after it."""
    took: list[float] = []
    history = read_history(path)
    for number in range(SITTINGS):
        sitting = Sitting(matter, history, day=TODAY + timedelta(days=number + 1), seed=number)
        sitting.begin(0)
        turn = 0
        while sitting.phase != "over":
            turn += 1
            if sitting.phase == "sure":
                sitting.sure("think")
            question = sitting.question
            assert question is not None, "a sitting that is not over asks"
            began = time.perf_counter()
            if sitting.phase == "handover":
                sitting.handed_over(("shocks",), 1_000)
            elif sitting.phase == "answer":
                options = [action for action, _ in question.options]
                sitting.choose(options.index(sitting._right()) if turn % 4 else 0, 1_000)
            sitting.go_on(2_000)
            took.append((time.perf_counter() - began) * 1_000)
    return took


def sitting_started(environ: dict[str, str]) -> tuple[float, float]:
    """Milliseconds to the first painted page of the program, and from R to the first question of a sitting."""
    main, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "coach"], stdin=child, stdout=child, stderr=child, cwd=ROOT, env=environ,
        start_new_session=True,
    )  # fmt: skip
    os.close(child)

    def until(words: bytes) -> float:
        seen, end = b"", time.perf_counter() + TOO_LONG_S
        while words not in seen:
            left = end - time.perf_counter()
            if left <= 0 or not select.select([main], [], [], left)[0]:
                raise TimeoutError(f"{words!r} never came: {seen[-400:]!r}")
            seen += os.read(main, 65536)
        return time.perf_counter()

    def quiet() -> None:
        while select.select([main], [], [], SETTLED_S)[0]:
            os.read(main, 65536)

    try:
        painted = until(b"kneeside")
        quiet()
        pressed = time.perf_counter()
        os.write(main, b"r")
        until(b"begin")
        os.write(main, b"\r")
        asked = until(b"How sure")
        return (painted - began) * 1_000, (asked - pressed) * 1_000
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        os.close(main)


def run() -> list[Figure]:
    """The two goals, and what they are made of."""
    matter = load_matter("erc-2025/adult-one-rescuer", "ERC 2025")
    with tempfile.TemporaryDirectory() as folder:
        path = history_path(Path(folder))
        two_years(matter, path)
        whole = path.read_bytes()
        reads = []
        for _ in range(5):
            began = time.perf_counter()
            history = read_history(path)
            reads.append((time.perf_counter() - began) * 1_000)
        assert len(history.reviews) == REVIEWS and not history.words(), "the history is sound"
        took = sorted(answers(matter, path))
        path.write_bytes(whole)
        environ = {
            **os.environ,
            "TERM": "xterm-256color",
            "KNEESIDE_DATA_DIR": folder,
            "KNEESIDE_CONFIG": f"{folder}/settings.toml",
        }
        pairs = [sitting_started(environ) for _ in range(ROUNDS + 1)][1:]  # the first round warms the disk
        lines = [
            until_painted([sys.executable, "-m", "coach", "rehearse", "--plain"], b"How sure", environ)
            for _ in range(3)
        ]
    return [
        Figure(
            "answer to next question, 95th percentile",
            took[int(len(took) * 0.95)],
            unit="ms",
            goal=FRAME_MS,
            better="less",
            note=f"{len(took)} answers, one in four wrong, each written to a history of {REVIEWS} reviews",
        ),
        Figure(
            "start of a sitting against the program's own start",
            statistics.median(sitting / home for home, sitting in pairs),
            goal=1.3,
            better="less",
            note=f"median of {ROUNDS} rounds in a pty: R at home to the first question, beside spawn to first paint",
        ),
        Figure("R to the first question", statistics.median(sitting for _, sitting in pairs), unit="ms"),
        Figure("line mode, spawn to the first question", statistics.median(lines), unit="ms"),
        Figure("answer to next question, median", statistics.median(took), unit="ms"),
        Figure(f"reading {REVIEWS} reviews", statistics.median(reads), unit="ms"),
    ]
