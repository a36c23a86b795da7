"""The bench in a real terminal: an editor gets the terminal, and what it saved is checked."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

pytest.importorskip("pty", reason="needs a Unix terminal")

from tests.screens.bench.test_bench import SMALL
from tests.screens.frame.terminal import Terminal

EDITOR = """\
import sys
path = sys.argv[-1]
print("editing", flush=True)
input()
text = open(path, encoding="utf-8").read()
open(path, "w", encoding="utf-8").write(text.replace('to = "waiting"', 'to = "waiting"\\nwhen = "clear_said"'))
raise SystemExit(3)
"""


def small(folder: Path) -> Path:
    """A protocol of its own to work on."""
    file = folder / "none" / "small.toml"
    file.parent.mkdir()
    file.write_text(SMALL, encoding="utf-8")
    return file


def left(shell: Terminal) -> int | None:
    """Leave the bench and the program; how it ended."""
    shell.send(b"\x1b")
    shell.wait("Quit")
    shell.send(b"q")
    return shell.exit_code()


def test_what_an_editor_saved_is_checked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = small(tmp_path)
    editor = tmp_path / "editor.py"
    editor.write_text(EDITOR, encoding="utf-8")
    monkeypatch.setenv("EDITOR", f"{sys.executable} {editor}")
    monkeypatch.delenv("VISUAL", raising=False)
    shell = Terminal(tmp_path, "bench", str(file))
    try:
        shell.wait("1 BROKEN")
        shell.send(b"e")
        shell.wait("editing")
        shell.send(b"\n")
        shell.wait("ended with code 3")
        shell.wait("1 of 1 rules hold")
        assert left(shell) == 0
    finally:
        shell.close()
    assert "clear_said" in file.read_text(encoding="utf-8")


def test_an_editor_that_does_not_start_leaves_the_bench_alive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = small(tmp_path)
    monkeypatch.setenv("EDITOR", str(file))  # it is there, and nobody may run it
    monkeypatch.delenv("VISUAL", raising=False)
    shell = Terminal(tmp_path, "bench", str(file))
    try:
        shell.wait("1 BROKEN")
        shell.send(b"e")
        shell.wait("does not start")
        assert left(shell) == 0
    finally:
        shell.close()
