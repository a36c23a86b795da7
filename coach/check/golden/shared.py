"""The key scripts that are no protocol's own: drills good and bad, on which any protocol can be heard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from coach.check.golden.heard import apart, drilled, heard
from coach.drill.choosing import setup_with
from coach.drill.play import setup_of
from coach.drill.script import Script, ScriptProblem, read_script
from coach.drill.setup import Setup
from coach.log.history import History
from coach.protocol.model import Protocol
from coach.resources import data_dir
from coach.text import clean

Steps = Callable[[int, int], None]
"""Progress: how many of how many are done."""


class Apart(NamedTuple):
    """What two protocols say otherwise on one script, line by line as :func:`apart` has it; ``only`` is "old" or "new"
    where it plays under that one alone, "neither" where under none, "" where under both."""

    name: str
    lines: tuple[str, ...]
    only: str = ""


def shared_scripts() -> list[Path]:
    """The shared key scripts, by name."""
    return sorted((data_dir("protocols") / "scripts").glob("*.txt"))


def drills(protocol: Protocol, text: str) -> Iterator[History]:
    """The drills that the shared scripts make under a protocol whose whole text is ``text``, of those that play."""
    for path in shared_scripts():
        script = _read(path)
        setup = _set_up(script, protocol, text)
        if setup is not None:
            yield drilled(script, setup)[0]


def heard_apart(old: tuple[Protocol, str], new: tuple[Protocol, str], progress: Steps | None = None) -> Iterator[Apart]:
    """For each shared script where two protocols, each with its whole text, are heard apart."""
    scripts = shared_scripts()
    for number, path in enumerate(scripts):
        if progress is not None:
            progress(number, len(scripts))
        script = _read(path)
        setups = [_set_up(script, *each) for each in (old, new)]
        if None in setups:
            plays = [name for name, setup in zip(("old", "new"), setups, strict=True) if setup is not None]
            yield Apart(path.stem, (), plays[0] if plays else "neither")
            continue
        said = ["\n".join(heard(script, setup)) for setup in setups if setup is not None]
        yield Apart(path.stem, tuple(apart(*said).splitlines()))


def _read(path: Path) -> Script:
    return read_script(path.read_text(encoding="utf-8"), path.name)


def _set_up(script: Script, protocol: Protocol, text: str) -> Setup | None:
    """The set-up that a script asks for under a protocol; None where it throws or sees what the protocol lacks."""
    try:
        return setup_of(script, lambda _, scenario: setup_with(protocol, text, scenario))
    except ScriptProblem:
        return None


def as_text(found: list[Apart]) -> str:
    """What is heard apart, for people."""
    played = [one for one in found if not one.only]
    differ = [one for one in played if one.lines]
    if not differ:
        out = [f"Heard the same on all {len(played)} shared key scripts that play under both."]
    else:
        out = [f"Heard apart on {len(differ)} of {len(played)} shared key scripts (- old, + new):"]
        for one in differ:
            out += ["", f"  {one.name}", *(f"    {clean(line)}" for line in one.lines)]
    for side in ("old", "new"):
        if alone := [one.name for one in found if one.only == side]:
            out += ["", f"Play under the {side} one only: {', '.join(alone)}"]
    return "\n".join(out)
