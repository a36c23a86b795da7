"""A program in a pty with a real screen behind it, for tests that need the whole way from a byte to a log."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path

import pyte

PATIENCE_S = 30.0
MAIN = "from coach.commands import main; raise SystemExit(main())"
ROOT = Path(__file__).parents[3]


class Terminal:
    """``python -c code`` in a terminal of 80x24 (or ``size``); ``raw`` holds every byte it wrote."""

    def __init__(
        self, data: Path, *argv: str, code: str = MAIN, size: tuple[int, int] = (80, 24), term: str = "xterm-256color"
    ) -> None:
        self.screen = pyte.Screen(*size)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ |= {
                "TERM": term,
                "PYTHONPATH": str(ROOT),
                "KNEESIDE_DATA_DIR": str(data),
                "KNEESIDE_CONFIG": str(data / "settings.toml"),
            }
            os.execv(sys.executable, [sys.executable, "-c", code, *argv])
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", size[1], size[0], 0, 0))

    def text(self) -> str:
        """The screen as lines."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def _read(self, seconds: float) -> bool:
        """Take in what comes within ``seconds``; False once the program has closed its end."""
        if not select.select([self.fd], [], [], seconds)[0]:
            return True
        try:
            data = os.read(self.fd, 65536)
        except OSError:
            return False
        self.raw += data
        self._stream.feed(data)
        return bool(data)

    def wait(self, words: str) -> None:
        """Until ``words`` stand on the screen."""
        deadline = time.monotonic() + PATIENCE_S
        while words not in self.text():
            assert time.monotonic() < deadline and self._read(0.1), f"no {words!r} on:\n{self.text()}"

    def send(self, data: bytes) -> float:
        """Type bytes; the time of it on the clock of events."""
        at = time.monotonic()
        os.write(self.fd, data)
        return at

    def pause(self, seconds: float) -> None:
        """Let the program run on."""
        deadline = time.monotonic() + seconds
        while (left := deadline - time.monotonic()) > 0 and self._read(left):
            pass

    def kill(self, number: int) -> None:
        """A signal to the program, and to nothing else."""
        os.kill(self.pid, number)

    def exit_code(self) -> int:
        """Wait for the end; the exit code, or minus the signal."""
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            self._read(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.pid = 0
                return os.waitstatus_to_exitcode(status)
        raise AssertionError(f"it does not end:\n{self.text()}")

    def hang_up(self) -> None:
        """Close the window."""
        os.close(self.fd)
        self.fd = -1

    def close(self) -> None:
        """End the program if it still runs."""
        if self.pid:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        if self.fd >= 0:
            os.close(self.fd)
