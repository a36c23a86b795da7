"""Two versions run side by side under equal inputs, until what the learner sees of them differs.

First it is decided exactly, over classes of states (:mod:`coach.check.compare.alike`), as far as a bound allows; a run
found so is run anew in the drill's own engine. Where that gave up: breadth first over pairs of states of that engine,
every order of keys, each at once or when the next timer of either version has run out. Moments in between are not
looked at then, so that finding nothing proves nothing, and is said so. Two versions whose parts are all alike need
no search.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any, Literal, NamedTuple

from coach.check.compare.alike import BOUND, decide
from coach.check.compare.arrows import arrow_names
from coach.check.compare.parts import Differences
from coach.check.proof.story import Story, fact_text, key_map
from coach.check.states.classes import Limit
from coach.check.states.inputs import inputs_of, is_units
from coach.check.states.openfacts import classes_of, constants_of
from coach.check.states.sight import Sight, Token, words_said
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import Effect, FactValue, State
from coach.engine.step import advance, feed, start
from coach.observations import label
from coach.protocol import guards
from coach.protocol.model import Fact, Protocol
from coach.protocol.names import BUILT_IN_FACTS, arrows
from coach.protocol.reading import read_scenario

WAIT = "wait"
"""The input that lets time pass until the next timer of either version runs out."""

LATER = "later"
"""Between two inputs of a given run: time has passed in which no timer ran out."""

PAIRS = 6_000
"""Pairs of states that each deeper search looks at before it is given up; one for the shortest run takes half."""

WAYS = (("floor", "each"), ("laptop", "each"), ("floor", "marks"))
"""The units and ways of counting under which the two are run."""

SCRIPT_LENGTH = 3
"""Entries of a rhythm script that are tried in every combination; the last one then repeats."""

Known = tuple[tuple[str, FactValue], ...]


class Unread(Exception):
    """A guard reads a fact that is still open."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


class _Facts:
    """The facts of a state, open until they are read."""

    def __init__(self, names: tuple[str, ...], known: Mapping[str, FactValue]) -> None:
        self._names = names
        self._known = known

    def __getitem__(self, index: int) -> FactValue:
        name = self._names[index]
        if name not in self._known:
            raise Unread(name)
        return self._known[name]


@dataclass(frozen=True, slots=True)
class Line:
    """One moment of the story: ms since go, what was done, and what each version says then."""

    e: int
    by: str
    old: tuple[str, ...]
    new: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Parting:
    """A run on which the two versions part: ``lines`` up to the moment in which they do, the last of them."""

    unit: str
    counting: str
    facts: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    events: tuple[tuple[int, str], ...]
    shortest: bool


@dataclass(frozen=True, slots=True)
class Runs:
    """What running the two side by side came to, and what was looked at for it."""

    kind: Literal["same", "differ", "not decided"]
    explored: str
    parting: Parting | None = None
    pairs: int = 0


def compare_runs(
    old: Protocol,
    new: Protocol,
    found: Differences,
    *,
    limit: int = PAIRS,
    exact: Limit = BOUND,
    hints: tuple[Story, ...] = (),
    progress: Callable[[int], None] | None = None,
) -> Runs:
    """Whether, and on which run, what the learner sees of two versions differs.

    ``exact`` bounds the search that decides it, for all injects, then once more without any. Where it gives up injects
    that came, went or changed can be thrown, and ``limit`` bounds the pairs of states of one search: there are two
    for each of :data:`WAYS`, one for the shortest run, and one that goes deeper and leaves timers out of account in
    telling states apart. ``hints`` are runs on which a rule breaks in one version: where no search finds a run on which
    the two part, they are tried.
    """
    if found.alike:
        return Runs("same", "the two have the same parts: whatever happens, they run alike")
    decided = _decided(old, new, found, exact, progress)
    if decided.kind != "not decided":
        return decided
    touched = {change.where.removeprefix("inject ") for change in found.changes if change.where.startswith("inject ")}
    thrown = [name for name in dict.fromkeys((*old.inject, *new.inject)) if name in touched]
    count, whole = decided.pairs, True
    for fine in (True, False):
        for unit, counting in WAYS:
            most = limit // 2 if fine else limit
            search = _Search(old, new, found, unit, counting, thrown, fine, most)
            parting = search.run(_counted(progress, count))
            count += search.pairs
            whole = whole and (search.complete or not fine)
            if parting is not None:
                return Runs("differ", _told(count, thrown), parting, count)
        if whole:  # every pair was seen: leaving things out of account finds no more
            break
    for hint in hints:
        search = _Search(old, new, found, hint.unit, hint.counting, thrown, False, limit)
        scenario = read_scenario(hint.scenario, "the story")
        facts = resolve(old, scenario, unit=hint.unit, counting=hint.counting).facts
        parting = search.along(facts, hint.events, hint.end)
        if parting is not None:
            return Runs("differ", f"{_told(count, thrown)}; and the run on which a rule breaks", parting, count)
    known = "all that can be reached so" if whole else f"given up after {limit // 2} and {limit} in each way"
    return Runs("not decided", f"{decided.explored}; {_told(count, thrown)}; {known}", None, count)


def _decided(
    old: Protocol, new: Protocol, found: Differences, exact: Limit, progress: Callable[[int], None] | None
) -> Runs:
    """What can be decided exactly."""
    count, why = 0, ""
    for injects in (True, False) if old.inject or new.inject else (True,):
        bound = exact if injects else exact._replace(seconds=exact.seconds / 2)
        decision = decide(old, new, found, limit=bound, injects=injects, progress=_counted(progress, count))
        count += decision.classes
        thrown = "any injects at any time" if injects else "no inject"
        classes = "1 class" if count == 1 else f"{count} classes"
        if decision.kind == "same" and injects:
            told = f"proved over {classes} of states: every key at every time, {thrown}, every fact"
            return Runs("same", told, None, count)
        if decision.run is not None:
            plan = decision.run.plan
            search = _Search(old, new, found, plan.unit, plan.counting, [], injects, 1)
            parting = search.along(plan.facts, decision.run.events, decision.run.end)
            if parting is not None:
                return Runs("differ", f"{classes} of states, every key at every time, {thrown}", parting, count)
            why = "they differ in the order of things within a moment"
        elif decision.kind == "same":
            why += "; without injects they run alike"
        elif injects:
            why = decision.why
    return Runs("not decided", f"no proof: {why}", None, count)


def _counted(progress: Callable[[int], None] | None, before: int) -> Callable[[int], None]:
    return (lambda pairs: progress(before + pairs)) if progress is not None else lambda pairs: None


def _told(count: int, thrown: list[str]) -> str:
    ways = ", ".join(f"unit {unit} counting {counting}" for unit, counting in WAYS)
    with_injects = f"with the injects {', '.join(thrown)}" if thrown else "without injects"
    return (
        f"{count} pairs of states, {ways}, {with_injects}: keys in any order, each at once or when a timer runs out, "
        "not at moments in between"
    )


class _Node(NamedTuple):
    old: State
    new: State
    known: Known
    parent: int
    event: str


class _Search:
    """One search, under one unit and way of counting. ``fine`` tells states apart by all that can matter."""

    def __init__(
        self,
        old: Protocol,
        new: Protocol,
        found: Differences,
        unit: str,
        counting: str,
        thrown: list[str],
        fine: bool,
        limit: int,
    ) -> None:
        self.unit, self.counting, self.thrown, self.fine, self.limit = unit, counting, thrown, fine, limit
        self.pairs = 0
        self.complete = True
        self.nodes: list[_Node] = []
        self._both = (old, new)
        one, two = (build(each, resolve(each, unit=unit, counting=counting)) for each in self._both)
        self._machines = (one, two)
        arrow_of = arrow_names(old, new, list(found.pairs))
        step_of = {now: was for was, now in found.renamed.items()}
        self._sights = (Sight(one, {}, {}, None), Sight(two, arrow_of, step_of, one))
        self._classes = _classes(self._both)
        self._kept = (_Kept(old, one), _Kept(new, two))
        self._events = list(dict.fromkeys((*self._inputs(old, one), *self._inputs(new, two), WAIT)))

    def run(self, progress: Callable[[int], None]) -> Parting | None:
        """The first run on which the two part, or None."""
        seen: set[Any] = set()
        queue: deque[int] = deque()
        fixed: Known = (("counting", self.counting), ("unit", self.unit))
        for node, parted in self._outcomes(None, fixed, "", -1):
            if parted:
                return self._parting(node)
            self._keep(node, seen, queue)
        while queue:
            at = queue.popleft()
            for event in self._events:
                parent = self.nodes[at]
                if event != WAIT and not self._heard(parent, event):
                    continue
                for node, parted in self._outcomes(parent, parent.known, event, at):
                    if parted:
                        return self._parting(node)
                    if len(self.nodes) >= self.limit:
                        self.complete = False
                    else:
                        self._keep(node, seen, queue)
            self.pairs = len(self.nodes)
            if at % 1_000 == 0:
                progress(self.pairs)
        self.pairs = len(self.nodes)
        return None

    def _inputs(self, protocol: Protocol, machine: Machine) -> list[str]:
        thrown = [name for name in self.thrown if name in protocol.inject]
        found = inputs_of(protocol, machine, self.counting, thrown)
        return [event for event in found if self.unit == "floor" or not is_units(event)]

    def _keep(self, node: _Node, seen: set[Any], queue: deque[int]) -> None:
        key = (self._kept[0].key(node.old, self.fine), self._kept[1].key(node.new, self.fine), node.known)
        if key not in seen:
            seen.add(key)
            queue.append(len(self.nodes))
            self.nodes.append(node)

    def _heard(self, node: _Node, event: str) -> bool:
        """Whether any track of either version could take the event; facts apart."""
        for machine, state in zip(self._machines, (node.old, node.new), strict=True):
            if any(by_step[state.steps[track]] for track, by_step in machine.table.get(event, ())):
                return True
        return False

    def _outcomes(self, parent: _Node | None, known: Known, event: str, at: int) -> Iterator[tuple[_Node, bool]]:
        """What an input leads to, once for each value of every fact that is read on the way."""
        try:
            yield self._taken(parent, known, event, at)
        except Unread as question:
            for value in self._classes[question.name]:
                yield from self._outcomes(parent, tuple(sorted((*known, (question.name, value)))), event, at)

    def _taken(self, parent: _Node | None, known: Known, event: str, at: int) -> tuple[_Node, bool]:
        values = dict(known)
        states: list[State] = []
        seen: list[tuple[Token, ...]] = []
        wake = _wake(parent.old, parent.new) if parent is not None and event == WAIT else 0
        for number, machine in enumerate(self._machines):
            facts: Any = _Facts(machine.fact_names, values)
            if parent is None:
                state, effects = _begin(machine, facts)
                outcome = ""
            else:
                before = (parent.old, parent.new)[number]._replace(facts=facts)
                if event == WAIT:
                    state, effects = advance(machine, before, wake)
                    outcome = ""
                else:
                    state, effects, outcome = feed(machine, before, event, before.e)
            states.append(state)
            seen.append(self._sights[number].tokens(effects, outcome))
        return _Node(states[0], states[1], known, at, event), seen[0] != seen[1]

    def along(self, facts: Mapping[str, FactValue], events: tuple[tuple[int, str], ...], end: int) -> Parting | None:
        """Where the two part on one given run, which ends at ``end`` (ms); None where they do not."""
        known: Known = tuple(sorted(facts.items()))
        node, parted = self._taken(None, known, "", -1)
        left = [*events, (end, "")]
        while left and not parted:
            self.nodes.append(node)
            e, event = left[0]
            if _wake(node.old, node.new) <= e or not event:
                if _wake(node.old, node.new) > e:
                    return None
                node, parted = self._taken(node, known, WAIT, len(self.nodes) - 1)
                continue
            later = _Node(node.old._replace(e=e), node.new._replace(e=e), node.known, len(self.nodes) - 1, LATER)
            self.nodes.append(later)
            node, parted = self._taken(later, known, event, len(self.nodes) - 1)
            left.pop(0)
        return self._parting(node) if parted else None

    # --- telling ------------------------------------------------------------------------------------------------------

    def _parting(self, node: _Node) -> Parting:
        way = [node]
        while way[-1].parent >= 0:
            way.append(self.nodes[way[-1].parent])
        way.reverse()
        lines: list[Line] = []
        events: list[tuple[int, str]] = []
        keys = key_map(self._both[1]) | key_map(self._both[0])
        parent: _Node | None = None
        for one in way:
            if one.event == LATER:
                parent = one
                continue
            said = []
            for number, machine in enumerate(self._machines):
                facts: Any = _Facts(machine.fact_names, dict(node.known))
                if parent is None:
                    effects, outcome = _begin(machine, facts)[1], ""
                elif one.event == WAIT:
                    before = (parent.old, parent.new)[number]._replace(facts=facts)
                    effects, outcome = advance(machine, before, _wake(parent.old, parent.new))[1], ""
                else:
                    before = (parent.old, parent.new)[number]._replace(facts=facts)
                    _, effects, outcome = feed(machine, before, one.event, before.e)
                said.append(words_said(machine, effects, outcome))
            if one.event not in ("", WAIT):
                events.append((one.old.e, one.event))
            lines.append(Line(one.old.e, _by(one.event, keys), said[0], said[1]))
            parent = one
        lines = [line for line in lines[:-1] if line.old or line.new or line.by != "(time)"] + lines[-1:]
        units = {name: fact.unit for each in reversed(self._both) for name, fact in each.facts.items()}
        facts_told = tuple((name, fact_text(units[name], value)) for name, value in node.known if name in units)
        return Parting(self.unit, self.counting, facts_told, tuple(lines), tuple(events), self.fine)


def _wake(one: State, two: State) -> int:
    """When the next timer of either is due; a second later where none runs."""
    due = [state.timers[0][0] for state in (one, two) if state.timers]
    return min(due) if due else one.e + 1_000


def _begin(machine: Machine, facts: Any) -> tuple[State, tuple[Effect, ...]]:

    return start(replace(machine, facts=facts))


class _Kept:
    """What of a state can still matter: its times counted from now, without what no guard reads."""

    def __init__(self, protocol: Protocol, machine: Machine) -> None:
        texts = [place.arrow.when for place in arrows(protocol)] + [inject.when for inject in protocol.inject.values()]
        exprs = [guards.parse(text) for text in (*texts, *protocol.terms.values()) if text]
        read = {name for expr in exprs for name in guards.names(expr)}
        scripts = {
            fact.counter for name, fact in protocol.facts.items() if fact.kind == "script" and f"this_{name}" in read
        }
        self._counters = [
            place
            for place, name in enumerate(machine.counters)
            if name in read or name in scripts or name.startswith("thrown:")
        ]
        self._marks = sum(1 << place for place, name in enumerate(machine.marks) if name in read)
        self._oldest = max((info.first for info in machine.timers if info.since_push), default=0)

    def key(self, state: State, fine: bool) -> tuple[Any, ...]:
        """The part of a state by which it is told from others."""
        counters = tuple(state.counters[place] for place in self._counters)
        if not fine:
            return state.steps, state.marks & self._marks, tuple(min(count, 2) for count in counters)
        timers = tuple((deadline - state.e, index, left) for deadline, index, left in state.timers)
        push = min(state.e - state.last_push, self._oldest) if self._oldest and state.last_push >= 0 else -1
        return state.steps, counters, state.marks & self._marks, timers, push


def _classes(protocols: tuple[Protocol, ...]) -> dict[str, tuple[FactValue, ...]]:
    """The values of each fact that are tried: one of each class that some guard of either version tells apart."""
    texts = [text for each in protocols for text in each.terms.values()]
    texts += [place.arrow.when for each in protocols for place in arrows(each)]
    texts += [inject.when for each in protocols for inject in each.inject.values()]
    constants = constants_of(guards.parse(text) for text in texts if text)
    found: dict[str, dict[FactValue, None]] = {}
    for each in protocols:
        facts: dict[str, Fact] = {**each.facts, **BUILT_IN_FACTS}
        for name, fact in facts.items():
            values: tuple[FactValue, ...]
            if fact.kind == "script":
                values = tuple(product(fact.of, repeat=min(fact.length, SCRIPT_LENGTH)))
            else:
                values = classes_of(fact, constants.get(name, set()))
            found.setdefault(name, {}).update(dict.fromkeys(values))
    return {name: tuple(values) for name, values in found.items()}


def _by(event: str, keys: Mapping[str, str]) -> str:
    if event == "":
        return "go"
    if event == WAIT:
        return "(time)"
    key = keys.get(event)
    return f"{label(event)} (key {key})" if key else label(event)
