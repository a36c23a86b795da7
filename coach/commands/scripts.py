"""Golden key scripts and coverage on the command line."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from coach.commands.words import FINDINGS, FINE, MISUSE, Refused, complain, say, say_json, table
from coach.text import one_line

if TYPE_CHECKING:
    from coach.check.coverage import Coverage
    from coach.check.scripts import Played
    from coach.protocol.model import Protocol
    from coach.protocol.overlay import Effective


def scripts(names: Sequence[str], json: bool) -> int:
    """Play the golden key scripts of protocol files, or of protocols by name, and print what came of each."""
    from coach.check.scripts import play_scripts
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
            say(("\n" if len(paths) > 1 else "") + page(path, whole.protocol, played))
    if json:
        say_json({"files": files})
    if paths and not count:
        todo = f"Put some in scripts/{paths[0].stem} beside it."
        raise Refused("there are no golden key scripts", where=", ".join(names), todo=todo)
    return worst


def coverage(name: str, learners: int, seed: int, json: bool) -> int:
    """Print what the golden scripts and random learners come by in a protocol, and what nobody came by."""
    from coach.check.coverage import coverage as cover
    from coach.check.scripts import play_scripts
    from coach.commands.check import Meter

    path, whole, text = opened(name)
    with Meter(str(path)) as meter:
        played = play_scripts(path, whole.protocol, whole.text, meter.steps("scripts"))
        histories = [one.history for one in played if one.history is not None]
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
        say(coverage_page(found))
    return FINDINGS if found.never else FINE


def coverage_page(found: Coverage) -> str:
    """What was come by, for people."""
    from coach.check.coverage import KINDS

    rows = [("", "of", "by scripts", "by learners")]
    for kind in KINDS:
        scripts, of = found.reached(kind, "scripts")
        rows.append((kind, str(of), str(scripts), str(found.reached(kind, "learners")[0])))
    out = [
        f"{found.protocol}, version {found.version}",
        f"{found.scripts} golden key scripts; {found.learners} random learners"
        f" (seed {found.seed}, {found.events} events)",
        "",
        table(rows),
        "",
    ]
    if found.never:
        out.append("Nobody came by (kneeside check --injects 1 proves whether anybody can):")
        out += [f"  {one.where.file}:{one.where.line}  {one.kind}: {one_line(one.name)}" for one in found.never]
    else:
        out.append("Somebody came by everything.")
    alone = [one for one in found.items if one.learners and not one.scripts]
    if found.scripts and alone:
        out += ["", "No golden script came by:"]
        out += [f"  {one.where.file}:{one.where.line}  {one.kind}: {one_line(one.name)}" for one in alone]
    return "\n".join(out)


def opened(name: str) -> tuple[Path, Effective, str]:
    """A protocol file, or the protocol of that name: its path, what it brings into force, its own text. Raises
    FileProblems."""
    from coach.protocol.library import find_protocol
    from coach.protocol.overlay import effective
    from coach.protocol.reading import read_text

    path = Path(name)
    if not path.exists() and path.suffix != ".toml":
        path = find_protocol(name).path
    text = read_text(path)
    return path, effective(text, str(path), path.absolute().parent.parent), text


def page(path: Path, protocol: Protocol, played: Sequence[Played]) -> str:
    """What came of the scripts of one file, for people."""
    out = [f"{path}", f"{protocol.id}, version {protocol.version}: {counted(played)}"]
    for one in played:
        expected = ", ".join(one.expected) or "pass"
        base = f"  (of {one.script.of})" if one.script.of else ""
        word = {"as expected": "as expected", "otherwise": "OTHERWISE", "unplayable": "UNPLAYABLE"}[one.verdict]
        if one.script.of and one.verdict != "as expected":
            word = f"{one.verdict} than its base" if one.verdict == "otherwise" else "does not play here"
        out.append(f"  {one_line(one.script.name)}: {word}, {one_line(expected)}{base}")
        out += [f"      line {differs.line}: {one_line(differs.what)}" for differs in one.differs]
    return "\n".join(out)


def counted(played: Sequence[Played]) -> str:
    """How many there are, and how many came out as their authors say."""
    if not played:
        return "no golden key scripts"
    own = [one for one in played if not one.script.of]
    inherited = [one for one in played if one.script.of]
    parts = [_so_many(own, "golden key scripts")] if own else []
    parts += [_so_many(inherited, "of its bases")] if inherited else []
    return "; ".join(parts)


def _so_many(played: Sequence[Played], what: str) -> str:
    return f"{sum(one.verdict == 'as expected' for one in played)} of {len(played)} {what} as expected"
