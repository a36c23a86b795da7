"""Proving the rules of a protocol: for each the verdicts as taught and as noticed, a replayed story where broken."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from coach.check.proof import liveness
from coach.check.proof.possible import cases, value_text
from coach.check.proof.questions import Asked, Asker
from coach.check.proof.replay import Listener, listen
from coach.check.proof.rules import Rule
from coach.check.proof.story import Story, tell
from coach.check.proof.verdicts import RuleVerdict, Verdict
from coach.check.proof.witness import Run, run_of
from coach.check.states.classes import Edge, Explorer, Graph, Limit, Mind
from coach.check.states.discrete import Discrete, Question
from coach.check.states.inputs import EACH, PLACED, PUSHES, Gate, Loose, inputs_of
from coach.check.states.openfacts import Frame
from coach.check.states.reads import Interest, Lookups, Reads
from coach.check.states.slicing import Part, cut
from coach.engine.build import build
from coach.engine.machine import Machine
from coach.engine.plan import resolve
from coach.engine.state import FactValue
from coach.protocol.model import Protocol
from coach.protocol.names import HANDS_TRACK

Tell = Callable[[str, int], None]
"""Progress: what is being looked at, and how many classes so far."""

ATTEMPTS: tuple[tuple[tuple[str, ...], Loose, bool], ...] = (
    (("",), "all", True),
    (EACH, "", True),
    (EACH, "", False),
    (PLACED, "placed", True),
    (PLACED, "", False),
)
"""Ways of counting that are explored apart where it matters: every push a key, or hands on and off. First looks take in
more than can be (all ways together; injects thrown, and slow timers run out, at any time; a rhythm that may be another
each time it is read), for what holds there holds; only what they do not settle is asked exactly."""


SLOW = 4
"""A timer that runs longer than this many times what a rule measures has no clock in a first look."""

WHOLE = ("always_possible", "must_reach")
"""Forms that ask the whole graph: more runs do not only make these harder to keep."""

APART = (*WHOLE, "possible")
"""Forms that share no search with other rules."""


class NotReproduced(AssertionError):
    """A story that the drill's own engine does not confirm: a mistake in the checker, never the author's."""


@dataclass(frozen=True, slots=True)
class Scope:
    """What was looked at: ``injects`` that could be thrown, ``open_at_once`` of them, and facts ``fixed`` beforehand.

    ``unit_keys``: what the unit does can be pressed also where the laptop plays it; else its own timers do all of it.
    """

    injects: tuple[str, ...] = ()
    open_at_once: int = 2
    fixed: tuple[tuple[str, FactValue], ...] = ()
    unit_keys: bool = False


@dataclass(slots=True)
class _Group:
    """Rules that need about the same part of the machine, explored with one discrete behaviour."""

    asked: list[Asked]
    part: Part


@dataclass(slots=True)
class Ready:
    """One rule in its group: its discrete behaviour and where its questions begin."""

    asked: Asked
    discrete: Discrete
    first: int


class Prover:
    """The rules of one protocol, under one way of counting (``("",)``: all of them and more, see :data:`ATTEMPTS`)."""

    def __init__(
        self,
        protocol: Protocol,
        counting: tuple[str, ...],
        scope: Scope,
        limit: Limit,
        progress: Tell | None = None,
        loose: Loose = "",
        free: bool = False,
    ) -> None:
        self.free = free
        self.first_look = bool(loose) or free
        self.protocol = protocol
        self.counting = counting
        self.scope = scope
        self.limit = limit
        self.progress = progress
        self.loose: Loose = loose
        self.machine = build(protocol, resolve(protocol, counting=counting[0] or "each"))
        self.asker = Asker(self.machine)
        self.inputs = inputs_of(protocol, self.machine, counting[0], scope.injects)
        self.classes = 0
        self.kept = Reads()
        self.lookups = Lookups(self.machine)
        self._parts: dict[Interest, Part] = {}

    # --- parts ------------------------------------------------------------------------------------------------------

    def part(self, interest: Interest) -> Part:
        """The part of the machine that a question needs."""
        found = self._parts.get(interest)
        if found is None:
            loose = self.loose == "all"
            look = self.first_look
            free = self.scope.injects if self.free else ()
            found = cut(self.machine, interest, self.inputs, self.scope.injects, loose, free, look, self.lookups)
            self._parts[interest] = found
        return found

    def discrete(
        self,
        part: Part,
        interest: Interest,
        questions: Iterable[Question] = (),
        untimed: frozenset[int] = frozenset(),
        fixed: Mapping[str, FactValue] | None = None,
    ) -> Discrete:
        """The discrete behaviour of a part; ``fixed`` are facts settled beside those of the scope."""
        frame = Frame(self.machine, {**dict(self.scope.fixed), **(fixed or {})}, part.moving, interest.exprs)
        scope = self.scope
        gate = Gate(self.machine, scope.injects, scope.open_at_once, self.loose, scope.unit_keys, self.free)
        return Discrete(part, frame, gate, questions, untimed)

    def counts(self, part: Part) -> bool:
        """Whether the ways of counting could differ in a part."""
        hands = self.machine.layout.tracks[HANDS_TRACK]
        fact = self.machine.layout.facts["counting"][0]
        return hands in part.kept.tracks or part.kept.push or fact in part.kept.facts

    @staticmethod
    def _exactly(part: Part) -> bool:
        """Whether a first look takes in nothing here that cannot be."""
        return not part.fickle and not any(one in PUSHES or ":" in one for one in part.inputs)

    def pushless(self, part: Part) -> bool:
        """Whether a part is the same under every way of counting."""
        return not self.counts(part) and not any(one in PUSHES for one in part.inputs)

    def ready(self, rules: Iterable[Rule]) -> list[Ready]:
        """The rules, those with about the same part of the machine together. Under all ways of counting at once only
        those to which that can answer."""
        groups: list[_Group] = []
        parts = [(asked := self.asker.ask(rule), self.part(asked.interest)) for rule in rules]
        if self.loose == "all":
            parts = [(asked, part) for asked, part in parts if not self.counts(part)]
        if self.first_look:
            parts = [
                (asked, part)
                for asked, part in parts
                if asked.rule.form not in APART or (asked.rule.form in WHOLE and self._exactly(part))
            ]
        for asked, part in sorted(parts, key=lambda one: (-sum(one[1].kept.size()), -one[0].span)):
            alike = [group for group in groups if _alike(part.kept, group.part.kept)]
            same = [group for group in alike if group.asked[0].span == asked.span]
            near = same or [group for group in alike if not asked.span]  # what measures no time minds no clock
            if near and asked.rule.form not in APART:
                near[0].asked.append(asked)
            else:
                groups.append(_Group([asked], part))
        out: list[Ready] = []
        for group in groups:
            interest = Interest()
            questions: list[Question] = []
            for asked in group.asked:
                interest = interest | asked.interest
                questions += asked.questions
            part = self.part(interest) if len(group.asked) > 1 else group.part
            self.kept.add(part.kept)
            untimed = self._untimed(part, group.asked[0])
            discrete = self.discrete(part, interest, questions, untimed)
            first = 0
            for asked in group.asked:
                out.append(Ready(asked, discrete, first))
                first += len(asked.questions)
        return out

    def _untimed(self, part: Part, asked: Asked) -> frozenset[int]:
        """In a first look: timers much slower than what the rule measures (all, where it measures nothing) may run out
        at any time."""
        if not self.first_look or asked.rule.form in APART:
            return frozenset()
        timers = self.machine.timers
        return frozenset(place for place in part.kept.timers if timers[place].first > SLOW * asked.span)

    # --- one rule ---------------------------------------------------------------------------------------------------

    def prove(self, ready: Ready) -> RuleVerdict:
        """The verdicts on one rule."""
        rule = ready.asked.rule
        if rule.form in WHOLE:
            return RuleVerdict(rule, self._whole(ready, False), self._whole(ready, True))
        if rule.form == "possible":
            taught = self._possible(ready.asked, faults=False)
            return RuleVerdict(rule, taught, taught if taught.kind == "holds" else self._possible(ready.asked, True))
        noticed = self._one(ready, faults=True)
        whole = noticed.kind in ("holds", "vacuous") or ready.asked.blames
        taught = noticed if whole else self._one(ready, faults=False)
        without = None
        if rule.assume is not None:
            timed = self._exact(ready.asked) if ready.discrete.untimed else ready
            without = self._one(timed, faults=False, assumed=False)
        return RuleVerdict(rule, taught, noticed, without)

    def _one(self, ready: Ready, faults: bool, assumed: bool = True) -> Verdict:
        mind = ready.asked.mind(ready.first, assumed)
        graph = self._explored(ready.discrete, ready.asked.rule.id, mind, faults)
        if graph.broken is None:
            if not graph.complete:
                why = self._gave_up(graph)
                return Verdict("not decided", len(graph.nodes), why=why, pending=self.first_look)
            if not mind.triggered:
                return Verdict("vacuous", len(graph.nodes), why="what it speaks of never happens")
            return Verdict("holds", len(graph.nodes), longest=mind.longest(graph))
        if ready.discrete.untimed:
            return Verdict("not decided", len(graph.nodes), pending=True)
        at, edge = graph.broken
        way = [*(graph.way(at) if at >= 0 else []), edge]
        counting = self._counting_of(way)
        run = run_of(graph, self.protocol, way, counting)
        story = self._confirmed(ready.asked, run, faults, assumed) if counting else None
        if story is None and self.first_look:
            return Verdict("not decided", len(graph.nodes), pending=True)
        if story is None:
            if not ready.asked.interest.faults:
                return self._one(self._with_faults(ready.asked), faults, assumed)
            raise NotReproduced(f"{self.protocol.id}: {ready.asked.rule.id}: {run.events}")
        return Verdict("broken", len(graph.nodes), story)

    def _counting_of(self, way: Iterable[Edge]) -> str:
        """A way of counting under which a person can press that way; "" where there is none."""
        if not self.loose:
            return self.counting[0]
        if self.loose == "placed" and any(edge.trigger == "probe_tap" for edge in way):
            return ""
        pushed = {edge.trigger for edge in way} & PUSHES
        return "each" if pushed <= {"compression"} else "marks" if pushed <= {"hands_placed"} else ""

    def _exact(self, asked: Asked) -> Ready:
        """The rule with a clock for every timer."""
        return Ready(asked, self.discrete(self.part(asked.interest), asked.interest, asked.questions), 0)

    def _with_faults(self, asked: Asked) -> Ready:
        """The rule with every fault of the file in sight, also those of tracks that it does not speak of."""
        wider = replace(asked, interest=asked.interest | Interest(faults=True))
        return Ready(wider, self.discrete(self.part(wider.interest), wider.interest, asked.questions), 0)

    def _explored(self, discrete: Discrete, what: str, mind: Mind | None, faults: bool, keep: bool = False) -> Graph:
        told = self.progress
        graph = Explorer(
            discrete,
            mind,
            faults=faults,
            keep_edges=keep,
            limit=self.limit,
            progress=(lambda count: told(what, self.classes + count)) if told is not None else None,
        ).run()
        self.classes += len(graph.nodes)
        return graph

    def _gave_up(self, graph: Graph) -> str:
        return f"gave up after {len(graph.nodes)} classes: raise the limit, or fix some facts"

    def _confirmed(self, asked: Asked, run: Run, faults: bool, assumed: bool) -> Story | None:
        """The story, if the drill's own engine breaks the rule on it just so."""
        rule = asked.rule
        machine = self._replayed(asked, run, faults, assumed)
        if machine is None:
            return None
        note = "rule broken here: " + (rule.say.get("en") or next(iter(rule.say.values()), rule.id))
        return tell(self.protocol, machine, run, f"BROKEN {rule.id}", note)

    def _replayed(self, asked: Asked, run: Run, faults: bool, assumed: bool) -> Machine | None:
        """The machine of a run in which the rule's mind hears in the drill's own engine what it heard here, at its end
        and not before; None where it does not."""
        machine = build(self.protocol, run.plan)
        fresh = Asker(machine).ask(asked.rule)
        listener = Listener(fresh.mind(0, assumed), tuple(fresh.questions))
        listen(machine, run.events, run.end, listener)
        if listener.outside or listener.broken_at != run.end or (listener.faulty and not faults):
            return None
        return machine

    # --- rules about what some run must do ----------------------------------------------------------------------------

    def _possible(self, asked: Asked, faults: bool) -> Verdict:
        """Whether what a rule names is seen in some run, for each value of the facts that it names."""
        classes = 0
        for case in cases(asked.rule, self.protocol, dict(self.scope.fixed)):
            verdict = self._found(asked, case, faults)
            classes += verdict.classes
            if verdict.kind != "holds":
                return replace(verdict, classes=classes)
        return Verdict("holds", classes)

    def _found(self, asked: Asked, case: dict[str, FactValue], faults: bool) -> Verdict:
        discrete = self.discrete(self.part(asked.interest), asked.interest, asked.questions, fixed=case)
        graph = self._explored(discrete, asked.rule.id, asked.mind(0), faults)
        if graph.broken is None and not graph.complete:
            return Verdict("not decided", len(graph.nodes), why=self._gave_up(graph))
        if graph.broken is None:
            given = "".join(f", {name} {value_text(value)}" for name, value in case.items())
            return Verdict("broken", len(graph.nodes), why=f"it never happens{given}")
        at, edge = graph.broken
        run = run_of(graph, self.protocol, [*(graph.way(at) if at >= 0 else []), edge], self.counting[0])
        if self._replayed(asked, run, faults, True) is not None:
            return Verdict("holds", len(graph.nodes))
        if asked.interest.faults:
            raise NotReproduced(f"{self.protocol.id}: {asked.rule.id}: {run.events}")
        return self._found(replace(asked, interest=asked.interest | Interest(faults=True)), case, faults)

    # --- rules about the whole graph ----------------------------------------------------------------------------------

    def _whole(self, ready: Ready, faults: bool) -> Verdict:
        rule = ready.asked.rule
        graph = self._explored(ready.discrete, rule.id, None, faults, keep=True)
        count = len(graph.nodes)
        if not graph.complete:
            return Verdict("not decided", count, why=self._gave_up(graph))
        goal_bit, state_bit = 1 << ready.first, 1 << ready.first + 1

        def goal(edge: Edge) -> bool:
            return bool(edge.outcome.truth & goal_bit)

        reached = [False] * count
        for edges in (graph.first, *graph.edges):
            for edge in edges:
                if edge.outcome.truth & state_bit:
                    reached[edge.target] = True
        if rule.form == "must_reach":
            made = frozenset(rule.assume.made) if rule.assume is not None else frozenset()
            bad = liveness.endless(graph, reached, goal, made)
            if bad is None:
                return Verdict("holds", count)
            return self._stays(graph, rule, min(bad), "a run can go on from here for ever without it")
        stuck, sure = liveness.stuck(graph, reached, goal)
        if stuck is not None:
            return self._stays(graph, rule, stuck, "from here on it can never happen")
        if not sure:
            return Verdict("not decided", count, why="some states of a class may be stuck: fix some facts")
        return Verdict("holds", count)

    def _stays(self, graph: Graph, rule: Rule, node: int, note: str) -> Verdict:
        run = run_of(graph, self.protocol, graph.way(node), self.counting[0] or "each")
        machine = build(self.protocol, run.plan)
        story = tell(self.protocol, machine, run, f"BROKEN {rule.id}", note)
        return Verdict("broken", len(graph.nodes), story)


def _alike(kept: Reads, other: Reads) -> bool:
    """Whether two questions need about the same: nothing that one of them lacks multiplies the classes of the other."""
    same = (kept.tracks, kept.timers, kept.counters, kept.push) == (
        other.tracks,
        other.timers,
        other.counters,
        other.push,
    )
    return same and (kept.marks ^ other.marks).bit_count() <= 1
