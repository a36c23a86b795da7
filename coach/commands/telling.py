"""A drill told in lines of text: what was seen, and what the program said, for people without a full screen."""

from __future__ import annotations

from collections.abc import Iterator

from coach.drill.setup import words_of
from coach.engine.state import Effect
from coach.log.happened import Happened, Seen
from coach.log.history import History
from coach.observations import label
from coach.protocol.model import Protocol
from coach.text import one_line
from coach.units import clock

PUSH = "compression"


def _name(protocol: Protocol, event: str, language: str) -> str:
    kind, _, name = event.partition(":")
    if kind == "inject" and name in protocol.inject:
        return f"it happens: {words_of(protocol.inject[name].title, language)}"
    if event in protocol.observations:
        return words_of(protocol.observations[event].label, language)
    return label(event)


def _said(history: History, effect: Effect, language: str) -> str:
    """What an effect says to people; "" for what only moves the machine."""
    machine = history.machine
    if effect.kind == "cue" and effect.name in machine.cues:
        return f"cue: {words_of(machine.cues[effect.name], language)}"
    if effect.kind == "voice" and effect.name in machine.voices:
        return f"unit: {words_of(machine.voices[effect.name], language)}"
    if effect.kind == "fault" and effect.name in machine.faults:
        fault = machine.faults[effect.name]
        return f"fault ({fault.severity}): {words_of(fault.say, language)}"
    return ""


def _runs(seen: tuple[Seen, ...]) -> Iterator[tuple[Seen, ...]]:
    """What was seen, one entry each, but pushes with nothing between them together."""
    run: list[Seen] = []
    for one in seen:
        if run and one.event != PUSH:
            yield tuple(run)
            run = []
        if one.event == PUSH:
            run.append(one)
        else:
            yield (one,)
    if run:
        yield tuple(run)


def tell(history: History, happened: Happened, protocol: Protocol, language: str = "en") -> list[str]:
    """The drill, a line for each thing, in order of the drill's clock; pushes with nothing between them in one line."""
    lines: list[tuple[int, int, str]] = []
    for run in _runs(happened.seen):
        first, last = run[0], run[-1]
        what = _name(protocol, first.event, language)
        if len(run) > 1:
            what = f"{len(run)} pushes, until {clock(last.e)}"
        elif first.outcome != "taken":
            what += f" ({first.outcome})"
        lines.append((first.e, 0, what))
    for told in happened.told:
        said = _said(history, told.effect, language)
        if said:
            lines.append((told.effect.e, 1, f"    {said}"))
    lines.sort(key=lambda line: line[:2])
    return [f"{clock(e):>6}  {text[:4] if text.startswith(' ') else ''}{one_line(text)}" for e, _, text in lines]
