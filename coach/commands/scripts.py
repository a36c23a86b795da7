"""Golden key scripts and coverage on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands.words import FINDINGS, FINE, MISUSE, Refused, complain, remark, say, say_json

if TYPE_CHECKING:
    from coach.protocol.overlay import Effective


def scripts(names: Sequence[str], json: bool) -> int:
    """Play the golden key scripts of protocol files, or of protocols by name, and print what came of each."""
    from coach.check.golden.scripts import as_text, play_scripts
    from coach.commands.check import Meter
    from coach.protocol.problems import FileProblems

    files: list[dict[str, object]] = []
    paths: list[Path] = []
    worst, count = FINE, 0
    for name in names:
        try:
            path, whole, _ = opened(name)
        except FileProblems as problems:
            complain(str(problems))
            worst = MISUSE
            continue
        with Meter(str(path)) as meter:
            played = list(play_scripts(path, whole.protocol, whole.text, meter.steps("scripts")))
        count += len(played)
        paths.append(path)
        files.append({"file": str(path), "protocol": whole.protocol.id, "scripts": [one.as_dict() for one in played]})
        failed = {one.verdict for one in played if one.fails}
        worst = max(worst, MISUSE if "unplayable" in failed else FINDINGS if failed else FINE)
        if not json:
            say(("\n" if len(paths) > 1 else "") + as_text(str(path), whole.protocol, played))
    if json:
        say_json({"files": files})
    if paths and not count:
        todo = f"Put some in scripts/{paths[0].stem} beside it."
        raise Refused("there are no golden key scripts", where=", ".join(names), todo=todo)
    return worst


def coverage(name: str, learners: int, seed: int, json: bool) -> int:
    """Print what the golden scripts and random learners come by in a protocol, and what nobody came by: a finding."""
    from coach.check.golden.coverage import coverage as cover
    from coach.check.golden.scripts import play_scripts
    from coach.check.golden.shared import drills
    from coach.commands.check import Meter

    path, whole, text = opened(name)
    with Meter(str(path)) as meter:
        played = list(play_scripts(path, whole.protocol, whole.text, meter.steps("scripts")))
        histories = [one.history for one in played if one.history is not None]
        histories += drills(whole.protocol, whole.text)
        found = cover(
            whole,
            str(path),
            text,
            histories,
            learners=learners,
            seed=seed,
            folder=path.absolute().parent.parent,
            progress=meter.steps("learners"),
        )
    if json:
        say_json(found.as_dict())
    else:
        say(found.text())
    lame = sum(one.verdict == "unplayable" and not one.script.of for one in played)
    if lame:
        what = "1 golden script does" if lame == 1 else f"{lame} golden scripts do"
        remark(f"{what} not play, and came by nothing: kneeside scripts {path}")
    return FINDINGS if found.never else FINE


def opened(name: str) -> tuple[Path, Effective, str]:
    """A protocol file, or the protocol of that name: its path, what it brings into force, its own text. Raises
    FileProblems."""
    from coach.commands.lists import asks_for_protocol
    from coach.protocol.library import find_protocol
    from coach.protocol.overlay import effective
    from coach.protocol.reading import read_text

    path = Path(name)
    if not path.exists() and path.suffix != ".toml":
        path = find_protocol(name).path
    text = read_text(path)
    asks_for_protocol(path, text)
    return path, effective(text, str(path), path.absolute().parent.parent), text
