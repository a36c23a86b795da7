"""The key scripts that are no protocol's own: drills good and bad, on which any protocol can be heard."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from coach.check.golden.heard import LACKS, apart, drilled, heard, played
from coach.drill.script import Script
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
        if (there := _played(path, protocol, text)) is not None:
            yield drilled(*there)[0]


def heard_apart(old: tuple[Protocol, str], new: tuple[Protocol, str], progress: Steps | None = None) -> Iterator[Apart]:
    """For each shared script where two protocols, each with its whole text, are heard apart."""
    scripts = shared_scripts()
    for number, path in enumerate(scripts):
        if progress is not None:
            progress(number, len(scripts))
        plays = {name: _played(path, *each) for name, each in (("old", old), ("new", new))}
        said = {name: "\n".join(heard(*there)) for name, there in plays.items() if there is not None}
        if len(said) == len(plays):
            yield Apart(path.stem, tuple(apart(said["old"], said["new"]).splitlines()))
        else:
            yield Apart(path.stem, (), next(iter(said), "neither"))


def _played(path: Path, protocol: Protocol, text: str) -> tuple[Script, Setup] | None:
    """A script with the set-up that it asks for; None where it throws, sees or settles what the protocol lacks."""
    try:
        return played(path, protocol, text)
    except LACKS:
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
