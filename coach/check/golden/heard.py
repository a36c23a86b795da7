"""What a key script makes a protocol say, as text: a golden sheet that a person has read, to hold the file to.

One line a moment: seconds since go, what was done, what came of it (steps entered, cues and voices, faults, limits
passed), and at the end what the debrief finds. A sheet lies beside the script, ``NAME.heard`` beside ``NAME.txt``, or
under the protocol's own scripts where the script is shared (``protocols/scripts/NAME.txt``). A protocol much like
another one has a single file instead, ``unlike.heard``: what it says otherwise than that one on each of its scripts.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from difflib import unified_diff
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from coach.check.states.sight import words_said
from coach.clock import SteppedClock
from coach.drill.choosing import setup_with
from coach.drill.play import setup_of, strike
from coach.drill.script import Script, ScriptProblem, read_script
from coach.drill.session import Drill
from coach.drill.setup import Setup, header
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.log.happened import Happened
from coach.log.history import History, begin
from coach.log.writing import MemoryLog
from coach.measure.report import conclude, measure
from coach.observations import label
from coach.protocol.model import Protocol
from coach.protocol.problems import FileProblems
from coach.resources import data_dir

SHEET = ".heard"
UNLIKE = "unlike.heard"
HEAD = "Heard as "
"""How the first line of a file of differences begins; the id of the other protocol follows."""

NOT_HERE = "! does not play here: something that it throws, sees or settles is not in this protocol"

LACKS = (ScriptProblem, FileProblems)
"""What is raised where a script throws or sees what a protocol lacks, or settles facts that it lacks."""


class Golden(NamedTuple):
    """One sheet: the script that it is of and the protocol whose sheet it is, by id. ``unlike`` is what is heard
    otherwise than on the sheet, line by line, where that is another protocol's; None where it is the protocol's own."""

    script: Path
    sheet: Path
    protocol: str
    unlike: str | None = None

    def kept(self) -> str:
        """What was read and kept: what :meth:`told` must come to."""
        return self.sheet.read_text(encoding="utf-8") if self.unlike is None else self.unlike

    def told(self, now: str) -> str:
        """What is heard now, told as it is kept: whole, or where it differs from the sheet."""
        if self.unlike is None:
            return now
        return apart(self.sheet.read_text(encoding="utf-8"), now)


def apart(one: str, other: str) -> str:
    """Where two things heard differ, line by line: "-" before what only the first has, "+" before the other's."""
    lines = list(unified_diff(one.splitlines(), other.splitlines(), lineterm="", n=0))[2:]
    return "\n".join(line for line in lines if not line.startswith("@@"))


def goldens(protocol: str, folder: Path | None = None) -> list[Golden]:
    """The sheets of a protocol by id, in the order of their names. ``folder`` is the library's (the shipped one)."""
    library = folder or data_dir("protocols")
    own = _scripts(library, protocol)
    found = []
    for sheet in sorted(own.glob(f"*{SHEET}")):
        if sheet.name == UNLIKE:
            continue
        beside = sheet.with_suffix(".txt")
        script = beside if beside.exists() else library / "scripts" / beside.name
        found.append(Golden(script, sheet, protocol))
    if (own / UNLIKE).exists():
        other, sections = _unlike((own / UNLIKE).read_text(encoding="utf-8"))
        for one in goldens(other, library):
            found.append(one._replace(protocol=protocol, unlike=sections.get(one.sheet.stem, "")))
    return found


def _scripts(library: Path, protocol: str) -> Path:
    guidance, _, stem = protocol.partition("/")
    return library / guidance / "scripts" / stem


def _unlike(text: str) -> tuple[str, dict[str, str]]:
    """The other protocol that a file of differences names, and what differs by the name of the sheet."""
    head, *sections = text.split("\n\n")
    parted = (section.strip("\n").partition("\n") for section in sections)
    return head.removeprefix(HEAD).partition(",")[0], {name: lines for name, _, lines in parted}


def unlike(other: str, protocol: Protocol, text: str, folder: Path | None = None) -> str:
    """What a protocol, whose whole text is ``text``, says otherwise than the sheets of another one, by id."""
    out = [f"{HEAD}{other}, but for what follows: - there, + here."]
    for one in goldens(other, folder):
        told = compared(one._replace(unlike=""), protocol, text)
        if told:
            out.append(f"{one.sheet.stem}\n{told}")
    return "\n\n".join(out) + "\n"


def compared(golden: Golden, protocol: Protocol, text: str) -> str:
    """What a protocol says on the script of a sheet, told as the sheet is kept."""
    try:
        return golden.told(hears(golden, protocol, text))
    except LACKS:
        return NOT_HERE


def played(path: Path, protocol: Protocol, text: str) -> tuple[Script, Setup]:
    """The key script at ``path`` and the set-up that it asks for, under a protocol whose whole text is ``text``. Raises
    :data:`LACKS` where it throws, sees or settles what the protocol lacks."""
    script = read_script(path.read_text(encoding="utf-8"), str(path))
    return script, setup_of(script, lambda _, scenario: setup_with(protocol, text, scenario))


def hears(golden: Golden, protocol: Protocol, text: str) -> str:
    """What a protocol says on the script of a sheet."""
    return "\n".join(heard(*played(golden.script, protocol, text))) + "\n"


def drilled(script: Script, setup: Setup) -> tuple[History, dict[str, object]]:
    """The drill that a script makes, folded, and the head of its log. Raises what opening a drill raises."""
    clock, log = SteppedClock(), MemoryLog()
    plan = resolve(setup.protocol, setup.scenario, unit=setup.unit, counting=setup.counting, seed=setup.seed)
    machine = build(setup.protocol, plan)
    drill = Drill(setup, plan, machine, clock, log, "golden")
    log.write(header(setup, plan, clock, "golden", "", ""))
    first = clock.mono_ms()
    for stroke in script.strokes:
        clock.set(first + stroke.at)
        drill.tick(clock.mono_ms())
        strike(drill, stroke, clock.mono_ms())
    head, *written = map(json.loads, log.content.splitlines())
    history = begin(head, setup.protocol)
    for line in written:
        history.read(line)
    return history, head


def heard(script: Script, setup: Setup) -> Iterator[str]:
    """What is heard and found on a script, line by line. Raises what opening a drill raises."""
    history, head = drilled(script, setup)
    happened = history.happened()
    done = {one.seq: label(one.event) for one in happened.seen}
    times = {one.seq: one.e for one in happened.seen}
    lines = [(one.e, f"{label(one.event)}: {one.outcome}") for one in happened.seen if one.outcome != "taken"]
    for (e, because), group in groupby(happened.told, lambda told: (told.effect.e, told.because)):
        said = words_said(history.machine, tuple(told.effect for told in group), "")
        if said:
            by = done.get(because, "time") if times.get(because) == e else "time"
            lines.append((e, f"{by if e else 'go'}: {'; '.join(said)}"))
    for e, text in sorted(lines, key=lambda line: line[0]):
        yield f"{e / 1000:8.2f}  {text}"
    yield from _found(happened, setup.protocol, head)


def _found(happened: Happened, protocol: Protocol, head: dict[str, object]) -> Iterator[str]:
    judged = conclude(measure(happened, protocol, head), happened, protocol, head)
    for one in judged.findings:
        asked = ", asks first" if one.to_confirm else ""
        yield f"   found  {one.severity} {one.rule}{f' in {one.step}' if one.step else ''}{asked}"
