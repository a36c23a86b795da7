"""What must hold across a file: every name leads somewhere, every value fits what it is given to.

Each check reports to a :class:`Report` and goes on. The files' shapes have been checked before.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TypeAlias

from coach.observations import CONTROLS, OBSERVATIONS
from coach.protocol.facts_check import check_facts, check_value
from coach.protocol.flow_checks import check_flow
from coach.protocol.guard_checks import GuardNames, check_guard, check_terms, guard_names
from coach.protocol.model import Arrow, Fault, Inject, Pads, Protocol, Scenario, Step
from coach.protocol.names import (
    BUILT_IN_FACTS,
    DASHED,
    HANDS_TRACK,
    NAME,
    PREFIXED_EVENTS,
    PROTOCOL_ID,
    arrows,
    guidance_folder,
    marks_set,
    plain_events,
)
from coach.protocol.positions import Path
from coach.protocol.report import Report
from coach.text import nearest
from coach.units import parse_quantity

STORY_WORDS = 60
"""The most words of a scenario's story: it is read out while people kneel and wait."""

Named: TypeAlias = Iterable[str]


def check_protocol(protocol: Protocol, report: Report) -> None:
    """Report everything that does not fit together in a protocol."""
    _Protocol(protocol, report).check()


class _Protocol:
    def __init__(self, protocol: Protocol, report: Report) -> None:
        self.protocol = protocol
        self.report = report
        self.marks = marks_set(protocol)
        self.events = plain_events(protocol)
        self.names: GuardNames = guard_names(protocol)
        self.waited: set[str] = set()
        self.lost: set[str] = set()
        self.emits: list[tuple[Path, list[str]]] = []

    def check(self) -> None:
        protocol, report = self.protocol, self.report
        _check_id(protocol.id, protocol.guidance, report, local=bool(protocol.made_from))
        if protocol.relax and not protocol.made_from:
            todo = "a rule of this file's own is simply left out or written otherwise"
            report.at_key(("relax",), "only a rule of a base can be relaxed", todo=todo)
        self._declared_names()
        check_facts(protocol.facts, protocol.counters, report)
        for name, fact in protocol.facts.items():
            self._sources(("facts", name), fact.source)
        check_terms(protocol.terms, self.names, report)
        for name, timer in protocol.timers.items():
            if timer.after is None and timer.every is None:
                report.lacks(
                    ("timers", name), ("after", "every"), f"the timer `{name}` never fires", "give it after or every"
                )
            self._sources(("timers", name), timer.source)
        self._targets()
        self._own_observations()
        for track_name, track in protocol.track.items():
            self._track(track_name)
            for step_name, step in track.step.items():
                self._step(("track", track_name, "step", step_name), step)
        self._arrows()
        for name, inject in protocol.inject.items():
            self._inject(("inject", name), inject)
        self._digits()
        self._missed_emits()
        check_flow(protocol, report)

    # --- names --------------------------------------------------------------------------------------------------------

    def _declared_names(self) -> None:
        """The form of every declared name, and that guards can tell what a bare one means."""
        protocol, report = self.protocol, self.report
        plain: dict[str, Named] = {
            "facts": protocol.facts,
            "counters": protocol.counters,
            "terms": protocol.terms,
            "timers": protocol.timers,
            "observations": protocol.observations,
            "track": protocol.track,
        }
        for table, names in plain.items():
            for name in names:
                check_form((table, name), name, report)
        dashed: dict[str, Named] = {
            "sources": protocol.sources,
            "targets": protocol.targets,
            "inject": protocol.inject,
        }
        for table, names in dashed.items():
            for name in names:
                check_form((table, name), name, report, dashed=True)
        meaning = dict.fromkeys(BUILT_IN_FACTS, "a built-in fact")
        for table, kind in (("facts", "a fact"), ("counters", "a counter"), ("terms", "a term")):
            for name in plain[table]:
                if name in meaning:
                    report.at_key(
                        (table, name), f"`{name}` is already {meaning[name]}", todo="give it a name of its own"
                    )
                meaning.setdefault(name, kind)
        for name in self.marks & meaning.keys():
            for path in self._places_of_mark(name):
                report.at_value(path, f"the mark `{name}` is already {meaning[name]}", todo="give it a name of its own")
        if HANDS_TRACK in protocol.track:
            report.at_key(("track", HANDS_TRACK), f"the track `{HANDS_TRACK}` is built in", todo="give it another name")
        seen: dict[str, str] = {}
        for track_name, track in protocol.track.items():
            for step_name in track.step:
                path = ("track", track_name, "step", step_name)
                check_form(path, step_name, report)
                if step_name in seen:
                    what = f"a step `{step_name}` stands in the track `{seen[step_name]}` too"
                    report.at_key(path, what, todo="step names are unique in a file")
                seen.setdefault(step_name, track_name)

    def _places_of_mark(self, name: str) -> list[Path]:
        places: list[Path] = []
        for placed in arrows(self.protocol):
            places.extend((*placed.path, "mark", i) for i, mark in enumerate(placed.arrow.mark) if mark == name)
        for track_name, track in self.protocol.track.items():
            for step_name, step in track.step.items():
                path: Path = ("track", track_name, "step", step_name, "mark")
                places.extend((*path, i) for i, mark in enumerate(step.mark) if mark == name)
        return places

    def _sources(self, path: Path, names: list[str]) -> None:
        for index, name in enumerate(names):
            if name not in self.protocol.sources:
                self.report.unknown((*path, "source", index), "source", name, self.protocol.sources, ["sources"])

    def _events(self, path: Path, key: str, names: list[str]) -> None:
        """Events that something waits for."""
        for index, name in enumerate(names):
            place: Path = (*path, key, index)
            kind, colon, rest = name.partition(":")
            if not colon:
                declared = ["observations", "emit"]
                self.waited.add(name)
                if name not in self.events:
                    self.lost.add(name)
                    self.report.unknown(place, "observation", name, self.events, declared)
            elif kind == "timer":
                self._timers(place, [rest], whole=True)
            elif kind in ("inject", "closed"):
                if rest not in self.protocol.inject:
                    self.report.unknown(place, "inject", rest, self.protocol.inject, ["inject"])
            else:
                what = f"`{kind}:` is no kind of event"
                self.report.at_value(place, what, nearest(kind, PREFIXED_EVENTS), "kinds are timer:, inject:, closed:")

    def _timers(self, path: Path, names: list[str], whole: bool = False) -> None:
        for index, name in enumerate(names):
            if name not in self.protocol.timers:
                place = path if whole else (*path, index)
                self.report.unknown(place, "timer", name, self.protocol.timers, ["timers"])

    def _effects(self, path: Path, part: Arrow | Step) -> None:
        """What an arrow and a step have in common: marks, timers, emitted events, sources."""
        for key in ("start", "stop", "restart"):
            self._timers((*path, key), getattr(part, key))
        for index, mark in enumerate(part.mark):
            if not NAME.fullmatch(mark):
                self.report.at_value((*path, "mark", index), _form_of(mark), todo=_FORM)
        for index, mark in enumerate(part.unmark):
            if mark not in self.marks:
                self.report.unknown((*path, "unmark", index), "mark", mark, self.marks, ["mark", "within"])
        self._emits(path, part.emit)
        self._sources(path, part.source)

    def _emits(self, path: Path, names: list[str]) -> None:
        self.emits.append((path, names))
        for index, name in enumerate(names):
            if name in ("hands_on", "hands_off"):
                what = f"`{name}` comes of pushes alone"
                self.report.at_value((*path, "emit", index), what, todo="emit an event of your own")
            elif not NAME.fullmatch(name):
                self.report.at_value((*path, "emit", index), _form_of(name), todo=_FORM)

    def _guard(self, path: Path, text: str) -> None:
        if text:
            check_guard(path, text, self.names, self.report)

    def _fault(self, path: Path, fault: Fault) -> None:
        if not DASHED.fullmatch(fault.id):
            self.report.at_value((*path, "id"), _form_of(fault.id), todo=_FORM)
        self._sources(path, fault.source)

    def _missed_emits(self) -> None:
        """Events that are emitted and nobody waits for, where something waits for nearly that: said at the emit too."""
        if not self.lost or "emit" in self.report.doubtful:
            return
        for path, names in self.emits:
            for index, name in enumerate(names):
                near = nearest(name, self.lost)
                if name not in self.waited and name not in OBSERVATIONS and near:
                    self.report.at_value((*path, "emit", index), f"unknown event `{name}`: nothing waits for it", near)

    # --- parts --------------------------------------------------------------------------------------------------------

    def _targets(self) -> None:
        for name, target in self.protocol.targets.items():
            path: Path = ("targets", name)
            self._sources(path, target.source)
            bounds = {"from": target.from_, "to": target.to, "value": target.value}
            if all(bound is None for bound in bounds.values()):
                self.report.lacks(path, bounds, f"the target `{name}` has no bound", "give it from, to or value")
            for key, bound in bounds.items():
                if not isinstance(bound, str):
                    continue
                try:
                    _, unit = parse_quantity(bound)
                except ValueError as error:
                    self.report.at_value((*path, key), str(error))
                else:
                    if not unit and not target.unit:
                        todo = f'write "{bound} s", or give the target a unit'
                        self.report.at_value((*path, key), "the unit is missing", todo=todo)

    def _own_observations(self) -> None:
        keys: dict[str, str] = dict(self.protocol.keys)
        legal = {*OBSERVATIONS, *CONTROLS, *self.protocol.observations}
        for key, meant in self.protocol.keys.items():
            if meant not in legal:
                self.report.unknown(("keys", key), "observation or control", meant, legal, ["observations"])
        for name, own in self.protocol.observations.items():
            path: Path = ("observations", name)
            if name in OBSERVATIONS or name in CONTROLS:
                self.report.at_key(path, f"`{name}` is in the shared vocabulary already", todo="give it another name")
            if own.key is not None and keys.setdefault(own.key, name) != name:
                what = f"the key `{own.key}` means `{keys[own.key]}` already"
                self.report.at_value((*path, "key"), what, todo="choose a key that is free")

    def _track(self, track_name: str) -> None:
        track, path = self.protocol.track[track_name], ("track", track_name)
        if track.start not in track.step:
            self.report.unknown((*path, "start"), "step", track.start, track.step, [])
        for index, name in enumerate(track.spine):
            place: Path = (*path, "spine", index)
            if name not in track.step:
                self.report.unknown(place, "step", name, track.step, [])
            elif name in track.spine[:index]:
                self.report.at_value(place, f"`{name}` stands in the spine twice", todo="name each step once")
            elif index > 0 and not track.step[name].done:  # nothing jumps to the first one
                what = f"the spine's step `{name}` has no done"
                self.report.lacks((*path, "step", name), ("done",), what, "say what observation does it: done = …")
        for index, pair in enumerate(track.either_order):
            if len(pair) != 2:
                self.report.at_value((*path, "either_order", index), "two steps are needed here")
            for place_in_pair, name in enumerate(pair):
                if name not in track.step:
                    self.report.unknown((*path, "either_order", index, place_in_pair), "step", name, track.step, [])

    def _step(self, path: Path, step: Step) -> None:
        self._guard((*path, "when"), step.when)
        self._events(path, "done", step.done)
        self._timers((*path, "keep"), step.keep)
        self._effects(path, step)

    def _arrows(self) -> None:
        ids: set[str] = set()
        for placed in arrows(self.protocol):
            arrow, path = placed.arrow, placed.path
            steps = self.protocol.track[placed.track].step
            if arrow.id and not NAME.fullmatch(arrow.id.replace("-", "_")):
                self.report.at_value((*path, "id"), _form_of(arrow.id), todo=_FORM)
            if arrow.id and arrow.id in ids:
                what = f"another arrow has the id `{arrow.id}`"
                self.report.at_value((*path, "id"), what, todo="arrow ids are unique in a file")
            ids.add(arrow.id)
            if not arrow.on:
                self.report.at_value((*path, "on"), "an arrow that waits for nothing", todo="say what it is taken on")
            self._events(path, "on", arrow.on)
            self._guard((*path, "when"), arrow.when)
            if arrow.to and arrow.to not in steps:
                self.report.unknown((*path, "to"), "step", arrow.to, steps, [])
            for key, changes in (("set", arrow.set), ("add", arrow.add)):
                for counter, value in changes.items():
                    self._count((*path, key, counter), counter, value)
            self._effects(path, arrow)
            if arrow.fault:
                self._fault((*path, "fault"), arrow.fault)

    def _count(self, path: Path, name: str, value: int) -> None:
        counters = self.protocol.counters
        if name not in counters:
            if "counters" not in self.report.doubtful:
                self.report.at_key(path, f"unknown counter `{name}`", nearest(name, counters))
        elif value < 0:
            self.report.at_value(path, "a counter never falls", todo="write 0 or more")
        elif value > counters[name].max:
            what = f"{value} is beyond the counter's max of {counters[name].max}"
            self.report.at_value(path, what, todo="raise max, or write less")

    def _inject(self, path: Path, inject: Inject) -> None:
        self._guard((*path, "when"), inject.when)
        self._events(path, "allowed", inject.allowed)
        self._emits(path, inject.emit)
        self._sources(path, inject.source)
        for index, forbidden in enumerate(inject.forbidden):
            self._events((*path, "forbidden", index), "on", forbidden.on)
            self._fault((*path, "forbidden", index, "fault"), forbidden.fault)
        if inject.late:
            self._fault((*path, "late"), inject.late)
            if inject.within is None:
                self.report.lacks(path, ("within",), "late without within never happens", "add within = …")

    def _digits(self) -> None:
        digits: dict[int, str] = {}
        for name, inject in self.protocol.inject.items():
            if inject.digit is not None and digits.setdefault(inject.digit, name) != name:
                what = f"the digit {inject.digit} throws `{digits[inject.digit]}` already"
                self.report.at_value(("inject", name, "digit"), what, todo="choose a digit that is free")


_FORM = "small letters, digits and _, starting with a letter"


def _form_of(name: str) -> str:
    return f"`{name[:64]}` is not the form of a name"


def check_form(path: Path, name: str, report: Report, dashed: bool = False) -> None:
    """Report a declared name that is not of the legal form."""
    if not (DASHED if dashed else NAME).fullmatch(name):
        suggestion = re.sub(r"[^a-z0-9_]+", "_", name.casefold()[:64]).strip("_")
        report.at_key(path, _form_of(name), suggestion or None, _FORM)
        report.doubtful.update(part for part in path[-2:-1] if isinstance(part, str))


def _check_id(ident: str, guidance: str, report: Report, local: bool = False) -> None:
    """The id's form, and that its folder is the guidance's; a local file has a folder of its own."""
    if not PROTOCOL_ID.fullmatch(ident):
        todo = f"write {guidance_folder(guidance)}/name, small letters, digits and -"
        report.at_value(("id",), f"`{ident[:64]}` is not <guidance folder>/<name>", todo=todo)
    elif not local and ident.partition("/")[0] != guidance_folder(guidance) and ("guidance",) not in report.mended:
        what = f"the folder `{ident.partition('/')[0]}` is not that of the guidance {guidance}"
        report.at_value(("id",), what, f"{guidance_folder(guidance)}/{ident.partition('/')[2]}")


def check_pads(pads: Pads, report: Report) -> None:
    """Report everything that does not fit together in a pads file."""
    for name in pads.facts:
        check_form(("facts", name), name, report)
    check_facts(pads.facts, {}, report, defaults=False)
    names = GuardNames({**pads.facts}, {}, frozenset(), pads.terms, frozenset(), {})
    check_terms(pads.terms, names, report)
    seen: set[str] = set()
    for index, rule in enumerate(pads.rule):
        path: Path = ("rule", index)
        check_form((*path, "id"), rule.id, report, dashed=True)
        if rule.id in seen:
            report.at_value((*path, "id"), f"another rule has the id `{rule.id}`", todo="rule ids are unique")
        seen.add(rule.id)
        if rule.when:
            check_guard((*path, "when"), rule.when, names, report)
        for number, source in enumerate(rule.source):
            if source not in pads.sources:
                report.unknown((*path, "source", number), "source", source, pads.sources, ["sources"])
    if not pads.rule or pads.rule[-1].when:
        todo = "end with a rule without when: a decision is never withheld"
        report.at_key(("rule", len(pads.rule) - 1), "the last rule does not always hold", todo=todo)


def check_scenario(scenario: Scenario, report: Report, protocol: Protocol | None = None) -> None:
    """Report everything wrong in a scenario; with a protocol, also what does not fit that protocol."""
    for language, story in scenario.story.items():
        count = len(story.split())
        if count > STORY_WORDS:
            report.at_value(
                ("story", language), f"the story has {count} words", todo=f"{STORY_WORDS} at most: it is read out"
            )
    if not PROTOCOL_ID.fullmatch(scenario.id):  # <place>/<name>, or a bare name
        check_form(("id",), scenario.id, report, dashed=True)
    digits: dict[int, str] = {}
    events = plain_events(protocol) if protocol else set(OBSERVATIONS) | {"hands_on", "hands_off"}
    for index, throw in enumerate(scenario.throw):
        path: Path = ("throw", index)
        if digits.setdefault(throw.digit, throw.name) != throw.name:
            what = f"the digit {throw.digit} throws `{digits[throw.digit]}` already"
            report.at_value((*path, "digit"), what, todo="choose a digit that is free")
        if throw.at is not None and throw.after is not None:
            report.at_key((*path, "after"), "at and after exclude each other", todo="keep one of them")
        if throw.at is not None and not isinstance(throw.at, int) and throw.at.from_ > throw.at.to:
            report.at_value((*path, "at", "to"), "the span ends before it begins", todo="write the smaller time first")
        if throw.after and throw.after.on not in events:
            near = nearest(throw.after.on, events)
            if protocol or near:  # without the protocol, a word far from all others may be an observation of its own
                report.at_value((*path, "after", "on"), f"unknown observation `{throw.after.on}`", near)
        if protocol and throw.name not in protocol.inject:
            report.unknown((*path, "name"), "inject", throw.name, protocol.inject, [])
    if protocol:
        for name, value in scenario.facts.items():
            if name in protocol.facts:
                check_value(("facts", name), protocol.facts[name], value, report)
