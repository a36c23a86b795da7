"""The whole program in a real terminal: three keys to go, crashes, signals, the demo."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("pty", reason="needs a Unix terminal")

from coach.log.reading import read_log, verify
from tests.screens.frame.terminal import MAIN, Terminal

Open = Callable[..., Terminal]

BROKEN = """
import sys
from screens.drill import DrillScreen
paint = DrillScreen.paint
def fails(self, now):
    if self.drill.view(now).t > 1500:
        raise RuntimeError("a mistake of ours")
    return paint(self, now)
DrillScreen.paint = fails
"""


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Open]:
    opened: list[Terminal] = []

    def start(*argv: str, **more: Any) -> Terminal:
        opened.append(Terminal(tmp_path, *argv, **more))
        return opened[-1]

    yield start
    for one in opened:
        one.close()


def log_of(tmp_path: Path, folder: str = "drills") -> Path:
    (path,) = (tmp_path / folder).glob("*.jsonl")
    return path


def to_go(shell: Terminal) -> float:
    """From home to a running drill; when the third key was pressed."""
    shell.wait("Quit")
    shell.send(b"d")
    shell.wait("Counting")
    shell.send(b"\r")
    shell.wait("Ready?")
    at = shell.send(b"\r")
    shell.wait("since go")
    return at


def test_the_third_key_after_start_is_zero_in_the_log(terminal: Open, tmp_path: Path) -> None:
    shell = terminal()
    zero = to_go(shell)
    shell.pause(0.4)
    pressed = shell.send(b"u")
    shell.pause(0.3)
    shell.send(b"z")
    shell.pause(0.2)
    shell.send(b"z")
    shell.wait("How did that feel?")
    lines = read_log(log_of(tmp_path)).lines
    assert (lines[0]["kind"], lines[0]["t"], lines[0]["e"]) == ("go", 0, 0)
    key = next(line for line in lines if line["kind"] == "key")
    assert key["key"] == "u"
    # Both are stamps of the press itself; what the machine was busy with in between does not enter.
    assert abs(key["t"] - (pressed - zero) * 1000) < 100
    assert verify(log_of(tmp_path)).ok


def test_three_keys_typed_at_once_lose_none(terminal: Open, tmp_path: Path) -> None:
    shell = terminal()
    shell.wait("Quit")
    shell.send(b"d\r\ru")
    shell.wait("since go")
    shell.pause(0.5)
    keys = [line["key"] for line in read_log(log_of(tmp_path)).lines if line["kind"] == "key"]
    assert keys == ["u"]


def test_a_killed_drill_is_offered_again_with_every_key_and_its_hole(terminal: Open, tmp_path: Path) -> None:
    shell = terminal()
    to_go(shell)
    for _ in range(12):
        shell.send(b" ")
        shell.pause(0.2)
    shell.pause(0.3)
    shell.kill(signal.SIGKILL)
    assert shell.exit_code() == -signal.SIGKILL
    path = log_of(tmp_path)
    before = read_log(path)
    assert len([line for line in before.lines if line["kind"] == "key"]) == 12
    again = terminal()
    again.wait("A drill was cut off")
    again.send(b"\r")
    again.wait("since go")
    again.send(b"u")
    again.pause(0.5)
    again.send(b"z")
    again.pause(0.2)
    again.send(b"z")
    again.wait("How did that feel?")
    after = read_log(path)
    assert after.sealed
    assert after.lines[: len(before.lines)] == before.lines
    assert [line["kind"] for line in after.lines if line["kind"] in ("hole", "end")] == ["hole", "end"]


@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP", "window"])
def test_signals_close_the_log_properly(terminal: Open, tmp_path: Path, how: str) -> None:
    shell = terminal()
    to_go(shell)
    shell.send(b"u")
    shell.pause(0.3)
    if how == "window":
        shell.hang_up()
        deadline = time.monotonic() + 30
        while (done := os.waitpid(shell.pid, os.WNOHANG)) == (0, 0):
            assert time.monotonic() < deadline
            time.sleep(0.05)
        shell.pid = 0
        code = os.waitstatus_to_exitcode(done[1])
    else:
        shell.kill(getattr(signal, how))
        code = shell.exit_code()
    assert code == 130
    record = read_log(log_of(tmp_path))
    assert record.sealed
    assert record.lines[-1]["reason"] == "interrupted"


def test_a_crash_leaves_the_terminal_usable_and_says_where_the_log_is(terminal: Open, tmp_path: Path) -> None:
    shell = terminal(code=BROKEN + MAIN)
    shell.wait("Quit")
    shell.send(b"d")
    shell.wait("Counting")
    shell.send(b"\r")
    shell.wait("Ready?")
    shell.send(b"\r")
    assert shell.exit_code() == 70
    path = log_of(tmp_path)
    assert str(path).encode() in shell.raw.replace(b"\r\n", b"")
    assert b"our mistake, not yours" in shell.raw
    for off in (b"\x1b[?1049l", b"\x1b[?1000l", b"\x1b[?2004l", b"\x1b[?25h"):
        assert shell.raw.rindex(off) > shell.raw.rindex(b"\x1b[?1049h")
    assert read_log(path).lines[-1]["reason"] == "interrupted"


def test_a_dumb_terminal_is_refused_with_a_way_on(terminal: Open) -> None:
    shell = terminal(term="dumb")
    assert shell.exit_code() == 2
    assert b"\x1b[" not in shell.raw


def test_the_demo_is_taken_over_by_the_first_live_key(terminal: Open, tmp_path: Path) -> None:
    shell = terminal("demo")
    shell.wait("since go")
    shell.wait("0:04")
    shell.send(b"g")
    shell.pause(4.0)
    shell.send(b"z")
    shell.pause(0.2)
    shell.send(b"z")
    shell.wait("How did that feel?")
    lines = read_log(log_of(tmp_path, "demo")).lines
    (over,) = [number for number, line in enumerate(lines) if line["kind"] == "taken_over"]
    assert lines[over]["dropped"] > 100
    assert [line["key"] for line in lines[over:] if "key" in line] == ["g", "z", "z"]
    assert [line["key"] for line in lines[:over] if "key" in line]
    assert verify(log_of(tmp_path, "demo")).ok
