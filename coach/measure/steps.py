"""How each step of the protocol went: done by themselves, prompted, cued, out of order, omitted, or not to be told."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from coach.engine.state import FactValue
from coach.log.happened import Happened
from coach.measure.align import align
from coach.measure.floor import ON_MARKS, Event, Floor, lead_in_of
from coach.measure.order import Order
from coach.observations import OBSERVATIONS
from coach.protocol import guards
from coach.protocol.guards import Layout
from coach.protocol.model import Protocol, Severity, Step, Track
from coach.protocol.names import BUILT_IN_FACTS

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
    it should have come before, where it is out of order; ``times`` is how often it was due and ``done_times`` how often
    of these it was done, by the whole order; ``answer`` is what the assessor said of a mark that is
    missing: a step that they saw counts as done, one that they did not look at as not observed."""

    id: str
    track: str
    title: str
    status: Status
    severity: Severity
    at: int | None
    events: tuple[int, ...] = ()
    after: str = ""
    answer: str = ""
    times: int = 0
    done_times: int = 0


_parsed = lru_cache(maxsize=256)(guards.parse)
"""The tree of a guard; a class of drills asks the same few."""


def applies_by_facts(protocol: Protocol, header: Mapping[str, Any]) -> Applies:
    """Whether a step's ``when`` holds for the casualty of this drill, as :func:`holds_by_facts` says."""
    holds = holds_by_facts(protocol, header)
    return lambda step: holds(step.when)


def holds_by_facts(protocol: Protocol, header: Mapping[str, Any]) -> Callable[[str], bool]:
    """Whether a guard holds for the casualty of this drill.

    The facts are those of the header's plan; a guard that needs more than facts (a mark, a counter) cannot be asked
    after the drill, and counts as holding. Without a plan every guard does.
    """
    table = {**protocol.facts, **BUILT_IN_FACTS}
    given = (header.get("plan") or {}).get("facts") or {}
    facts: tuple[FactValue, ...] = tuple(
        tuple(value) if isinstance(value, list) else value for value in (given.get(name) for name in table)
    )
    layout = Layout(
        facts={name: (index, fact) for index, (name, fact) in enumerate(table.items())},
        terms={name: _parsed(text) for name, text in protocol.terms.items()},
    )

    def holds(guard: str) -> bool:
        return not guard or not given or guards.may_hold(_parsed(guard), layout, facts)

    return holds


def steps_of(
    floor: Floor,
    happened: Happened,
    protocol: Protocol,
    mode: str,
    keys: Mapping[str, str],
    applies: Applies,
    no_order_ms: int,
    language: str = "en",
    orders: Sequence[Order] = (),
) -> tuple[StepDone, ...]:
    """The status of each step that has a ``done``, in the order of the file and its spine. Two marks within
    ``no_order_ms`` have no order. A critical step that was left out on any of its visits is omitted, whatever the
    first one was."""
    judged: list[StepDone] = []
    moves: dict[str, list[_Move]] = {name: [] for name in protocol.track}
    for effect, because in happened.told:
        if effect.kind == "step" and effect.track in moves:
            moves[effect.track].append(_Move(effect.e, because, effect.was, effect.name))
    for name, track in protocol.track.items():
        judged += _track(
            floor, happened, protocol, name, track, moves[name], mode, keys, applies, no_order_ms, language
        )
    by_track = {order.track: order for order in orders}
    judged = [_every_visit(step, by_track[step.track]) if step.track in by_track else step for step in judged]
    passed = _passed(happened)
    judged = [
        replace(step, status="not applicable", at=None, events=())
        if (step.track, step.id) in passed and not step.times
        else step
        for step in judged
    ]
    # An answer names a finding by its rule and what it is about; no step is called like a line.
    said = {one.finding.partition(":")[2]: one.answer for one in happened.answers}
    return tuple(
        step if step.status != "omitted" or step.id not in said else _as_answered(step, said[step.id])
        for step in judged
    )


def _passed(happened: Happened) -> frozenset[tuple[str, str]]:
    """The steps that a drill begun at another one left before its first moment was over."""
    fed = lead_in_of(happened)
    return frozenset(
        (told.effect.track, told.effect.was)
        for told in happened.told
        if told.effect.kind == "step" and told.because in fed and told.effect.was
    )


def _every_visit(step: StepDone, order: Order) -> StepDone:
    visits = order.of(step.id)
    done = sum(visit.status != "omitted" for visit in visits)
    left_out = step.severity == "critical" and done < len(visits) and step.status in ("independent", "cued", "prompted")
    return replace(step, status="omitted" if left_out else step.status, times=len(visits), done_times=done)


def _as_answered(step: StepDone, answer: str) -> StepDone:
    status: Status = "independent" if answer == "saw" else "not observed" if answer == "not-looking" else "omitted"
    return replace(step, status=status, answer=answer)


def _does(observations: Collection[str], floor: Floor) -> frozenset[str]:
    """The observations that do a step under this way of counting: by marks, hands on is how pushing is seen, and a
    probe tap shows it where hands were never marked off."""
    wanted = frozenset(observations)
    return wanted | ON_MARKS if "compression" in wanted and not floor.beats else wanted


@dataclass(frozen=True, slots=True)
class _Move:
    """The machine entered ``to`` from ``was``."""

    e: int
    because: int
    was: str
    to: str


def _track(
    floor: Floor,
    happened: Happened,
    protocol: Protocol,
    name: str,
    track: Track,
    moves: list[_Move],
    mode: str,
    keys: Mapping[str, str],
    applies: Applies,
    no_order_ms: int,
    language: str,
) -> list[StepDone]:
    named = {ident: track.step[ident] for ident in track.in_order if track.step[ident].done}
    asked = [ident for ident, step in named.items() if applies(step)]
    does = {ident: _does(step.done, floor) for ident, step in named.items()}
    done, displaced = _spine(
        floor,
        [ident for ident in track.spine if ident in asked],
        track.either_order,
        does,
        no_order_ms,
        _elsewhere(floor, track, does, moves),
    )
    place = {ident: index for index, ident in enumerate(track.in_order)}
    for ident in asked:
        if ident not in done:
            done[ident] = _off_spine(floor, ident, does[ident], moves, place)
    latest = max((place[ident] for ident, event in done.items() if event is not None), default=-1)
    judged = []
    for ident, step in named.items():
        event = done.get(ident)
        if ident not in asked:
            status: Status = "not applicable"
        elif event is None:
            passed = ident in track.spine or not moves
            reached = latest > place[ident] if passed else any(move.was == ident for move in moves)
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


def _elsewhere(
    floor: Floor, track: Track, does: Mapping[str, frozenset[str]], moves: Sequence[_Move]
) -> frozenset[int]:
    """The lines of what led into a step outside the spine and did it: the two breaths after a run of pushes are those
    of that run, and no first breaths given late."""
    did = {
        move.because: does[move.to] for move in moves if move.to in does and move.to not in track.spine and move.because
    }
    return frozenset(event.seq for event in floor.rows if event.name in did.get(event.seq, ()))


def _spine(
    floor: Floor,
    order: list[str],
    either: list[list[str]],
    does: Mapping[str, frozenset[str]],
    no_order_ms: int,
    elsewhere: frozenset[int],
) -> tuple[dict[str, Event | None], dict[str, str]]:
    """What was seen as each step of a spine, and those out of order with the step beside them. ``elsewhere`` are lines
    of what did a step outside it.

    A step that the cheapest reading leaves out, though it was seen elsewhere, is out of order. A spine is the way
    through for the first time: where n of its steps are done by the same kinds of thing (pushing, pushing again; one
    pad, the other), the first n of those count, and the k-th step cannot be done by fewer than k of them.
    """
    kinds = _kinds([does[ident] for ident in order])
    seen: list[Event] = []
    ranks: list[int] = []
    counts = [0] * len(order)
    for token in _tokens(floor, frozenset().union(*(does[ident] for ident in order)), elsewhere):
        kind = next(kinds[i] for i, ident in enumerate(order) if token.name in does[ident])
        counts[kind] += 1
        if counts[kind] <= kinds.count(kind):
            seen.append(token)
            ranks.append(counts[kind])
    order = _either(order, either, seen, does)
    kinds = _kinds([does[ident] for ident in order])
    places = [kinds[: index + 1].count(kind) for index, kind in enumerate(kinds)]
    accepts = [
        {str(i) for i, event in enumerate(seen) if event.name in does[ident] and ranks[i] >= places[index]}
        for index, ident in enumerate(order)
    ]
    matched, _ = align(accepts, [str(i) for i in range(len(seen))])
    done: dict[str, Event | None] = {}
    displaced: dict[str, str] = {}
    used = {index for index in matched if index is not None}
    for place, (ident, index) in enumerate(zip(order, matched, strict=True)):
        if index is None:
            index = next((i for i in range(len(seen)) if str(i) in accepts[place] and i not in used), None)
            if index is not None:
                used.add(index)
                beside = _neighbours(order, matched, place, index)
                far = [name for name, at in beside if abs(seen[at].e - seen[index].e) >= no_order_ms]
                if far or not beside:
                    displaced[ident] = far[0] if far else ""
        done[ident] = None if index is None else seen[index]
    return done, displaced


def _kinds(does: list[frozenset[str]]) -> list[int]:
    """For each step the first step that, directly or through others, is done by the same kinds of thing."""
    kinds = list(range(len(does)))
    for index, names in enumerate(does):
        joined = {kinds[other] for other in range(index) if does[other] & names}
        if joined:
            first = min(joined)
            kinds = [first if kind in joined or i == index else kind for i, kind in enumerate(kinds)]
    return kinds


def _off_spine(
    floor: Floor, ident: str, does: frozenset[str], moves: list[_Move], place: Mapping[str, int]
) -> Event | None:
    """What was seen as a step outside the spine: the first thing that does it while the machine was there, or that
    carried the machine past it. Without any moves told: the first anywhere."""
    candidates = floor.all_of(does)
    if not moves:
        return candidates[0] if candidates else None
    stays = [
        (move.e, move.because, moves[index + 1].e if index + 1 < len(moves) else floor.end)
        for index, move in enumerate(moves)
        if move.to == ident
    ]
    over = {
        move.because
        for move in moves
        if move.was in place and move.to in place and place[move.was] < place[ident] < place[move.to]
    }
    for event in candidates:
        if event.seq in over or any(since <= event.e <= until and seq != event.seq for since, seq, until in stays):
            return event
    return None


def _tokens(floor: Floor, wanted: Collection[str], elsewhere: frozenset[int]) -> list[Event]:
    """The events that do some step, a row of the same kind (a run, a set of breaths) as its first one; no row that
    began by doing a step elsewhere."""
    tokens: list[Event] = []
    last = ""
    for event in floor.rows:
        if event.name not in wanted:
            continue
        if event.name != last and event.seq not in elsewhere:
            tokens.append(event)
        last = event.name
    return tokens


def _either(
    order: list[str], groups: list[list[str]], seen: list[Event], does: Mapping[str, frozenset[str]]
) -> list[str]:
    """The expected order, with the steps of each free group put into the order in which they were seen."""

    def first(ident: str) -> int:
        return next((index for index, event in enumerate(seen) if event.name in does[ident]), len(seen))

    result = list(order)
    for group in groups:
        slots = [index for index, ident in enumerate(result) if ident in group]
        members = sorted((result[index] for index in slots), key=first)
        for slot, ident in zip(slots, members, strict=True):
            result[slot] = ident
    return result


def _neighbours(order: list[str], matched: list[int | None], index: int, loose: int) -> list[tuple[str, int]]:
    """The steps that the displaced one came after though it should have come before, or the other way round, each with
    the place of what was seen as it."""
    late = [
        (later, at)
        for later, at in zip(order[index + 1 :], matched[index + 1 :], strict=True)
        if at is not None and at < loose
    ]
    early = [
        (earlier, at)
        for earlier, at in zip(order[:index], matched[:index], strict=True)
        if at is not None and at > loose
    ]
    return late + early


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
    for told in happened.told if mode != "test" else ():
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
