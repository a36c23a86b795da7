"""Playing a key script: the live drill's own code on a stepped clock, into the same log, byte for byte every time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

from coach.clock import SteppedClock
from coach.drill.opening import open_drill, stand_ready
from coach.drill.script import ADVICE, Script, ScriptProblem, Stroke
from coach.drill.session import Drill
from coach.drill.setup import Setup
from coach.engine.plan import PlanProblem
from coach.log.places import new_drill_id
from coach.log.reading import Record, read_bytes
from coach.log.writing import MemoryLog
from coach.observations import KEY_ALIASES, OBSERVATIONS
from coach.protocol.model import Protocol
from coach.protocol.reading import read_scenario
from coach.text import nearest

SCRIPT_FACTS = """format = 1
id = "script/facts"
title = "Facts of a key script"
story = "None: facts alone."
facts = {{ {} }}
"""
"""The scenario that a script's own facts make."""

ANSWERS = ("answered", "wrong")
"""How an inject was answered, as a line for what is seen may say: ``seen wrong:vomit``."""

TICK_MS = 200
"""How often a played drill is shown: as often as a live one repaints."""


def setup_of(script: Script, find: Callable[[str, str], Setup]) -> Setup:
    """The set-up that a script's headers ask for. ``find`` gives a set-up for the names of a protocol and a scenario
    ("" for none). All headers are optional: counting each, unit floor, learner "none". Raises
    :class:`coach.drill.script.ScriptProblem` where the protocol lacks what a line names."""
    head = script.headers
    base = find(head.get("protocol", ""), head.get("scenario", ""))
    if unknown := list(_unknown(script, base.protocol)):
        raise ScriptProblem(script.name, unknown)
    if "facts" in head:
        if base.scenario is not None:
            raise PlanProblem("a script names a scenario or gives facts, not both")
        text = SCRIPT_FACTS.format(head["facts"])
        base = replace(base, scenario=read_scenario(text, "the facts of the script", base.protocol), scenario_text=text)
    seed = head.get("seed", "")
    if seed and not seed.isdigit():
        raise PlanProblem(f"the script's seed is a whole number, not {seed!r}")
    return replace(
        base,
        mode=_one_of(head, "mode", ("teach", "practise", "test"), base.mode),
        counting=head.get("counting", "each"),
        unit=head.get("unit", "floor"),
        language=head.get("language", base.language),
        learner=head.get("learner", "none"),
        assessor=head.get("assessor", ""),
        role=head.get("role", ""),
        reason=head.get("reason", ""),
        seed=int(seed) if seed else None,
        starts_from=head.get("starts_from", ""),
        attempt=int(head["attempt"]) if head.get("attempt", "").isdigit() else base.attempt,
        kit=tuple(head["kit"].replace(",", " ").split()) if "kit" in head else base.kit,
    )


def _unknown(script: Script, protocol: Protocol) -> Iterator[tuple[int, str]]:
    """The lines that name what a protocol does not have, with what to do."""
    known = {"inject": list(protocol.inject), "seen": [*OBSERVATIONS, *protocol.observations]}
    for stroke in script.strokes:
        word = stroke.words[0] if stroke.words else ""
        what, _, of = word.partition(":")
        if stroke.verb not in known or (stroke.verb == "seen" and what in ANSWERS and of in protocol.inject):
            continue
        words = known[stroke.verb]
        if word not in words:
            near = nearest(word, words)
            hint = f"did you mean {near}?" if near else f"it knows {', '.join(words[:8]) or 'none'}"
            kind = "inject" if stroke.verb == "inject" else "observation"
            yield stroke.line, f'{protocol.id} has no {kind} "{word}": {hint}'


def _one_of(head: dict[str, str], name: str, words: tuple[str, ...], default: str) -> str:
    word = head.get(name, default)
    if word not in words:
        raise PlanProblem(f"the script's {name} is one of {', '.join(words)}, not {word!r}")
    return word


def play(script: Script, setup: Setup, folder: Path, progress: Callable[[int], None] | None = None) -> Path:
    """Play ``script`` and write its log into ``folder``; the log's path. ``progress`` hears the ms played so far.

    Raises :class:`coach.log.lines.LogProblem` where the log cannot be written whole: a played drill is not kept in
    memory only.
    """
    clock = SteppedClock()
    drill = open_drill(
        setup, clock=clock, folder=folder, second=None, drill_id=_drill_id(script, clock), must_save=True
    )
    _run(script, drill, clock, progress)
    path = drill.log.path
    drill.close()
    assert path is not None, "a played drill has a file"
    return path


def play_in_memory(script: Script, setup: Setup) -> Record:
    """Play ``script`` as :func:`play` does, to the same bytes, and leave nothing behind on the disk."""
    clock = SteppedClock()
    drill = stand_ready(setup, clock, _drill_id(script, clock), MemoryLog)
    _run(script, drill, clock, None)
    drill.close()
    return read_bytes(drill.log.content, Path(f"{drill.id}.jsonl"))


def _drill_id(script: Script, clock: SteppedClock) -> str:
    return new_drill_id(clock.wall(), sha256(script.text.encode()).hexdigest()[:4])


def _run(script: Script, drill: Drill, clock: SteppedClock, progress: Callable[[int], None] | None) -> None:
    start = clock.mono_ms()
    for stroke in script.strokes:
        target = start + stroke.at
        while clock.mono_ms() < target:
            clock.set(min(clock.mono_ms() + TICK_MS, target))
            drill.tick(clock.mono_ms())
        strike(drill, stroke, clock.mono_ms())
        if progress is not None:
            progress(stroke.at)


def strike(drill: Drill, stroke: Stroke, now_ms: int) -> None:
    """Do one line of a script at ``now_ms`` (the clock's monotonic ms)."""
    word = stroke.words[0] if stroke.words else ""
    if stroke.verb == "go":
        drill.go(now_ms)
    elif stroke.verb == "inject":
        drill.script_input(f"inject:{word}", "inject", now_ms)
    elif stroke.verb == "seen":
        drill.script_input(word, "seen", now_ms)
    elif stroke.verb == "advice":
        drill.script_input(ADVICE[word], "advice", now_ms)
    elif stroke.verb == "said":
        drill.say_after(list(stroke.words), now_ms)
    elif stroke.verb == "focus":
        drill.focus(word == "lost", now_ms)
    elif stroke.verb == "paste":
        drill.paste(int(word) if word.isdigit() else 0, now_ms)
    else:
        drill.press(KEY_ALIASES.get(word, word), now_ms, via="script")
