"""Events per second of the engine beside two libraries, on one machine of twenty steps with guards and counters.

The machine stands once, as a table; the engine's protocol and both libraries' machines are made from it. Each runs the
same drill of about five hundred events, and before anything is timed all three must have visited the same steps and
counted alike. The engine does more on the way than the libraries: it keeps integer time, looks for due timers and
returns a new value and effects for each event. The ratios are therefore not flattering.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

from statemachine import State as LibraryState
from statemachine import StateMachine
from transitions import Machine as LibraryMachine

from coach.engine.build import build
from coach.engine.plan import resolve
from coach.engine.step import start, step
from coach.protocol.model import Protocol
from tests.bench.figures import Figure, Work, ratio, side_by_side

ROUNDS = 15

STEPS = (
    *("look", "speak", "phone", "watch", "push", "blow", "fetched", "powered", "bared", "pad_one", "pad_two"),
    *("reading", "advised", "warned", "given", "none_due", "resume", "awake", "fading", "done"),
)

COUNTERS = {"pushes": 99, "total": 9999, "blows": 9, "sets": 99, "shocks": 99}

NOTHING: Mapping[str, int] = MappingProxyType({})

OPERATORS: dict[str, Callable[[int, int], bool]] = {"<": operator.lt, ">=": operator.ge}


class Rule(NamedTuple):
    """One transition: ``to`` is "" where the machine stays; ``when`` is (counter, operator, constant)."""

    source: str
    event: str
    to: str
    when: tuple[str, str, int] | None = None
    put: Mapping[str, int] = NOTHING
    add: Mapping[str, int] = NOTHING


RULES = [
    Rule("look", "ok", "speak"),
    Rule("speak", "ok", "phone"),
    Rule("phone", "ok", "watch"),
    Rule("watch", "ok", "push", put={"pushes": 0}),
    Rule("push", "thrust", "", ("pushes", "<", 29), add={"pushes": 1, "total": 1}),
    Rule("push", "thrust", "blow", ("pushes", ">=", 29), put={"pushes": 0, "blows": 0}, add={"total": 1}),
    Rule("blow", "puff", "", ("blows", "<", 1), add={"blows": 1}),
    Rule("blow", "puff", "push", ("blows", ">=", 1), put={"blows": 0}, add={"sets": 1}),
    Rule("push", "unit", "fetched", ("sets", ">=", 1)),
    Rule("fetched", "ok", "powered"),
    Rule("powered", "ok", "bared"),
    Rule("bared", "ok", "pad_one"),
    Rule("pad_one", "ok", "pad_two"),
    Rule("pad_two", "ok", "reading", put={"sets": 0}),
    Rule("reading", "yes", "advised", ("shocks", "<", 9)),
    Rule("reading", "no", "none_due"),
    Rule("advised", "warn", "warned"),
    Rule("advised", "press", "given", ("shocks", "<", 9), add={"shocks": 1}),
    Rule("warned", "press", "given", ("shocks", "<", 9), add={"shocks": 1}),
    Rule("given", "ok", "resume"),
    Rule("none_due", "ok", "resume"),
    Rule("resume", "thrust", "push", put={"pushes": 1}, add={"total": 1}),
    Rule("push", "check", "reading", ("sets", ">=", 5), put={"sets": 0}),
    Rule("push", "life", "awake"),
    Rule("awake", "fade", "fading", ("shocks", ">=", 1)),
    Rule("fading", "ok", "resume"),
    Rule("awake", "ok", "done"),
]

EVENTS = sorted({rule.event for rule in RULES})


def drill() -> list[str]:
    """The events of one drill: recognise, push and blow, a unit that advises a shock, then none, then signs of life."""
    cycle = ["thrust"] * 30 + ["puff"] * 2
    rest = [*cycle[1:], *cycle * 4]
    return [
        *["ok"] * 4,
        *cycle * 5,
        *["unit", *["ok"] * 5, "yes", "warn", "press", "ok", "thrust"],
        *rest,
        *["check", "no", "ok", "thrust"],
        *rest,
        *["life", "fade", "ok", "thrust", "life", "ok"],
    ]


def protocol() -> Protocol:
    """The table as a protocol."""
    arrows: dict[str, list[dict[str, Any]]] = {name: [] for name in STEPS}
    for rule in RULES:
        when = "" if rule.when is None else f"{rule.when[0]} {rule.when[1]} {rule.when[2]}"
        arrows[rule.source].append(
            {"on": rule.event, "to": rule.to, "when": when, "set": dict(rule.put), "add": dict(rule.add)}
        )
    return Protocol.model_validate(
        {
            "format": 1,
            "id": "bench/twenty-steps",
            "version": "1",
            "guidance": "none",
            "title": "Twenty steps",
            "counters": {name: {"max": most} for name, most in COUNTERS.items()},
            "observations": {name: {"label": name} for name in EVENTS},
            "track": {"all": {"start": STEPS[0], "step": {name: {"go": arrows[name]} for name in STEPS}}},
        }
    )


class Tally:
    """The counters of a library's machine, with a guard and an action for each rule, named by its number."""

    def __init__(self) -> None:
        for name in COUNTERS:
            setattr(self, name, 0)

    def counts(self) -> tuple[int, ...]:
        """All counters, in the order of the table."""
        return tuple(getattr(self, name) for name in COUNTERS)


def _guard(counter: str, compare: Callable[[int, int], bool], constant: int) -> Callable[[Any], bool]:
    def guard(self: Any) -> bool:
        return compare(getattr(self, counter), constant)

    return guard


def _action(put: Mapping[str, int], add: Mapping[str, int]) -> Callable[[Any], None]:
    def action(self: Any) -> None:
        for name, value in put.items():
            setattr(self, name, value)
        for name, value in add.items():
            setattr(self, name, getattr(self, name) + value)

    return action


for _number, _rule in enumerate(RULES):
    if _rule.when is not None:
        _counter, _sign, _constant = _rule.when
        setattr(Tally, f"guard_{_number}", _guard(_counter, OPERATORS[_sign], _constant))
    if _rule.put or _rule.add:
        setattr(Tally, f"action_{_number}", _action(_rule.put, _rule.add))


def _statemachine_class() -> type[StateMachine]:
    states = {name: LibraryState(name, initial=name == STEPS[0], final=name == STEPS[-1]) for name in STEPS}
    events: dict[str, Any] = {}
    for number, rule in enumerate(RULES):
        extra: dict[str, Any] = {}
        if rule.when is not None:
            extra["cond"] = f"guard_{number}"
        if rule.put or rule.add:
            extra["on"] = f"action_{number}"
        source = states[rule.source]
        made = source.to(states[rule.to], **extra) if rule.to else source.to.itself(internal=True, **extra)  # type: ignore[no-untyped-call]
        events[rule.event] = events[rule.event] | made if rule.event in events else made
    return type("TwentySteps", (StateMachine,), {**states, **events})


def _transitions_machine() -> Tally:
    tally = Tally()
    LibraryMachine(
        model=tally,
        states=list(STEPS),
        initial=STEPS[0],
        auto_transitions=False,
        transitions=[
            {
                "trigger": rule.event,
                "source": rule.source,
                "dest": rule.to or None,
                "conditions": [f"guard_{number}"] if rule.when is not None else [],
                "before": [f"action_{number}"] if rule.put or rule.add else [],
            }
            for number, rule in enumerate(RULES)
        ],
    )
    return tally


Trail = list[tuple[str, tuple[int, ...]]]


def trails(events: list[str]) -> dict[str, Trail]:
    """Step and counters after every event, for each of the three."""
    machine = build(protocol(), resolve(protocol(), None, unit="floor", counting="marks", seed=1))
    order = [machine.counters.index(name) for name in COUNTERS]
    state, _ = start(machine)
    ours: Trail = []
    for number, event in enumerate(events):
        state, _ = step(machine, state, event, number * 500)
        ours.append((machine.step_name(state.steps, "all"), tuple(state.counters[place] for place in order)))

    tally = Tally()
    library = _statemachine_class()(tally)
    theirs: Trail = []
    for event in events:
        library.send(event)
        theirs.append((next(iter(library.configuration)).id, tally.counts()))

    model: Any = _transitions_machine()
    others: Trail = []
    for event in events:
        model.trigger(event)
        others.append((model.state, model.counts()))
    return {"kneeside": ours, "python-statemachine": theirs, "transitions": others}


def run() -> list[Figure]:
    """Ratios against both libraries; raises where the three do not agree on what the drill did."""
    events = drill()
    made = trails(events)
    for name, trail in made.items():
        if trail != made["kneeside"]:
            first = next(n for n, pair in enumerate(zip(trail, made["kneeside"], strict=True)) if pair[0] != pair[1])
            raise AssertionError(f"{name} differs at event {first}, {events[first]}: {trail[first]}")

    machine = build(protocol(), resolve(protocol(), None, unit="floor", counting="marks", seed=1))
    begin, _ = start(machine)
    stamped = [(event, number * 500) for number, event in enumerate(events)]
    statemachine_class = _statemachine_class()

    def ours() -> Work:
        def work() -> int:
            for _ in range(20):
                state = begin
                for event, e in stamped:
                    state, _ = step(machine, state, event, e)
            return 20 * len(stamped)

        return work

    def with_statemachine() -> Work:
        library = statemachine_class(Tally())

        def work() -> int:
            send = library.send
            for event in events:
                send(event)
            return len(events)

        return work

    def with_transitions() -> Work:
        models: list[Any] = [_transitions_machine() for _ in range(5)]

        def work() -> int:
            for model in models:
                trigger = model.trigger
                for event in events:
                    trigger(event)
            return len(models) * len(events)

        return work

    speeds = side_by_side(
        {"kneeside": ours, "python-statemachine": with_statemachine, "transitions": with_transitions}, ROUNDS
    )
    note = (
        f"{len(STEPS)} steps, {len(RULES)} transitions, {len(COUNTERS)} counters, {len(events)} events, equal results"
    )
    return [
        Figure(
            "engine against python-statemachine",
            ratio(speeds["kneeside"], speeds["python-statemachine"]),
            goal=20,
            note=note,
        ),
        Figure("engine against transitions", ratio(speeds["kneeside"], speeds["transitions"]), goal=4),
        Figure("engine, events a second", sorted(speeds["kneeside"])[ROUNDS // 2], unit="/s"),
    ]
