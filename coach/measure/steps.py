"""How each step of the protocol went: done by themselves, prompted, cued, out of order, omitted, or not to be told."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from coach.engine.state import FactValue
from coach.log.happened import Happened
from coach.measure.align import align
from coach.measure.floor import Event, Floor
from coach.observations import OBSERVATIONS
from coach.protocol import guards
from coach.protocol.guards import Layout
from coach.protocol.model import Fact, Protocol, Severity, Step, Track

Status = Literal[
    "independent",
    "prompted",
    "cued",
    "out of order",
    "omitted",
    "not observed",
    "not applicable",
    "not reached",
]

Applies = Callable[[Step], bool]


@dataclass(frozen=True, slots=True)
class StepDone:
    """How one step went. ``at`` (ms since go) and ``events`` (lines) where it was seen; ``after`` names the step that
    it should have come before, where it is out of order."""

    id: str
    track: str
    title: str
    status: Status
    severity: Severity
    at: int | None
    events: tuple[int, ...] = ()
    after: str = ""


def applies_by_facts(protocol: Protocol, header: Mapping[str, Any]) -> Applies:
    """Whether a step's ``when`` holds for the casualty of this drill.

    The facts are those of the header's plan; a guard that needs more than facts (a mark, a counter) cannot be asked
    after the drill, and its step counts as applicable. Without a plan every step is.
    """
    built_in = {
        "unit": Fact(kind="choice", of=["floor", "laptop"], default="floor"),
        "counting": Fact(kind="choice", of=["each", "probe", "marks", "counter"], default="each"),
    }
    table = {**protocol.facts, **built_in}
    given = (header.get("plan") or {}).get("facts") or {}
    facts: tuple[FactValue, ...] = tuple(
        tuple(value) if isinstance(value, list) else value for value in (given.get(name) for name in table)
    )
    layout = Layout(
        facts={name: (index, fact) for index, (name, fact) in enumerate(table.items())},
        counters={},
        marks={},
        timers={},
        tracks={},
        steps={},
        terms={name: guards.parse(text) for name, text in protocol.terms.items()},
    )

    def applies(step: Step) -> bool:
        if not step.when or not given:
            return True
        try:
            return bool(guards.compile_guard(guards.parse(step.when), layout)(None, facts))
        except (guards.GuardProblem, KeyError, AttributeError):
            return True

    return applies


def steps_of(
    floor: Floor,
    happened: Happened,
    protocol: Protocol,
    mode: str,
    keys: Mapping[str, str],
    applies: Applies,
    language: str = "en",
) -> tuple[StepDone, ...]:
    """The status of each step that has a ``done``, in the order of the file."""
    judged: list[StepDone] = []
    for name, track in protocol.track.items():
        judged += _track(floor, happened, protocol, name, track, mode, keys, applies, language)
    return tuple(judged)


def _does(observations: Collection[str], floor: Floor) -> frozenset[str]:
    """The observations that do a step under this way of counting: by marks, hands on is how pushing is seen."""
    wanted = frozenset(observations)
    return wanted | {"hands_placed"} if "compression" in wanted and not floor.beats else wanted


def _track(
    floor: Floor,
    happened: Happened,
    protocol: Protocol,
    name: str,
    track: Track,
    mode: str,
    keys: Mapping[str, str],
    applies: Applies,
    language: str,
) -> list[StepDone]:
    named = {ident: step for ident, step in track.step.items() if step.done}
    asked = [ident for ident, step in named.items() if applies(step)]
    order = [ident for ident in track.spine if ident in asked]
    does = {ident: _does(step.done, floor) for ident, step in named.items()}
    seen = _tokens(floor, frozenset().union(*(does[ident] for ident in asked)) if asked else frozenset())
    firsts = {
        ident: next((index for index, event in enumerate(seen) if event.name in does[ident]), None) for ident in asked
    }
    order = _either(order, track.either_order, firsts)
    spine_seen = [event for event in seen if any(event.name in does[ident] for ident in order)]
    matched, _ = align([does[ident] for ident in order], [event.name for event in spine_seen])
    done: dict[str, Event | None] = {}
    displaced: dict[str, str] = {}
    used = {index for index in matched if index is not None}
    for ident, index in zip(order, matched, strict=True):
        if index is not None:
            done[ident] = spine_seen[index]
            continue
        loose = next((i for i, e in enumerate(spine_seen) if e.name in does[ident] and i not in used), None)
        done[ident] = None if loose is None else spine_seen[loose]
        if loose is not None:
            used.add(loose)
            displaced[ident] = _neighbour(order, matched, order.index(ident), loose)
    for ident in asked:
        if ident not in done:
            first = firsts[ident]
            done[ident] = None if first is None else seen[first]
    place = {ident: index for index, ident in enumerate(track.spine or list(track.step))}
    latest = max((place.get(ident, -1) for ident, event in done.items() if event is not None), default=-1)
    judged = []
    for ident, step in named.items():
        event = done.get(ident)
        if ident not in asked:
            status: Status = "not applicable"
        elif event is None:
            reached = latest > place.get(ident, len(place))
            status = _unseen(step, reached, protocol, keys)
        elif event.prompted:
            status = "prompted"
        elif ident in displaced:
            status = "out of order"
        elif _cued(happened, mode, name, ident, step, event):
            status = "cued"
        else:
            status = "independent"
        title = step.title.get(language) or step.title.get("en") or ident.replace("_", " ")
        judged.append(
            StepDone(
                ident,
                name,
                title,
                status,
                step.severity,
                None if event is None else event.e,
                () if event is None else (event.seq,),
                displaced.get(ident, "") if status == "out of order" else "",
            )
        )
    return judged


def _tokens(floor: Floor, wanted: Collection[str]) -> list[Event]:
    """The events that do some step, a row of the same kind (a run, a set of breaths) as its first one."""
    tokens: list[Event] = []
    for event in floor.events:
        if event.name in wanted and not (tokens and tokens[-1].name == event.name):
            tokens.append(event)
    return tokens


def _either(order: list[str], groups: list[list[str]], firsts: Mapping[str, int | None]) -> list[str]:
    """The expected order, with the steps of each free group put into the order in which they were seen."""
    result = list(order)
    for group in groups:
        slots = [index for index, ident in enumerate(result) if ident in group]
        members = [result[index] for index in slots]
        last = len(firsts) + max((index for index in firsts.values() if index is not None), default=0)
        members.sort(key=lambda ident: last if firsts[ident] is None else firsts[ident] or 0)
        for slot, ident in zip(slots, members, strict=True):
            result[slot] = ident
    return result


def _neighbour(order: list[str], matched: list[int | None], index: int, loose: int) -> str:
    """The step that the displaced one came after though it should have come before, or the other way round."""
    for later, at in zip(order[index + 1 :], matched[index + 1 :], strict=True):
        if at is not None and at < loose:
            return later
    for earlier, at in zip(order[:index], matched[:index], strict=True):
        if at is not None and at > loose:
            return earlier
    return ""


def _unseen(step: Step, reached: bool, protocol: Protocol, keys: Mapping[str, str]) -> Status:
    if not reached:
        return "not reached"
    return "omitted" if step.required and any(_keyed(name, protocol, keys) for name in step.done) else "not observed"


def _keyed(name: str, protocol: Protocol, keys: Mapping[str, str]) -> bool:
    """Whether this observation could have been keyed: it has a key, or J can log it (the learner's, untimed)."""
    if name in keys.values():
        return True
    if name in protocol.observations:
        own = protocol.observations[name]
        return own.key is not None or (own.by == "learner" and not own.timed)
    known = OBSERVATIONS.get(name)
    return known is not None and (known.key is not None or (known.by == "learner" and not known.timed))


def _cued(happened: Happened, mode: str, track: str, ident: str, step: Step, event: Event) -> bool:
    """Whether the step's cue was on the screen when it was done: in teach its cue, in practise its late cue."""
    for told in happened.told:
        effect = told.effect
        if effect.e > event.e:
            continue
        if mode == "teach" and effect.kind == "cue" and effect.track == track and effect.was == ident:
            return True
        if (
            mode in ("teach", "practise")
            and effect.kind == "late"
            and effect.name == ident
            and (step.late_cue or step.cue)
        ):
            return True
    return False
