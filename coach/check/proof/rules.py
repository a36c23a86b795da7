"""The sentence forms that a rule of a protocol file may take: a closed list, each read with its place in the file.

::

    never = ATOM                                     it never happens
    never = ATOM, unless_since = {mark|on.., after}  it happens only after something that came since `after`
    after = ATOM, next_step = {track, step}          the next step that the track enters is one of those
    after = ATOM, expect = ATOM, within = "10 s"     it is followed in time
    while = ATOM, at_most = "10 s", assume = {..}    the guard never holds for longer
    always_possible = ATOM                           from every state it can still happen
    must_reach = ATOM, assume = {..}                 it happens in every run that goes on for ever
    possible = ATOM, each = ["unit"]                 it happens in some run, for each value of those facts
    count = {of, at_least, at_most}, between = {..}  that often between two moments

An atom is one of ``on`` (an event that some track takes; ``taken`` narrows it), ``step`` (entered), ``cue`` (said),
``mark`` (newly set), ``guard`` (begins to hold); ``when`` is a guard read just before. ``never`` may also name a
``fault`` (nobody is blamed who did right) or ask the pads rules. An event comes before what it does: a step may be
entered in the very moment of the ``on`` that ``unless_since`` asks for. ``scope = {after, until}`` says in which
stretch a rule is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from coach.protocol.guard_checks import GuardNames, check_guard, guard_names
from coach.protocol.model import Authored, Duration, Names, Protocol, Wording
from coach.protocol.names import BUILT_IN_FACTS, DASHED, arrow_ids, emitted, fault_ids, marks_set, plain_events
from coach.protocol.positions import Path, Positions, locate
from coach.protocol.problems import FileProblems
from coach.protocol.report import Report
from coach.protocol.shape import fit
from coach.text import nearest

Form = Literal[
    "never",
    "unless_since",
    "next_step",
    "within",
    "at_most",
    "always_possible",
    "must_reach",
    "possible",
    "count",
    "pads",
]
Taken = Literal["any", "as-taught", "fault"]


class Atom(Authored):
    """One thing that happens in a moment; exactly one of the five kinds, or ``fault`` or ``pads`` under ``never``.

    ``taken``: ``as-taught`` where no arrow that took the event is a fault, ``fault`` where one is. ``fault`` names
    faults, any of which is taken. ``pads`` is a size that the pads rules choose (``none``: they choose none), ``have``
    the least that is at hand; ``when`` reads age and weight as the pads file names them.
    """

    on: Names = []
    taken: Taken = "any"
    step: Names = []
    cue: Names = []
    mark: str = ""
    guard: str = ""
    fault: Names = []
    when: str = ""
    pads: Literal["", "adult", "paediatric", "none"] = ""
    have: Names = []


def _atoms(value: Any) -> Any:
    return [value] if isinstance(value, dict) else value


Atoms = Annotated[list[Atom], BeforeValidator(_atoms)]
"""One atom, or a list of which any does."""


class Since(Atom):
    """What must have come since the last ``after`` (since go, before the first)."""

    after: Atoms


class Scope(Authored):
    """The stretch in which a rule is looked at: from ``after`` (else from go) until ``until`` (else for ever)."""

    after: Atoms = []
    until: Atoms = []


class NextStep(Authored):
    """The steps of one track that may come next."""

    track: str
    step: Names


class Assume(Authored):
    """What a verdict rests on; such a rule gets a second verdict without it.

    ``follow_prompt_within``: within that time after a prompt the guard of ``while`` no longer holds. ``prompts`` names
    the arrows, steps, ``late:STEP`` or ``timer:NAME`` whose cues are prompts. ``made``: an observation that stays
    possible is made at some time.
    """

    follow_prompt_within: Duration | None = None
    prompts: Names = []
    made: Names = []


class Count(Authored):
    """How often ``of`` happens."""

    of: Atoms
    at_least: int = Field(default=0, ge=0, le=100)
    at_most: int | None = Field(default=None, ge=0, le=100)


class Between(Authored):
    """From one moment until the next of another kind; the count starts anew at each ``from``."""

    from_: Atoms = Field(alias="from")
    until: Atoms


class Rule(Authored):
    """One ``[[rule]]`` table. :attr:`form` says which sentence it is."""

    id: str
    say: Wording
    source: Names
    scope: Scope | None = None
    never: Atom | None = None
    unless_since: Since | None = None
    after: Atoms = []
    next_step: NextStep | None = None
    except_: Names = Field(default=[], alias="except")
    expect: Atoms = []
    within: Duration | None = None
    while_: Atom | None = Field(default=None, alias="while")
    at_most: Duration | None = None
    assume: Assume | None = None
    always_possible: Atom | None = None
    must_reach: Atom | None = None
    possible: Atom | None = None
    each: Names = []
    count: Count | None = None
    between: Between | None = None

    @property
    def form(self) -> Form:
        """The sentence form; only for a rule that was read without problems."""
        if self.never is not None:
            return "pads" if self.never.pads else "unless_since" if self.unless_since is not None else "never"
        if self.after and self.next_step is not None:
            return "next_step"
        if self.expect:
            return "within"
        for form in _BY_KEY:
            if getattr(self, form) is not None:
                return form
        return "at_most"

    def throws(self) -> tuple[str, ...]:
        """The injects that the rule speaks of: it says something only where they can be thrown."""
        events = [event for _, atom in self.atoms() for event in atom.on if event.startswith("inject:")]
        return tuple(dict.fromkeys(event.partition(":")[2] for event in events))

    def atoms(self) -> Iterator[tuple[Path, Atom]]:
        """Every atom of the rule with its path inside the rule's table."""
        single = {"never": self.never, "while": self.while_, "must_reach": self.must_reach}
        single |= {"always_possible": self.always_possible, "unless_since": self.unless_since}
        single |= {"possible": self.possible}
        for key, atom in single.items():
            if atom is not None:
                yield (key,), atom
        many: dict[Path, list[Atom]] = {("after",): self.after, ("expect",): self.expect}
        if self.unless_since is not None:
            many["unless_since", "after"] = self.unless_since.after
        if self.scope is not None:
            many |= {("scope", "after"): self.scope.after, ("scope", "until"): self.scope.until}
        if self.count is not None:
            many["count", "of"] = self.count.of
        if self.between is not None:
            many |= {("between", "from"): self.between.from_, ("between", "until"): self.between.until}
        for path, atoms in many.items():
            for index, atom in enumerate(atoms):
                yield (*path, index), atom


_BY_KEY: tuple[Form, ...] = ("always_possible", "must_reach", "possible", "count")
_ALWAYS = frozenset({"id", "say", "source"})
_SENTENCES: tuple[tuple[frozenset[str], frozenset[str]], ...] = (
    (frozenset({"never"}), frozenset({"unless_since", "scope"})),
    (frozenset({"after", "next_step"}), frozenset({"except", "scope"})),
    (frozenset({"after", "expect", "within"}), frozenset({"scope"})),
    (frozenset({"while", "at_most"}), frozenset({"assume"})),
    (frozenset({"always_possible"}), frozenset()),
    (frozenset({"must_reach"}), frozenset({"assume"})),
    (frozenset({"possible"}), frozenset({"each"})),
    (frozenset({"count", "between"}), frozenset()),
)
"""The keys that each sentence needs, and those that it may have."""


class _Rules(Authored):
    rule: list[Rule] = []


def read_rules(protocol: Protocol, text: str = "", name: str = "") -> tuple[Rule, ...]:
    """The rules of a protocol that was read from ``text``. Raises FileProblems with every misfit at its place.

    Without the text the places are those of an empty file: line 1, column 1.
    """
    report = Report(name or protocol.id, locate(text) if text else Positions(""))
    read = fit(_Rules, {"rule": protocol.rule}, report)
    if read is not None:
        _Checker(protocol, report).check(read.rule)
    if report.problems or read is None:
        raise FileProblems(tuple(report.problems))
    return tuple(read.rule)


class _Checker:
    def __init__(self, protocol: Protocol, report: Report) -> None:
        self.protocol = protocol
        self.report = report
        self.names: GuardNames = guard_names(protocol)
        self.steps = {step: track for track, table in protocol.track.items() for step in table.step}
        self.arrows = set(arrow_ids(protocol).values())
        self.events = plain_events(protocol) | emitted(protocol)
        self.marks = marks_set(protocol)
        self.faults = fault_ids(protocol)

    def check(self, rules: list[Rule]) -> None:
        seen: set[str] = set()
        for index, rule in enumerate(rules):
            path: Path = ("rule", index)
            if not DASHED.fullmatch(rule.id):
                self.report.at_value((*path, "id"), f"`{rule.id[:64]}` is not the form of a name")
            if rule.id in seen:
                self.report.at_value((*path, "id"), f"another rule has the id `{rule.id}`", todo="rule ids are unique")
            seen.add(rule.id)
            for number, source in enumerate(rule.source):
                if source not in self.protocol.sources:
                    self.report.unknown((*path, "source", number), "source", source, self.protocol.sources, ["sources"])
            self._sentence(path, rule)
            for inner, atom in rule.atoms():
                self._atom((*path, *inner), atom)
            self._rest(path, rule)

    def _sentence(self, path: Path, rule: Rule) -> None:
        given = {Rule.model_fields[key].alias or key for key in rule.model_fields_set} - _ALWAYS
        if any(needs <= given and given <= needs | may for needs, may in _SENTENCES):
            return
        needs, may = max(_SENTENCES, key=lambda one: (len(one[0] & given), len((one[0] | one[1]) & given)))
        for key in sorted(given - needs - may):
            self.report.at_key((*path, key), f"`{key}` does not go with {' and '.join(sorted(needs))}")
        missing = sorted(needs - given)
        if missing:
            forms = "; ".join(" + ".join(sorted(one)) for one, _ in _SENTENCES)
            what = f"the rule `{rule.id}` is no sentence: {', '.join(missing)} is missing"
            self.report.lacks(path, missing, what, f"the sentences are: {forms}")

    def _atom(self, path: Path, atom: Atom) -> None:
        kinds = {"on": atom.on, "step": atom.step, "cue": atom.cue, "mark": atom.mark, "guard": atom.guard}
        kinds |= {"fault": atom.fault, "pads": atom.pads}
        given = [kind for kind, value in kinds.items() if value]
        if len(given) != 1:
            what = (
                "one of on, step, cue, mark, guard is needed here" if not given else f"{' and '.join(given)}: only one"
            )
            self.report.at_value(path, what, todo="an atom is one thing that happens")
            return
        if atom.pads:
            self._pads(path, atom)
            return
        if atom.have:
            self.report.at_key((*path, "have"), "`have` goes with pads")
        if atom.taken != "any" and not atom.on:
            self.report.at_key((*path, "taken"), "`taken` goes with on")
        if atom.taken == "fault" and path[-1] == "never":
            what, todo = "this can never be broken: a fault excuses itself", 'name it: never = { fault = "ID" }'
            self.report.at_key((*path, "taken"), what, todo=todo)
        if atom.fault and path[-1] != "never":
            self.report.at_key((*path, "fault"), "`fault` goes with never only")
        for index, fault in enumerate(atom.fault):
            if fault not in self.faults:
                self.report.unknown((*path, "fault", index), "fault", fault, self.faults, [])
        self._events((*path, "on"), atom.on)
        for index, step in enumerate(atom.step):
            if step not in self.steps:
                self.report.unknown((*path, "step", index), "step", step, self.steps, [])
        self._cues((*path, "cue"), atom.cue)
        if atom.mark and atom.mark not in self.marks:
            self.report.unknown((*path, "mark"), "mark", atom.mark, self.marks, ["mark", "within"])
        for key, text in (("guard", atom.guard), ("when", atom.when)):
            if text:
                check_guard((*path, key), text, self.names, self.report)

    def _pads(self, path: Path, atom: Atom) -> None:
        if path[-1] != "never":
            self.report.at_key((*path, "pads"), "`pads` goes with never only")
        for index, size in enumerate(atom.have):
            if size not in ("adult", "paediatric"):
                self.report.at_value((*path, "have", index), f"`{size}` is no size of pads", todo="adult or paediatric")
        if not self.protocol.pads:
            self.report.at_key((*path, "pads"), "the protocol names no pads file", todo='add pads = "<guidance>/pads"')

    def _events(self, path: Path, names: list[str]) -> None:
        for index, event in enumerate(names):
            kind, colon, rest = event.partition(":")
            legal: dict[str, list[str]] = {"timer": list(self.protocol.timers)}
            legal["inject"] = legal["closed"] = list(self.protocol.inject)
            if not colon and event not in self.events:
                self.report.unknown((*path, index), "observation", event, self.events, ["observations", "emit"])
            elif colon and rest not in legal.get(kind, []):
                self.report.unknown((*path, index), "event", event, legal.get(kind, []), ["timers", "inject"])

    def _cues(self, path: Path, names: list[str]) -> None:
        for index, name in enumerate(names):
            kind, colon, rest = name.partition(":")
            known = (
                rest in self.steps
                if colon and kind == "late"
                else rest in self.protocol.timers
                if colon and kind == "timer"
                else name in self.steps or name in self.arrows
            )
            if not known:
                legal = [*self.steps, *self.arrows]
                what = f"nothing says a cue by the name `{name}`"
                self.report.at_value((*path, index), what, nearest(name, legal), "name a step, an arrow or timer:NAME")

    def _rest(self, path: Path, rule: Rule) -> None:
        if rule.next_step is not None:
            track = self.protocol.track.get(rule.next_step.track)
            if track is None:
                place: Path = (*path, "next_step", "track")
                self.report.unknown(place, "track", rule.next_step.track, self.protocol.track, ["track"])
            else:
                for key, names in ((("next_step", "step"), rule.next_step.step), (("except",), rule.except_)):
                    for index, step in enumerate(names):
                        if step not in track.step:
                            self.report.unknown((*path, *key, index), "step", step, track.step, [])
        facts = {**self.protocol.facts, **BUILT_IN_FACTS}
        for index, name in enumerate(rule.each):
            if name not in facts:
                self.report.unknown((*path, "each", index), "fact", name, facts, ["facts"])
            elif facts[name].kind not in ("flag", "choice"):
                self.report.at_value((*path, "each", index), "each needs flags or choices", todo="leave it out")
        if rule.while_ is not None and not rule.while_.guard and rule.while_.model_fields_set:
            self.report.at_value((*path, "while"), "while needs a guard: what holds, not what happens")
        if rule.assume is not None:
            self._cues((*path, "assume", "prompts"), rule.assume.prompts)
            self._events((*path, "assume", "made"), rule.assume.made)
            wanted = "made" if rule.must_reach is not None else "follow_prompt_within"
            if wanted not in rule.assume.model_fields_set:
                self.report.lacks((*path, "assume"), [wanted], f"the assumption needs {wanted} here")
        if rule.count is not None and rule.count.at_most is not None and rule.count.at_least > rule.count.at_most:
            self.report.at_value((*path, "count", "at_most"), "less than at_least")
