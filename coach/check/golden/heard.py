"""What a key script makes a protocol say, as text: a golden sheet that a person has read, to hold the file to.

One line a moment: seconds since go, what was done, what came of it (steps entered, cues and voices, faults, limits
passed), and at the end what the debrief finds. A sheet lies beside the script, ``NAME.heard`` beside ``NAME.txt``, or
under the protocol's own scripts where the script is shared (``protocols/scripts/NAME.txt``).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from coach.check.states.sight import words_said
from coach.clock import SteppedClock
from coach.drill.choosing import setup_with
from coach.drill.play import setup_of, strike
from coach.drill.script import Script, read_script
from coach.drill.session import Drill
from coach.drill.setup import Setup, header
from coach.engine.build import build
from coach.engine.plan import resolve
from coach.log.happened import Happened
from coach.log.history import begin
from coach.log.writing import MemoryLog
from coach.measure.report import conclude, measure
from coach.observations import label
from coach.protocol.model import Protocol
from coach.resources import data_dir

SHEET = ".heard"


class Golden(NamedTuple):
    """One sheet: the script that it is of and the protocol whose sheet it is, by id."""

    script: Path
    sheet: Path
    protocol: str


def goldens(protocol: str, folder: Path | None = None) -> list[Golden]:
    """The sheets of a protocol by id, in the order of their names. ``folder`` is the library's (the shipped one)."""
    library = folder or data_dir("protocols")
    guidance, _, stem = protocol.partition("/")
    found = []
    for sheet in sorted((library / guidance / "scripts" / stem).glob(f"*{SHEET}")):
        beside = sheet.with_suffix(".txt")
        script = beside if beside.exists() else library / "scripts" / beside.name
        found.append(Golden(script, sheet, protocol))
    return found


def played(golden: Golden, protocol: Protocol, text: str) -> tuple[Script, Setup]:
    """The script of a sheet and the set-up that it asks for, under a protocol whose whole text is ``text``."""
    script = read_script(golden.script.read_text(encoding="utf-8"), str(golden.script))
    return script, setup_of(script, lambda _, scenario: setup_with(protocol, text, scenario))


def hears(golden: Golden, protocol: Protocol, text: str) -> str:
    """What a protocol says on the script of a sheet."""
    return "\n".join(heard(*played(golden, protocol, text))) + "\n"


def heard(script: Script, setup: Setup) -> Iterator[str]:
    """What is heard and found on a script, line by line. Raises what opening a drill raises."""
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
    happened = history.happened()
    done = {one.seq: label(one.event) for one in happened.seen}
    times = {one.seq: one.e for one in happened.seen}
    lines = [(one.e, f"{label(one.event)}: {one.outcome}") for one in happened.seen if one.outcome != "taken"]
    for (e, because), group in groupby(happened.told, lambda told: (told.effect.e, told.because)):
        said = words_said(machine, tuple(told.effect for told in group), "")
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
