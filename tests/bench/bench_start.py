"""From the start of the process to the first painted page, in a pseudo-terminal, beside the least app there is.

The bare app imports the very third-party modules that the home page brings in, so that the ratio is what our own code
costs and not what was chosen to be installed. Both run at 240 frames. POSIX only.
"""

from __future__ import annotations

import fcntl
import json
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
from pathlib import Path

from tests.bench.figures import Figure

ROUNDS = 9
ROOT = Path(__file__).resolve().parents[2]
TOO_LONG_S = 30.0


def third_party() -> list[str]:
    """Names of the modules, neither ours nor Python's, that the home page loads before it paints."""
    code = (
        "import json, sys\n"
        "import coach.commands.endings, coach.commands.doors, coach.clock, coach.settings, screens.app\n"
        "from screens.input_bytes import driver_class\n"
        "driver_class()\n"
        "ours = ('coach', 'screens', '__main__')\n"
        "print(json.dumps([n for n in sys.modules if (t := n.split('.')[0]) not in ours "
        "and t not in sys.stdlib_module_names and not n.startswith('_')]))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    names: list[str] = json.loads(done.stdout)
    return names


def until_painted(command: list[str], words: bytes, environ: dict[str, str]) -> float:
    """Milliseconds from spawning ``command`` in an 80x24 terminal to the first output that holds ``words``."""
    main, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    began = time.perf_counter()
    process = subprocess.Popen(
        command, stdin=child, stdout=child, stderr=child, cwd=ROOT, env=environ, start_new_session=True
    )
    os.close(child)
    seen = b""
    try:
        while words not in seen:
            left = began + TOO_LONG_S - time.perf_counter()
            if left <= 0 or not select.select([main], [], [], left)[0]:
                raise TimeoutError(f"{command} painted nothing in {TOO_LONG_S:.0f} s: {seen[-400:]!r}")
            seen += os.read(main, 65536)
        return (time.perf_counter() - began) * 1000
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        os.close(main)


def modules_of(words: list[str]) -> int:
    """How many modules a fresh process holds after the command line ran ``words``."""
    code = f"import sys; from coach.commands import main; main({words!r}); print(len(sys.modules), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    return int(done.stderr)


def run() -> list[Figure]:
    """Start to first paint as a ratio, and what ``--version`` loads beyond a bare interpreter."""
    with tempfile.TemporaryDirectory() as folder:
        environ = {
            **os.environ,
            "TERM": "xterm-256color",
            "KNEESIDE_DATA_DIR": folder,
            "KNEESIDE_CONFIG": f"{folder}/settings.toml",
        }
        ours = [sys.executable, "-m", "coach"]
        bare = [sys.executable, str(Path(__file__).with_name("bare_app.py")), *third_party()]
        ratios: list[float] = []
        times: list[float] = []
        for number in range(ROUNDS + 1):
            pair = {}
            for name in ("ours", "bare") if number % 2 else ("bare", "ours"):
                command, words = (ours, b"kneeside") if name == "ours" else (bare, b"bare and ready")
                pair[name] = until_painted(command, words, environ)
            if number:  # the first round warms the disk
                ratios.append(pair["ours"] / pair["bare"])
                times.append(pair["ours"])
    empty = int(
        subprocess.run(
            [sys.executable, "-c", "import sys; print(len(sys.modules))"], capture_output=True, text=True, check=True
        ).stdout
    )
    return [
        Figure(
            "start to first paint against a bare app",
            statistics.median(ratios),
            goal=1.3,
            better="less",
            note=f"median of {ROUNDS} rounds in a pty of 80x24; the bare app imports the same third-party modules",
        ),
        Figure("start to first paint", statistics.median(times), unit="ms"),
        Figure("modules that --version loads beyond Python's own", modules_of(["--version"]) - empty, unit="modules"),
    ]
