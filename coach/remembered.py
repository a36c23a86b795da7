"""What was chosen last time, in a small file of its own, so that three keys lead from start to go.

The file is the program's: written whole to a file beside it and moved into place, so that a power cut leaves the old
one or the new one. A damaged file is set aside, never deleted, and the drill begins with the built-in choices.
"""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from coach.text import clean

NAME = "last-time.json"
MAX_CHARS = 200
"""The longest value kept: ids and words of a closed list are far shorter."""


@dataclass(frozen=True, slots=True)
class Choices:
    """The briefing's answers. ``learner`` and ``assessor`` are two-digit ids or "", never names."""

    protocol: str = ""
    scenario: str = ""
    learner: str = ""
    assessor: str = ""
    role: str = "lead"
    mode: str = "practise"
    counting: str = "probe"
    unit: str = "floor"
    kit: str = "both"


def read_choices(folder: Path) -> tuple[Choices, str]:
    """The choices kept in ``folder`` and a word for the person: "" unless a damaged file was set aside."""
    path = folder / NAME
    try:
        data = json.loads(path.read_bytes())
        return _checked(data), ""
    except FileNotFoundError:
        return Choices(), ""
    except (ValueError, RecursionError):
        return Choices(), _set_aside(path)
    except OSError as error:
        return Choices(), f"What was chosen last time cannot be read ({error.strerror}): {clean(str(path))}"


def _checked(data: Any) -> Choices:
    names = {entry.name for entry in fields(Choices)}
    if not isinstance(data, dict):
        raise ValueError("not a table of choices")
    kept = {name: value for name, value in data.items() if name in names}
    if any(not isinstance(value, str) or len(value) > MAX_CHARS for value in kept.values()):
        raise ValueError("a choice is not a short text")
    return Choices(**{name: clean(value) for name, value in kept.items()})


def _set_aside(path: Path) -> str:
    for number in range(1, 1000):
        aside = path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")
        if not aside.exists():
            break
    try:
        path.rename(aside)
    except OSError as error:
        return f"What was chosen last time is damaged and cannot be moved ({error.strerror}): {clean(str(path))}"
    return f"What was chosen last time was damaged; the file is kept as {clean(aside.name)}"


def keep_choices(folder: Path, choices: Choices) -> str:
    """Keep the choices in ``folder``. Returns "" or, where the disk refuses, a word for the person."""
    path = folder / NAME
    beside = path.with_name(f"{NAME}.{os.getpid()}.new")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with beside.open("w", encoding="utf-8") as file:
            json.dump(asdict(choices), file, ensure_ascii=False, indent=1)
            file.flush()
            os.fsync(file.fileno())
        os.replace(beside, path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        return f"These choices could not be kept for next time ({error.strerror})"
    return ""
