"""Atoms of rules as questions to a moment, and what a machine must keep for them to be answered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coach.check.proof import minds
from coach.check.proof.rules import Atom, Rule
from coach.check.states.discrete import Moment, Question
from coach.check.states.reads import Interest
from coach.engine.machine import GuardFunction, Machine
from coach.protocol import guards
from coach.protocol.guards import Expr


@dataclass(slots=True)
class Asked:
    """A rule made ready: its questions, what they look at, and the mind that hears the answers (its first question has
    the number given)."""

    rule: Rule
    questions: list[Question]
    interest: Interest

    @property
    def span(self) -> int:
        """The longest time that the rule itself measures, in ms; 0 where it measures none."""
        follow = self.rule.assume.follow_prompt_within if self.rule.assume is not None else None
        return max(self.rule.within or 0, self.rule.at_most or 0, follow or 0)

    @property
    def blames(self) -> bool:
        """Whether the rule speaks of a fault, which then excuses nothing."""
        return self.rule.never is not None and bool(self.rule.never.fault)

    def mind(self, first: int, assumed: bool = True) -> minds.Base:
        """The rule's automaton; ``assumed`` False leaves out what the rule assumes."""
        rule = self.rule
        scoped = rule.scope is not None and bool(rule.scope.after)
        if rule.form == "never":
            return minds.Never(first, scoped, self.blames)
        if rule.form == "unless_since":
            assert rule.never is not None and rule.unless_since is not None
            effect = rule.never.step or rule.never.cue or rule.never.mark or rule.never.guard
            return minds.UnlessSince(first, scoped, self.blames, bool(effect and rule.unless_since.on))
        if rule.form == "possible":
            return minds.Seen(first)
        if rule.form == "next_step":
            return minds.NextStep(first, all(atom.step for atom in rule.after))
        if rule.form == "within":
            assert rule.within is not None
            return minds.Within(first, rule.within)
        if rule.form == "at_most":
            assert rule.at_most is not None
            follow = (rule.assume.follow_prompt_within or 0) if rule.assume is not None and assumed else 0
            return minds.AtMost(first, rule.at_most, follow)
        if rule.form == "count":
            assert rule.count is not None
            return minds.Counting(first, rule.count.at_least, rule.count.at_most)
        return minds.Blank(first)


class Asker:
    """Compiles the rules of one machine."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        layout = machine.layout
        self.step_places = {step: (layout.tracks[track], place) for (track, step), place in layout.steps.items()}
        self.timer_tracks = {info.step for info in machine.timers if info.step}

    def ask(self, rule: Rule) -> Asked:
        """The questions of a rule, in the order in which its mind expects them."""
        made: list[tuple[Question, Interest]] = []
        scope_after = rule.scope.after if rule.scope is not None else []
        scope_until = rule.scope.until if rule.scope is not None else []
        if rule.form in ("never", "unless_since"):
            assert rule.never is not None
            made = [self.any([rule.never], faults=True), self.any(scope_after), self.any(scope_until)]
            if rule.unless_since is not None:
                made += [self.any([rule.unless_since]), self.any(rule.unless_since.after)]
        elif rule.form == "next_step":
            assert rule.next_step is not None
            track, good = rule.next_step.track, [*rule.next_step.step, *rule.except_]
            made = [self.any(rule.after, faults=True), *self._entering(track, good), self.any(scope_until)]
        elif rule.form == "within":
            made = [self.any(rule.after), self.any(rule.expect), self.any(scope_until)]
        elif rule.form == "at_most":
            assert rule.while_ is not None
            prompts = rule.assume.prompts if rule.assume is not None else []
            made = [self._holds(rule.while_.guard), self._cue(prompts)]
        elif rule.form == "count":
            assert rule.count is not None
            assert rule.between is not None
            made = [self.any(rule.count.of, faults=True), self.any(rule.between.from_), self.any(rule.between.until)]
        elif rule.form == "possible":
            assert rule.possible is not None
            made = [self.any([rule.possible], faults=True)]
        elif rule.form in ("always_possible", "must_reach"):
            goal = rule.always_possible or rule.must_reach
            assert goal is not None
            made = [self.any([goal]), self._stands(goal)]
            if rule.assume is not None:
                made.append((_no, Interest(events=frozenset(rule.assume.made))))
        interest = Interest()
        for _, one in made:
            interest = interest | one
        return Asked(rule, [question for question, _ in made], interest)

    # --- atoms ------------------------------------------------------------------------------------------------------

    def any(self, atoms: Sequence[Atom], faults: bool = False) -> tuple[Question, Interest]:
        """Whether any of some atoms happens; ``faults`` where it matters whether over a fault."""
        made = [self._atom(atom, faults) for atom in atoms]
        interest = Interest()
        for _, one in made:
            interest = interest | one
        questions = [question for question, _ in made]
        if not questions:
            return _no, interest
        if len(questions) == 1:
            return questions[0], interest
        return lambda moment: any(question(moment) for question in questions), interest

    def _atom(self, atom: Atom, faults: bool) -> tuple[Question, Interest]:
        question, interest = self._kind(atom, faults)
        if not atom.when:
            return question, interest
        guard, expr = self._guard(atom.when)

        def asked(moment: Moment) -> bool:
            before = moment.before if moment.before is not None else moment.after
            return question(moment) and guard(before, moment.facts)

        return asked, interest | Interest(exprs=(expr,))

    def _kind(self, atom: Atom, faults: bool) -> tuple[Question, Interest]:
        if atom.on:
            events = frozenset(atom.on)
            told_apart = faults or atom.taken != "any"
            return self._on(events, atom.taken), Interest(events=events) if told_apart else Interest(shown=events)
        if atom.step:
            places = frozenset(self.step_places[step] for step in atom.step)
            tracks = frozenset(track for track, _ in places)
            return (
                lambda moment: not places.isdisjoint([(move.track, move.to) for _, move in moment.pairs]),
                Interest(tracks=tracks),
            )
        if atom.cue:
            return self._cue(atom.cue)
        if atom.fault:
            return self._blamed(frozenset(atom.fault))
        if atom.mark:
            bit = 1 << self.machine.layout.marks[atom.mark]

            def newly(moment: Moment) -> bool:
                return bool(moment.after.marks & bit) and not (moment.before is not None and moment.before.marks & bit)

            return newly, Interest(marks=bit)
        guard, expr = self._guard(atom.guard)

        def begins(moment: Moment) -> bool:
            before = moment.before
            return guard(moment.after, moment.facts) and (before is None or not guard(before, moment.facts))

        return begins, Interest(exprs=(expr,))

    @staticmethod
    def _on(events: frozenset[str], taken: str) -> Question:
        def happens(moment: Moment) -> bool:
            found = faulty = False
            for event, move in moment.pairs:
                if event in events:
                    found = True
                    faulty = faulty or bool(move.fault)
            return found and (taken == "any" or faulty is (taken == "fault"))

        return happens

    def _blamed(self, faults: frozenset[str]) -> tuple[Question, Interest]:
        cells = frozenset(
            (event, track)
            for event, row in self.machine.table.items()
            for track, by_step in row
            if any(move.fault in faults for moves in by_step for move in moves)
        )
        return lambda moment: any(move.fault in faults for _, move in moment.pairs), Interest(cells=cells)

    def _cue(self, names: Iterable[str]) -> tuple[Question, Interest]:
        keys: set[str] = set()
        for name in names:
            kind, _, rest = name.partition(":")
            if kind in ("timer", "late") and rest:
                keys.add(name)
            else:
                keys.add(f"step:{name}" if name in self.step_places else f"arrow:{name}")
        wanted = frozenset(keys)

        def said(moment: Moment) -> bool:
            if moment.late and f"late:{moment.late}" in wanted:
                return True
            for event, move in moment.pairs:
                for told in move.says:
                    if told.kind == "cue" and (told.name in wanted or event in wanted):
                        return True
            return False

        return said, Interest(cues=wanted)

    def _guard(self, text: str) -> tuple[GuardFunction, Expr]:
        expr = guards.parse(text)
        return guards.compile_guard(expr, self.machine.layout), expr

    def _holds(self, text: str) -> tuple[Question, Interest]:
        guard, expr = self._guard(text)
        return lambda moment: guard(moment.after, moment.facts), Interest(exprs=(expr,))

    def _stands(self, goal: Atom) -> tuple[Question, Interest]:
        """Whether a state itself is the goal: standing in its step, or its guard holding."""
        if goal.guard:
            return self._holds(goal.guard)
        if goal.step:
            places = frozenset(self.step_places[step] for step in goal.step)
            return (
                lambda moment: any(moment.after.steps[track] == step for track, step in places),
                Interest(tracks=frozenset(track for track, _ in places)),
            )
        return _no, Interest()

    def _entering(self, track_name: str, names: Iterable[str]) -> list[tuple[Question, Interest]]:
        """The track enters a step; the last one that it enters is among ``names``; it stands in one of them."""
        track = self.machine.layout.tracks[track_name]
        good = frozenset(self.machine.layout.steps[track_name, name] for name in names)
        interest = Interest(tracks=frozenset({track}))

        def entered(moment: Moment) -> list[int]:
            return [move.to for event, move in moment.pairs if move.track == track and move.to >= 0 and event != "go"]

        return [
            (lambda moment: bool(entered(moment)), interest),
            (lambda moment: (steps := entered(moment)) != [] and steps[-1] in good, interest),
            (lambda moment: moment.after.steps[track] in good, interest),
        ]


def _no(_: Moment) -> bool:
    return False
