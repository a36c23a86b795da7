"""Escape in a real terminal: every byte is written into a pty, and what the app was told is read back."""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pty = pytest.importorskip("pty", reason="needs a Unix terminal")

APP = textwrap.dedent(
    """
    from textual import events
    from textual.app import App
    from screens.input_bytes import driver_class

    class Echo(App):
        async def on_event(self, event):
            if isinstance(event, events.Key):
                print_line(self, f"[{event.key}@{event.time:.3f}]")
            elif isinstance(event, events.Paste):
                print_line(self, f"[paste={len(event.text)}]")
            else:
                await super().on_event(event)

        def on_mount(self):
            print_line(self, "[ready]")

    def print_line(app, text):
        app._driver.write(text)
        app._driver.flush()

    Echo(driver_class=driver_class()).run()
    """
)
PATIENCE_S = 20.0


class Terminal:
    """The app in a pty; what it wrote, stripped of all but the marks in brackets."""

    def __init__(self) -> None:
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ |= {"TERM": "xterm-256color", "PYTHONPATH": os.getcwd()}
            os.environ.pop("TEXTUAL_DRIVER", None)
            os.execv(sys.executable, [sys.executable, "-c", APP])
        self.seen = ""

    def send(self, *parts: bytes | float) -> float:
        """Write bytes and wait seconds, in order. Returns the time of the first write."""
        first = time.monotonic()
        for part in parts:
            if isinstance(part, bytes):
                os.write(self.fd, part)
            else:
                time.sleep(part)
        return first

    def wait(self, *marks: str) -> list[str]:
        """The marks seen since the last wait, as soon as all of ``marks`` are among them."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            found = [part.split("]")[0] for part in self.seen.split("[") if "]" in part]
            names = [mark.split("@")[0] for mark in found if "@" in mark or "=" in mark or mark == "ready"]
            if all(mark in names for mark in marks):
                self.found = {mark.split("@")[0]: float(mark.split("@")[1]) for mark in found if "@" in mark}
                self.seen = ""
                return names
            left = deadline - time.monotonic()
            assert left > 0, f"{marks} not seen, but {names}"
            if select.select([self.fd], [], [], left)[0]:
                self.seen += os.read(self.fd, 65536).decode(errors="replace")


@pytest.fixture(scope="module")
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    try:
        made.wait("ready")
        yield made
    finally:
        os.kill(made.pid, signal.SIGKILL)
        os.waitpid(made.pid, 0)
        os.close(made.fd)


@pytest.mark.parametrize(
    ("byte", "key"),
    [(b" ", "space"), (b"\r", "enter"), (b"\x7f", "backspace"), (b"c", "c"), (b"[", "left_square_bracket")],
)
def test_escape_then_a_key_gives_both(terminal: Terminal, byte: bytes, key: str) -> None:
    for _ in range(3):  # a machine that runs nobody for 60 ms reads both at once; it will not do so three times running
        terminal.send(b"\x1b", 0.06, byte, 0.1, b"q")
        if (names := terminal.wait("q")) != [f"alt+{key}", "q"]:
            break
    assert names == ["escape", key, "q"]
    assert 0.05 < terminal.found[key] - terminal.found["escape"] < 5


def test_escape_alone_arrives_without_a_further_byte_and_with_its_own_time(terminal: Terminal) -> None:
    before = terminal.send(b"\x1b")
    assert terminal.wait("escape") == ["escape"]
    assert terminal.found["escape"] >= before - 0.001


@pytest.mark.parametrize(("byte", "key"), [(b"c", "c"), (b"\r", "enter"), (b" ", "space"), (b"\x7f", "backspace")])
def test_alt_and_a_key_is_neither_escape_nor_the_key(terminal: Terminal, byte: bytes, key: str) -> None:
    terminal.send(b"\x1b" + byte, 0.15, b"q")
    assert terminal.wait("q") == [f"alt+{key}", "q"]


def test_sequences_and_pastes_are_no_escape(terminal: Terminal) -> None:
    terminal.send(b"\x1b[A", 0.02, b"\x1b[27u", 0.02, b"\x1b[200~as\x1bdf\x1b[201~", 0.02, b"q")
    assert terminal.wait("q") == ["up", "escape", "paste=5", "q"]


def test_characters_of_several_bytes(terminal: Terminal) -> None:
    terminal.send("ñ".encode()[:1], 0.02, "ñ".encode()[1:], 0.02, "\x1bé".encode(), 0.02, b"q")
    assert terminal.wait("q") == ["ñ", "alt+é", "q"]


def log_lines(folder: Path) -> list[dict[str, object]]:
    """The lines of the one log in a folder, as far as it is written."""
    return [json.loads(line) for path in folder.rglob("*.jsonl") for line in path.read_bytes().splitlines()]


def test_escape_stops_a_real_drill_whatever_key_follows_and_alt_does_not(tmp_path: Path) -> None:
    pid, fd = pty.fork()
    if pid == 0:
        os.environ |= {"TERM": "xterm-256color", "PYTHONPATH": os.getcwd()}
        os.environ.pop("TEXTUAL_DRIVER", None)
        os.execv(sys.executable, [sys.executable, "-m", "tests.bench.key_apps", "drill", str(tmp_path)])
    seen = bytearray()

    def until(done: Callable[[], bool]) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not done():
            assert time.monotonic() < deadline, seen[-2000:]
            if select.select([fd], [], [], 0.02)[0]:
                seen.extend(os.read(fd, 65536))

    def kinds() -> list[object]:
        return [line["kind"] for line in log_lines(tmp_path)]

    def keys() -> list[dict[str, object]]:
        return [line for line in log_lines(tmp_path) if line["kind"] == "key"]

    try:
        until(lambda: b"since go" in seen)
        os.write(fd, b"\x1bc")
        until(lambda: "key" in kinds())
        assert "stop" not in kinds()
        for number, key in enumerate((b" ", b"\r", b"\x7f", b"c"), 1):
            for _ in range(3):  # as above: a machine that runs nobody for 60 ms reads both at once
                seen.clear()
                before = len(keys())
                os.write(fd, b"\x1b")
                time.sleep(0.06)
                os.write(fd, key)
                until(lambda before=before: len(keys()) > before)  # type: ignore[misc]
                if keys()[-1]["outcome"] == "refused":
                    break
            until(lambda: b"Stopped" in seen)
            assert kinds().count("stop") == number
            time.sleep(0.15)  # the same key twice within 120 ms is one press
            os.write(fd, b"p")
            until(lambda number=number: kinds().count("resume") == number)  # type: ignore[misc]
    finally:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
        os.close(fd)
