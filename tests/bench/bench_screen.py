"""Key to paint, stamps of taps and memory of the drill screen, in a pseudo-terminal, beside a plain Textual app.

The plain app runs twice: as it comes (60 frames) and at 240 frames, as the drill does. A key is painted when the number
that it raises stands on the emulated screen; the time is that of the read which brought it. POSIX only.
"""

from __future__ import annotations

import fcntl
import json
import os
import pty
import random
import select
import signal
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Callable
from pathlib import Path

import pyte

from screens.widgets.digits import big, big_width
from screens.widgets.ink import UNICODE
from tests.bench.figures import Figure

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 2
KEYS = 60
RATE_HZ = 2.0
"""As in the measurement that the goals were set from (two keys a second beside a running clock)."""
TAPS = 60
TAPS_PER_MINUTE = 110
TOO_LONG_S = 30.0
TOP, LEFT = 4, 4
"""Where the figure of the band begins on a screen of 80x24."""


class Program:
    """A program in a terminal of 80x24, and what its screen shows."""

    def __init__(self, words: list[str], environ: dict[str, str]) -> None:
        self.main, child = pty.openpty()
        fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.key_apps", *words],
            stdin=child,
            stdout=child,
            stderr=child,
            cwd=ROOT,
            env=environ,
            start_new_session=True,
        )
        os.close(child)
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)

    def until(self, shown: Callable[[list[str]], bool], timeout: float = TOO_LONG_S) -> float:
        """The moment (s, monotonic) of the read after which ``shown`` holds of the screen."""
        deadline = time.monotonic() + timeout
        while True:
            left = deadline - time.monotonic()
            if left <= 0 or not select.select([self.main], [], [], left)[0]:
                raise TimeoutError("\n".join(self.screen.display))
            data = os.read(self.main, 65536)
            at = time.monotonic()
            self._stream.feed(data)
            if shown(self.screen.display):
                return at

    def drain(self, until: float) -> None:
        """Read what comes up to a moment."""
        while (left := until - time.monotonic()) > 0:
            if select.select([self.main], [], [], left)[0]:
                self._stream.feed(os.read(self.main, 65536))

    def space(self) -> float:
        """Press Space; the moment (s, monotonic)."""
        at = time.monotonic()
        os.write(self.main, b" ")
        return at

    def resident_kb(self) -> int:
        """Memory in use, in kB; 0 where the system does not say."""
        try:
            status = Path(f"/proc/{self.process.pid}/status").read_text()
        except OSError:
            return 0
        return next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")), 0)

    def end(self) -> None:
        """Away with it."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        os.close(self.main)


def bare_shows(number: int) -> Callable[[list[str]], bool]:
    """Whether the plain app's screen shows the number."""
    return lambda lines: any(f"n={number}." in line for line in lines)


def drill_shows(number: int) -> Callable[[list[str]], bool]:
    """Whether the band shows the number in block digits, and hands on."""
    rows = big(str(number), UNICODE)
    end = LEFT + big_width(str(number))
    return lambda lines: (
        all(lines[TOP + at][LEFT:end] == row for at, row in enumerate(rows))
        and any("hands on" in line for line in lines)
    )


def latencies(programs: dict[str, Program], seed: int) -> dict[str, list[float]]:
    """Milliseconds from key to paint for each program, key by key in turn, so that a busy host slows them all alike.

    Each program gets about two keys a second, which fall anywhere between its frames.
    """
    draw = random.Random(seed)
    found: dict[str, list[float]] = {name: [] for name in programs}
    for number in range(1, KEYS + 1):
        for name in draw.sample(sorted(programs), len(programs)):
            until = time.monotonic() + draw.uniform(0.8, 1.2) / (RATE_HZ * len(programs))
            for program in programs.values():
                program.drain(min(until, time.monotonic() + 0.01))
            programs[name].drain(until)
            shows = drill_shows if name == "drill" else bare_shows
            pressed = programs[name].space()
            found[name].append((programs[name].until(shows(number)) - pressed) * 1000)
    return found


def tap_errors(program: Program, folder: Path) -> list[float]:
    """Milliseconds by which each stamp in the log is off its true time, about the median (which cancels in a rate)."""
    true: list[float] = []
    start = time.monotonic() + 0.5
    for number in range(TAPS):
        program.drain(start + number * 60 / TAPS_PER_MINUTE)
        true.append(program.space() * 1000)
    program.drain(time.monotonic() + 0.5)
    log = next(path for path in folder.rglob("*") if path.is_file())
    lines = [json.loads(line) for line in log.read_text(encoding="utf-8").splitlines()]
    stamps = [line["t"] for line in lines if line["kind"] == "key" and line.get("key") == "space"][-TAPS:]
    offsets = [stamp - at for stamp, at in zip(stamps, true, strict=True)]
    middle = statistics.median(offsets)
    return [offset - middle for offset in offsets]


def high(values: list[float], share: float) -> float:
    """The value that ``share`` of the values do not exceed."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def run() -> list[Figure]:
    """Ratios of key to paint, of memory, and the error of stamps."""
    base = {name: value for name, value in os.environ.items() if name not in ("TEXTUAL_FPS", "NO_COLOR")}
    base |= {"TERM": "xterm-256color", "COLORTERM": "truecolor", "PYTHONIOENCODING": "utf-8"}
    fast = base | {"TEXTUAL_FPS": "240"}
    times: dict[str, list[float]] = {"as it comes": [], "at 240": [], "drill": []}
    memory: dict[str, list[int]] = {name: [] for name in times}
    errors: list[float] = []
    for number in range(ROUNDS):
        with tempfile.TemporaryDirectory() as place:
            programs = {
                "as it comes": Program(["bare"], base),
                "at 240": Program(["bare"], fast),
                "drill": Program(["drill", place], fast),
            }
            try:
                for program in programs.values():
                    program.until(lambda lines: any("since go" in line or "n=0." in line for line in lines))
                for name, found in latencies(programs, number).items():
                    times[name] += found
                    memory[name].append(programs[name].resident_kb())
                for name in ("as it comes", "at 240"):
                    programs.pop(name).end()
                errors += tap_errors(programs["drill"], Path(place))
            finally:
                for program in programs.values():
                    program.end()
    p95 = {name: high(values, 0.95) for name, values in times.items()}
    each = ", ".join(f"{name} {statistics.median(values):.1f} / {p95[name]:.1f}" for name, values in times.items())
    size = {name: statistics.median(values) for name, values in memory.items()}
    taps = [abs(error) for error in errors]
    return [
        Figure(
            "key to paint, p95, against a bare app as it comes",
            p95["drill"] / p95["as it comes"],
            goal=0.3,
            better="less",
            note=f"median / p95 in ms over {ROUNDS * KEYS} keys each: {each}",
        ),
        Figure(
            "key to paint, p95, against a bare app at 240 frames",
            p95["drill"] / p95["at 240"],
            goal=1.6,
            better="less",
        ),
        Figure("stamps of taps: SD of the error", statistics.pstdev(errors), unit="ms", goal=1.0, better="less"),
        Figure(
            "stamps of taps: p99 of the error",
            high(taps, 0.99),
            unit="ms",
            goal=3.0,
            better="less",
            note=f"{len(errors)} taps at {TAPS_PER_MINUTE}/min; a log keeps whole milliseconds, which alone gives 0.3",
        ),
        *(
            [
                Figure(
                    "memory of a running drill against a bare app",
                    size["drill"] / size["at 240"],
                    goal=1.5,
                    better="less",
                    note=f"resident: drill {size['drill'] / 1024:.0f} MB, bare app {size['at 240'] / 1024:.0f} MB",
                )
            ]
            if size["at 240"]
            else []
        ),
    ]
