"""Decision items: what of a protocol a learner has to decide, each with an id that outlives changes of the file.

``<protocol>:step:<track>.<step>``, with ``@no_shock_advised`` or ``@<fact>`` where the same step is another decision;
``<protocol>:inject:<name>``; ``<protocol>:fact:<fact>``; ``<protocol>:handover``; ``<pads file>:<case>``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any, Literal

from coach.engine.plan import fact_value
from coach.observations import OBSERVATIONS
from coach.protocol import guards
from coach.protocol.expr import And, Choice, Compare, Expr, InStep, Name, Not, Or
from coach.protocol.model import Arrow, Protocol, Step, Wording
from coach.rehearse.verbs import AGAIN, label, lower_first
from coach.text import one_line

Kind = Literal["step", "inject", "fact", "handover", "pads"]

LIMIT_MS = 10_000
"""The limit of a decision for which the file names none: the limit on any stop of compressions (from memory)."""

NO_SHOCK = "no_shock_advised"
NO_SOURCE = "no source named in the file"
PUSHES = frozenset({"compression", "hands_placed"})


@dataclass(frozen=True, slots=True)
class Item:
    """One decision. ``limit_ms`` is the file's own limit; ``why`` one line; ``source`` its title with the grade."""

    id: str
    kind: Kind
    family: str
    name: str
    title: Wording
    critical: bool
    limit_ms: int
    why: Wording
    source: str
    suits: frozenset[str] = frozenset()
    """Facts that the casualty must have for it."""


@dataclass(frozen=True, slots=True)
class Placed:
    """An authored arrow where it leaves from; ``step`` is "" for a track's own list."""

    track: str
    step: str
    arrow: Arrow


def placed(protocol: Protocol) -> Iterator[Placed]:
    """Every authored arrow, in file order."""
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            yield from (Placed(track_name, step_name, arrow) for arrow in step.go)
        yield from (Placed(track_name, "", arrow) for arrow in track.go)


def walk(expr: Expr, terms: dict[str, Expr]) -> Iterator[Expr]:
    """Every test of a guard, terms opened."""
    if isinstance(expr, Not):
        yield from walk(expr.item, terms)
    elif isinstance(expr, (And, Or)):
        for item in expr.items:
            yield from walk(item, terms)
    elif isinstance(expr, Name) and expr.name in terms:
        yield from walk(terms[expr.name], terms)
    else:
        yield expr


class Listing:
    """A protocol's decisions, worked out once from the file alone."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.terms: dict[str, Expr] = {name: guards.parse(text) for name, text in protocol.terms.items()}
        self._answers: dict[tuple[str, str], tuple[str, ...]] = {}
        self._facts_in: dict[str, tuple[str, ...]] = {}
        self._by_facts: dict[str, list[tuple[tuple[str, ...], Callable[[Any, Any], bool]]]] = {}
        self.arrows = list(placed(protocol))
        self.main = self._main()
        breaths = protocol.facts.get("breaths")
        self.breathless = breaths is not None and breaths.default is False
        self.obliging = {event for inject in protocol.inject.values() if inject.allowed for event in inject.emit}
        """Events that an inject with an obligation makes: what follows is that inject's decision."""
        self.quiet = self._quiet()
        """Steps in which pushing is a fault and nothing is to be keyed: the decision is to take the hands away."""
        self.items: dict[str, Item] = {item.id: item for item in self._items()}
        self.facts: dict[str, str] = {item.name: item.id for item in self.items.values() if item.kind == "fact"}

    def by_learner(self, event: str) -> bool:
        """Whether an event is something a learner does (not the unit, a helper or the instructor)."""
        if event in ("touch", "probe_tap"):
            return False
        if event in OBSERVATIONS:
            return OBSERVATIONS[event].by == "learner"
        own = self.protocol.observations.get(event)
        return own is not None and own.by == "learner"

    def source(self, names: list[str]) -> str:
        """The first source that is more than a training choice, with how it was seen."""
        known = [self.protocol.sources[name] for name in names if name in self.protocol.sources]
        best = next((one for one in known if one.grade != "local"), known[0] if known else None)
        return f"{best.title} ({best.grade})" if best is not None else NO_SOURCE

    def facts_in(self, guard: str) -> tuple[str, ...]:
        """The casualty's facts that a guard asks about."""
        if not guard:
            return ()
        if guard in self._facts_in:
            return self._facts_in[guard]
        names: dict[str, None] = {}
        for test in walk(guards.parse(guard), self.terms):
            if isinstance(test, (Name, Compare, Choice)) and test.name in self.protocol.facts:
                names[test.name] = None
        self._facts_in[guard] = tuple(names)
        return self._facts_in[guard]

    def by_facts(self, guard: str, facts: Mapping[str, Any]) -> bool:
        """Whether a guard may hold for a casualty with these facts: each of its parts that reads nothing else does."""
        if guard not in self._by_facts:
            layout = guards.Layout({name: (i, f) for i, (name, f) in enumerate(self.protocol.facts.items())})
            layout = replace(layout, terms=self.terms)
            parts: list[tuple[tuple[str, ...], Callable[[Any, Any], bool]]] = []
            tree = guards.parse(guard) if guard else None
            for part in tree.items if isinstance(tree, And) else [tree] if tree is not None else []:
                with suppress(guards.GuardProblem):  # it reads where the drill stands
                    read = guards.facts_read(part, self.protocol.facts, self.terms)
                    parts.append((tuple(read), guards.compile_guard(part, layout)))
            self._by_facts[guard] = parts
        for names, holds in self._by_facts[guard]:
            values = [
                fact_value(name, fact, facts.get(name, fact.default)) if name in names else None
                for name, fact in self.protocol.facts.items()
            ]
            if not holds(None, values):
                return False
        return True

    # --- where things are -------------------------------------------------------------------------------------------

    def _main(self) -> str:
        """The track of the one who pushes: the first with a spine that leads to pushing."""
        for name, track in self.protocol.track.items():
            if any(PUSHES & set(track.step[step].done) for step in track.spine if step in track.step):
                return name
        return next(iter(self.protocol.track))

    def _quiet(self) -> frozenset[tuple[str, str]]:
        found: set[tuple[str, str]] = set()
        for one in self.arrows:
            if one.arrow.fault is None or not PUSHES & set(one.arrow.on):
                continue
            steps = [(one.track, one.step)] if one.step else []
            if one.arrow.when:
                tests = walk(guards.parse(one.arrow.when), self.terms)
                steps += [(test.track, test.step) for test in tests if isinstance(test, InStep)]
            found.update(place for place in steps if place[0] == self.main)
        track = self.protocol.track[self.main]
        return frozenset((name, step) for name, step in found if not track.step[step].done and track.step[step].cue)

    def entered_by(self, track: str, step: str) -> set[str]:
        """The events of the arrows that lead into a step, faults left out."""
        return {
            event
            for one in self.arrows
            if one.track == track and one.arrow.to == step and one.arrow.fault is None
            for event in one.arrow.on
        }

    def _after_life(self, track: str, step: str) -> bool:
        """Whether a step is entered only from those in which somebody is awake, or was."""
        sources = {
            one.step for one in self.arrows if one.track == track and one.arrow.to == step and one.arrow.fault is None
        }
        signs = {"signs_of_life", "life_fades"}
        return bool(sources) and "" not in sources and all(signs & self.entered_by(track, one) for one in sources)

    def called(self, track: str, name: str) -> bool:
        """Whether a cue comes with a step, its own or that of an arrow into it."""
        return bool(self.protocol.track[track].step[name].cue) or any(
            self._leads(one, track, name) and one.arrow.cue for one in self.arrows
        )

    def holds(self, track: str, name: str) -> bool:
        """A step of the unit's in which the learner's part is to push on until the unit asks."""
        step = self.protocol.track[track].step[name]
        return (
            self.called(track, name)
            and bool(step.done)
            and all(event in OBSERVATIONS and OBSERVATIONS[event].by == "unit" for event in step.done)
        )

    def _one_rescuer(self) -> bool:
        """Whether one rescuer alone may be meant: with two, somebody pushes on while the pads go on."""
        fact = self.protocol.facts.get("rescuers")
        return fact is None or fact.from_ is None or float(fact.from_) < 2

    def own_answers(self, track: str, step_name: str) -> tuple[str, ...]:
        """What a learner can rightly do in a step, from its own arrows; what the file calls done comes first."""
        if (track, step_name) in self._answers:
            return self._answers[track, step_name]
        step = self.protocol.track[track].step[step_name]
        found: dict[str, None] = {}
        leading = [a for a in step.go if a.fault is None and a.to] + [a for a in step.go if a.fault is None and a.mark]
        for arrow in leading:
            found.update(dict.fromkeys(event for event in arrow.on if self.by_learner(event)))
        self._answers[track, step_name] = tuple(sorted(found, key=lambda event: event not in step.done))
        return self._answers[track, step_name]

    # --- the list ---------------------------------------------------------------------------------------------------

    def _items(self) -> Iterator[Item]:
        for track_name, track in self.protocol.track.items():
            for step_name, step in track.step.items():
                yield from self._step_items(track_name, step_name, step)
        yield from self._fact_items()
        for name, inject in self.protocol.inject.items():
            if not any(self.by_learner(event) for event in inject.allowed):
                continue
            answer = next(event for event in inject.allowed if self.by_learner(event))
            answer = AGAIN.get(answer, answer)  # what an inject asks for was done before
            faults = [one.fault for one in inject.forbidden] + ([inject.late] if inject.late is not None else [])
            yield Item(
                f"{self.protocol.id}:inject:{name}",
                "inject",
                "special",
                name,
                inject.title,
                any(fault.severity == "critical" for fault in faults),
                inject.within or LIMIT_MS,
                self._then(inject.title, answer),
                self.source(list(inject.source)),
            )
        if any("handover" in step.done for track in self.protocol.track.values() for step in track.step.values()):
            yield Item(
                f"{self.protocol.id}:handover", "handover", "crew", "handover",
                {"en": "What the crew hears", "es": "Lo que oye la ambulancia"}, False, 60_000,
                {"en": "Who, when, what was done, how many shocks, how they are now, what is needed.",
                 "es": "Quién, cuándo, qué se hizo, cuántas descargas, cómo está ahora, qué hace falta."},
                "Common practice of instructors, no source (common-practice)",
            )  # fmt: skip

    def _step_items(self, track: str, name: str, step: Step) -> Iterator[Item]:
        if self.breathless and ("breath" in step.done or self.own_answers(track, name)[:1] == ("breath",)):
            return  # nobody is asked for breaths in a protocol of pushes only
        learners = bool(self.called(track, name) or any(self.by_learner(event) for event in step.done)) and bool(
            self.own_answers(track, name)
        )
        held = track != self.main and self.holds(track, name) and self._one_rescuer()
        if not (learners or (track, name) in self.quiet or held):
            return
        entered = self.entered_by(track, name)
        if entered and all(event.startswith("inject:") or event in self.obliging for event in entered):
            return  # the inject's own item asks it
        if self._after_life(track, name):
            return  # the inject that made the breathing fade has asked
        base = Item(
            f"{self.protocol.id}:step:{track}.{name}",
            "step",
            self._family(track, name, step, entered),
            f"{track}.{name}",
            step.title,
            step.severity == "critical",
            step.within or LIMIT_MS,
            self._why(track, name, step, NO_SHOCK, False),
            self.source(list(step.source)),
        )
        yield base
        if NO_SHOCK in entered and len(entered) > 1:
            yield self._variant(
                base, NO_SHOCK, self._why(track, name, step, NO_SHOCK, True), "no shock", "sin descarga"
            )
        for arrow in step.go:
            if arrow.fault is not None:
                for fact in self.facts_in(arrow.when):
                    if self.protocol.facts[fact].kind == "flag":
                        title = self.protocol.facts[fact].title
                        yield self._variant(base, fact, base.why, title.get("en", fact), title.get("es", fact), fact)

    def _variant(self, base: Item, tail: str, why: Wording, en: str, es: str, fact: str = "") -> Item:
        title = {"en": f"{base.title.get('en', base.name)} ({en.lower()})"}
        if "es" in base.title:
            title["es"] = f"{base.title['es']} ({es.lower()})"
        return Item(
            f"{base.id}@{tail}", "step", base.family, f"{base.name}@{tail}", title, base.critical, base.limit_ms, why,
            base.source, frozenset({fact}) if fact else frozenset(),
        )  # fmt: skip

    def _why(self, track: str, name: str, step: Step, event: str, by: bool) -> Wording:
        """The cue of the step, else of an arrow that leads into it: by ``event``, or by anything else."""
        if not step.done and self.own_answers(track, name) and (track, name) not in self.quiet:
            return step.title or step.cue
        if step.cue and not by:
            return step.cue
        for one in self.arrows:
            if self._leads(one, track, name) and one.arrow.cue and (event in one.arrow.on) == by:
                return one.arrow.cue
        return step.cue or step.late_cue

    @staticmethod
    def _leads(one: Placed, track: str, name: str) -> bool:
        return one.track == track and one.arrow.to == name

    def _family(self, track: str, name: str, step: Step, entered: set[str]) -> str:
        done = set(step.done)
        if "handover" in done:
            return "crew"
        if "swapped" in done:
            return "change"
        if track != self.main:
            return "unit"
        if {"signs_of_life", "life_fades"} & entered:
            return "life"
        if name in self.protocol.track[track].spine:
            return "start"
        if {"clear_called", "shock_pressed"} & done or (track, name) in self.quiet:
            return "shock"
        return "after" if NO_SHOCK in entered or "shock_pressed" in entered else "pushing"

    def _then(self, title: Wording, answer: str) -> Wording:
        """What is so, and what is then done."""
        return {
            language: f"{one_line(words)}: {lower_first(label(answer, self.protocol, language))}."
            for language, words in title.items()
        }

    def _fact_items(self) -> Iterator[Item]:
        """Special circumstances: what a fact of the casualty asks for before something else may be done."""
        seen: set[str] = set()
        for one in self.arrows:
            arrow = one.arrow
            if arrow.fault is not None or one.track == self.main or not arrow.mark:
                continue
            facts = [fact for fact in self.facts_in(arrow.when) if self.protocol.facts[fact].kind in ("flag", "choice")]
            if not facts or facts[0] in seen or not all(self.by_learner(event) for event in arrow.on):
                continue
            seen.add(facts[0])
            fault = next(
                (
                    other.arrow.fault
                    for other in self.arrows
                    if other.arrow.fault is not None
                    and facts[0] in self.facts_in(other.arrow.when)
                    and other.track == one.track
                ),
                None,
            )
            title = self.protocol.facts[facts[0]].title
            yield Item(
                f"{self.protocol.id}:fact:{facts[0]}",
                "fact",
                "skin",
                facts[0],
                title,
                fault is not None and fault.severity == "critical",
                LIMIT_MS,
                self._then(title, arrow.on[0]),
                self.source(list(arrow.source)),
                frozenset({facts[0]}),
            )
