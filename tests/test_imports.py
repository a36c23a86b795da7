"""What importing may bring along, seen in fresh processes: deferred and third-party imports too."""

from __future__ import annotations

import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import coach

ROOT = Path(coach.__file__).parent
ROOMS = sorted(
    f"coach.{found.name}" for found in pkgutil.iter_modules([str(ROOT)]) if found.name not in ("commands", "__main__")
)
SCREENLY = ("textual", "rich", "screens")


def _fresh(code: str) -> str:
    """Standard output of ``code`` in a new interpreter that sees this checkout and nothing of the present process."""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT.parent, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _loaded_by_command(*words: str) -> set[str]:
    """Top-level names in ``sys.modules`` after a run of the command line."""
    code = (
        "import contextlib, io, json, sys\n"
        "from coach.commands import main\n"
        "with contextlib.redirect_stdout(io.StringIO()):\n"
        f"    code = main({list(words)!r})\n"
        "print(json.dumps([code, sorted({name.split('.')[0] for name in sys.modules})]))"
    )
    code_, names = json.loads(_fresh(code))
    assert code_ == 0
    return set(names)


def test_no_room_of_the_coach_loads_a_screen() -> None:
    """All modules below ``coach``, one after the other in one process: the first culprit is named."""
    code = (
        "import importlib, pkgutil, sys\n"
        "import coach\n"
        "for found in pkgutil.walk_packages(coach.__path__, 'coach.'):\n"
        "    if found.name in ('coach.commands.doors', 'coach.__main__'):\n"
        "        continue\n"
        "    importlib.import_module(found.name)\n"
        f"    bad = [name for name in {SCREENLY!r} if name in sys.modules]\n"
        "    if bad:\n"
        "        print(found.name, 'loads', *bad)\n"
        "        break\n"
        "else:\n"
        "    print('none')\n"
    )
    assert _fresh(code).strip() == "none"


@pytest.mark.parametrize("room", ROOMS)
def test_each_room_can_be_imported_first(room: str) -> None:
    """No room needs another one to have been imported before it."""
    assert _fresh(f"import {room}; print('in')").strip() == "in"


def test_version_loads_nothing_heavy() -> None:
    heavy = {*SCREENLY, "pydantic", "typer", "click", "platformdirs", "tomllib", "asyncio"}
    assert not heavy & _loaded_by_command("--version")


def test_help_loads_neither_screens_nor_the_file_schema() -> None:
    assert not {*SCREENLY, "pydantic", "asyncio"} & _loaded_by_command("--help")


@pytest.mark.parametrize(
    "words", [("protocols",), ("scenarios",), ("where",), ("pads", "--age", "7"), ("demo", "--plain")]
)
def test_plain_commands_load_no_screen(words: tuple[str, ...]) -> None:
    assert not {*SCREENLY} & _loaded_by_command(*words)
