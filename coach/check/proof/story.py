"""A story: the shortest run on which a rule breaks, as keys and times for a person to follow and the drill to play."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from coach.check.proof.replay import Seen, moments
from coach.check.proof.witness import Run
from coach.engine.machine import Machine
from coach.engine.state import FactValue
from coach.observations import default_keys, label
from coach.protocol.model import Protocol
from coach.text import one_line
from coach.units import quantity_text

ADVICE = {"shock_advised": "shock", "no_shock_advised": "no_shock"}
PUSHES = ("compression", "hands_placed", "probe_tap")


@dataclass(frozen=True, slots=True)
class StoryLine:
    """One moment of a story: ms since go, the key or who did it, what happened, what was heard."""

    e: int
    by: str
    what: str
    heard: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Story:
    """A run that was replayed in the drill's own engine. ``facts`` are the scenario's facts in an author's words, those
    it rests on named in ``rests_on``; ``events`` are (ms, event) from outside. ``passed`` are the arrows (``arrow``,
    id), steps (``step``, track, name) and timers (``timer``, name) that it passes, in order."""

    protocol: str
    title: str
    lines: tuple[StoryLine, ...]
    events: tuple[tuple[int, str], ...]
    end: int
    unit: str
    counting: str
    facts: tuple[tuple[str, str], ...]
    rests_on: tuple[str, ...]
    script: str
    scenario: str
    note: str = ""
    passed: tuple[tuple[str, ...], ...] = ()

    def text(self) -> str:
        """The story for people."""
        given = [f"{name} {value}" for name, value in self.facts if name in self.rests_on]
        head = f"{self.title}  ({len(self.events)} keys, {_clock(self.end)})"
        where = ", ".join([f"unit {self.unit}", f"counting {self.counting}", *given])
        out = [head, f"  scenario: {where}"]
        for line in self.lines:
            out.append(f"  {_clock(line.e)}  {line.by:<12} {line.what}")
            out.extend(f"  {'':<22} {words}" for words in line.heard)
        if self.note:
            out.append(f"  {_clock(self.end)}  {'':<12} {self.note}")
        return "\n".join(out)

    def as_dict(self) -> dict[str, Any]:
        """The story as plain values, for JSON."""
        return {
            "title": self.title,
            "facts": dict(self.facts),
            "unit": self.unit,
            "counting": self.counting,
            "events": [{"ms": e, "event": event} for e, event in self.events],
            "end_ms": self.end,
            "lines": [
                {"ms": line.e, "by": line.by, "what": line.what, "heard": list(line.heard)} for line in self.lines
            ],
            "script": self.script,
            "scenario": self.scenario,
            "note": self.note,
        }


def tell(
    protocol: Protocol,
    machine: Machine,
    run: Run,
    title: str,
    note: str = "",
    watch: Callable[[Seen], None] | None = None,
) -> Story:
    """The story of a run, by running it. ``watch`` hears every moment."""
    keys = key_map(protocol)
    lines: list[StoryLine] = []
    passed: list[tuple[str, ...]] = []
    for seen in moments(machine, run.events, run.end):
        if watch is not None:
            watch(seen)
        passed += _passed(seen)
        line = _line(machine, seen, keys)
        if line is not None:
            lines.append(line)
    facts = tuple((name, fact_text(protocol.facts[name].unit, run.plan.facts[name])) for name in protocol.facts)
    return Story(
        protocol.id,
        one_line(title),
        tuple(lines),
        run.events,
        run.end,
        run.plan.unit,
        run.plan.counting,
        facts,
        run.given,
        _script(protocol, run, keys),
        _scenario(protocol, run, title),
        one_line(note),
        tuple(passed),
    )


def _passed(seen: Seen) -> Iterator[tuple[str, ...]]:
    kind, _, name = seen.moment.event.partition(":")
    if kind == "timer":
        yield "timer", name
    yield from (("arrow", move.arrow) for _, move in seen.moment.pairs if move.arrow)
    yield from (("step", effect.track, effect.name) for effect in seen.effects if effect.kind == "step")


def _clock(ms: int) -> str:
    return f"{ms // 60_000:02d}:{ms % 60_000 // 1000:02d}.{ms % 1000:03d}"


def key_map(protocol: Protocol) -> dict[str, str]:
    """The key of each observation, the protocol's own keys first."""
    keys = {ident: key for key, ident in default_keys().items()}
    keys |= {name: own.key for name, own in protocol.observations.items() if own.key is not None}
    keys |= {ident: key for key, ident in protocol.keys.items()}
    return keys


def _line(machine: Machine, seen: Seen, keys: dict[str, str]) -> StoryLine | None:
    heard: list[str] = []
    what: list[str] = []
    event = seen.moment.event
    for effect in seen.effects:
        if effect.kind == "step" and ":" not in effect.track and effect.track != "hands":
            what.append(
                f"{effect.track}: {effect.was} -> {effect.name}" if effect.was else f"{effect.track}: {effect.name}"
            )
        elif effect.kind == "fault":
            what.append(f"fault {effect.name}")
        elif effect.kind == "late":
            what.append(f"late in {effect.name}")
        elif effect.kind in ("cue", "voice"):
            words = (machine.cues if effect.kind == "cue" else machine.voices)[effect.name]
            heard.append(f'"{one_line(words.get("en") or next(iter(words.values()), ""))}"')
        elif effect.kind == "ignored":
            what.append("not expected here")
    if event == "go":
        return StoryLine(seen.e, "go", "; ".join(what), tuple(heard))
    if seen.outside:
        by = f"key {keys[event]}" if event in keys else _by(event)
        return StoryLine(seen.e, by, "; ".join([label(event), *what]), tuple(heard))
    if not what and not heard:
        return None
    return StoryLine(seen.e, "(time)", "; ".join(what), tuple(heard))


def _by(event: str) -> str:
    if event in PUSHES:
        return "key space"
    if event in ADVICE:
        return "(unit)"
    return "(thrown)" if ":" in event else "(seen)"


# --- what the drill plays ---------------------------------------------------------------------------------------------


def _script(protocol: Protocol, run: Run, keys: dict[str, str]) -> str:
    """A key script that ``kneeside play`` takes; its scenario is to be named in the header."""
    out = [f"# protocol: {protocol.id}", f"# counting: {run.plan.counting}", f"# unit: {run.plan.unit}", "0.000  go"]
    out += [f"{e // 1000}.{e % 1000:03d}  {stroke(protocol, event, keys)}" for e, event in run.events]
    end = max(run.end, run.events[-1][0] if run.events else 0) + 1_000
    out += [f"{at // 1000}.{at % 1000:03d}  z" for at in (end, end + 400)]
    return "\n".join(out) + "\n"


def stroke(protocol: Protocol, event: str, keys: dict[str, str]) -> str:
    """The line of a key script that makes an event."""
    kind, colon, name = event.partition(":")
    if event in PUSHES:
        return keys["compression"]
    if event in ADVICE:
        return f"advice {ADVICE[event]}"
    if colon and kind == "inject":
        return f"inject {name}"
    if colon and kind == "answered":
        return str(protocol.inject[name].digit)
    if colon:
        return keys["answered_wrong"]
    return keys.get(event, f"seen {event}")


def _scenario(protocol: Protocol, run: Run, title: str) -> str:
    """The witness as a scenario file."""
    words = one_line(title).replace("\\", " ").replace('"', "'")
    out = [
        "format = 1",
        'id = "checker/witness"',
        f'title = "{words}"',
        'story = "Found by the checker."',
        "",
        "[facts]",
    ]
    for name, fact in protocol.facts.items():
        value = run.plan.facts[name]
        if value is None:
            out.append(f'{name} = "unknown"')
        elif isinstance(value, bool):
            out.append(f"{name} = {str(value).lower()}")
        elif isinstance(value, tuple):
            out.append(f"{name} = [{', '.join(f'{chr(34)}{word}{chr(34)}' for word in value)}]")
        elif isinstance(value, str):
            out.append(f'{name} = "{value}"')
        else:
            out.append(f"{name} = {_number(fact.unit, value)}")
    return "\n".join(out) + "\n"


def _number(unit: str, value: int) -> str:
    """A held number as an author writes it, exactly."""
    if unit == "kg":
        return f'"{_exact(Fraction(value, 1000))} kg"'
    if unit in ("year", "month"):
        years = Fraction(value, 12_000)
        return f'"{years} years"' if years.denominator == 1 else f'"{_exact(Fraction(value, 1000))} months"'
    return str(value)


def _exact(number: Fraction) -> str:
    whole, rest = divmod(int(number * 1000), 1000)
    return f"{whole}.{rest:03d}"


def fact_text(unit: str, value: FactValue) -> str:
    """A fact's value in an author's words."""
    if value is None:
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return f"[{', '.join(value)}]"
    return quantity_text(value, unit) if isinstance(value, int) else value
