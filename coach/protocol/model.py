"""What stands in a protocol file, a scenario file and a pads file: the authored form, checked by pydantic.

These models hold the file as its author wrote it; nothing here runs a drill. ``reading`` makes them from TOML with the
line and column of every mistake, ``writing`` turns them back, and the engine's ``build`` turns a protocol and a
scenario into a machine. Durations are kept as integer milliseconds, wording as a table of languages.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from coach.text import clean
from coach.units import duration_text, parse_duration

Severity = Literal["critical", "major", "minor"]
Grade = Literal["read", "second-hand", "memory", "arithmetic", "local", "common-practice"]
Status = Literal["draft", "checked", "approved", "in-force", "superseded", "withdrawn"]
Audience = Literal["lay", "responder", "professional"]

Line = Annotated[str, AfterValidator(clean)]
"""Text that is not ours, with control and bidirectional characters taken out."""


def _wording(value: Any) -> Any:
    return {"en": value} if isinstance(value, str) else value


def _language(value: str) -> str:
    if not re.fullmatch(r"[a-z]{2,3}(-[A-Z]{2})?", value):
        raise ValueError("a language is a code such as en, es or pt-BR")
    return value


Language = Annotated[str, AfterValidator(_language)]
"""A language's code."""

Wording = Annotated[dict[Language, Line], BeforeValidator(_wording)]
"""A text in one or more languages, ``{"en": "…", "es": "…"}``; a plain string is English."""

Duration = Annotated[int, BeforeValidator(parse_duration), PlainSerializer(duration_text, return_type=str)]
"""Milliseconds, written with a unit: ``"500 ms"``, ``"10 s"``, ``"2 min"``; dumped as it is written."""


def _day(value: Any) -> Any:
    if isinstance(value, datetime):
        raise ValueError("a date without a time is needed here")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str) and value:
        whole = f"{value}-01" if re.fullmatch(r"\d{4}-\d{2}", value, re.ASCII) else value
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", whole, re.ASCII):
            raise ValueError("a date is written 2026-01-31")
        try:
            date.fromisoformat(whole)
        except ValueError:
            raise ValueError(f"there is no such day as {value}") from None
    return value


Day = Annotated[str, BeforeValidator(_day)]
"""A date (``2026-01-31``, quoted or not), a month (``"2026-01"``), or "" for none."""


def _reason(value: str) -> str:
    if not value.strip():
        raise ValueError("a reason is needed, in words")
    return value


Reason = Annotated[Line, AfterValidator(_reason)]
"""Why something was done; never empty."""


def _list(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


Names = Annotated[list[str], BeforeValidator(_list)]
"""One name, or a list of names."""


class Authored(BaseModel):
    """A table of a file: unknown keys are errors, values never change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


class Act(Authored):
    """One thing that was done to an approval: into which ``status`` it came, ``by`` which role, ``on`` which day, for
    which ``version`` and why. ``digest`` is of what was signed, ``content`` of the protocol's content alone."""

    status: Status
    by: Line = ""
    on: Day = ""
    version: Line = ""
    effective: Day = ""
    review_due: Day = ""
    reason: Line = ""
    digest: str = ""
    content: str = ""


class Approval(Authored):
    """Who approved exactly what, and for how long. Everything shipped is a draft.

    ``author`` wrote it, ``approver`` signed it as the role named; ``digest`` is of exactly what was signed;
    ``effective`` is from when it holds, ``review_due`` until when. ``history`` is what was done to it, oldest first.
    `kneeside approve` writes all but the author.
    """

    status: Status = "draft"
    author: Line = ""
    approver: Line = ""
    approved_on: Day = ""
    digest: str = ""
    effective: Day = ""
    review_due: Day = ""
    reason: Line = ""
    history: list[Act] = []


class Source(Authored):
    """A published source, or the note that there is none; ``grade`` says how it was seen: the text itself was ``read``,
    somebody else's account of it (``second-hand``), from ``memory``, worked out (``arithmetic``), decided here
    (``local``), or what is done with no source (``common-practice``). ``checked`` is when it was looked at last."""

    title: Line
    grade: Grade
    checked: Day = ""
    note: Line = ""


class Fact(Authored):
    """A fact that the scenario sets. ``number`` needs ``from``/``to``; ``choice`` and ``script`` need ``of``.

    A ``script`` is a list, one entry for each value of ``counter`` (first entry while the counter is 1; the last entry
    repeats); a guard reads the present entry as ``this_NAME``. ``default`` serves drills without a scenario. Only a
    fact that ``may_be_unknown`` can be left open.
    """

    kind: Literal["number", "choice", "flag", "script"]
    unit: Literal["", "kg", "year", "month", "person"] = ""
    from_: float | str | None = Field(default=None, alias="from")
    to: float | str | None = None
    of: list[str] = []
    length: int = 4
    counter: str = ""
    default: bool | float | str | list[str] | None = None
    may_be_unknown: bool = False
    title: Wording = {}
    source: Names = []


class Counter(Authored):
    """A counter: it starts at 0, is set or added to by arrows, and is never counted beyond ``max``."""

    max: int = Field(ge=1, le=100_000)


class Timer(Authored):
    """``after`` once; ``every`` repeating; both: first at ``after``, then ``every``. ``most`` bounds the firings.

    ``since = "last_push"`` makes a start reckon from the last compression instead of from now.
    """

    after: Duration | None = None
    every: Duration | None = None
    most: int | None = Field(default=None, ge=1, le=10_000)
    since: Literal["now", "last_push"] = "now"
    source: Names = []


class Target(Authored):
    """A bound that the debrief measures against, with its source. Quantities carry a unit or use ``unit``.

    ``value`` is what to aim at; only ``from`` and ``to`` are judged; ``severity`` is what being past one of
    them is.
    """

    from_: float | str | None = Field(default=None, alias="from")
    to: float | str | None = None
    value: float | str | None = None
    unit: Literal["", "/min", "%", "cm", "s"] = ""
    severity: Severity = "minor"
    source: Names
    note: Wording = {}


class Fault(Authored):
    """On an arrow: the learner did it, the world goes on, a finding is made. ``again`` is what to do instead, for when
    it is the one thing to repeat. ``roles`` name whose it is where several rescuers are there; without one it is the
    step's, and then the team's."""

    id: str
    severity: Severity
    say: Wording
    again: Wording = {}
    roles: Names = []
    source: Names = []


class Arrow(Authored):
    """One way on: when ``on`` is observed and the guard ``when`` holds, go ``to`` a step (or stay where there is none).

    ``on`` names an observation, a derived event (``hands_on``, ``hands_off``), ``timer:NAME``, ``inject:NAME``,
    ``closed:NAME`` or an emitted event of the protocol's own. The first arrow that fits is taken: the step's own before
    the track's. ``mark`` sets marks that guards read and ``unmark`` takes them away; ``set`` and ``add`` write
    counters; ``start``, ``stop`` and ``restart`` act on timers; ``emit`` tells the other tracks; ``cue`` is shown and
    ``voice`` spoken by a unit that the laptop plays; with a ``fault`` the debrief finds it. An ``id`` is how a local
    file names the arrow.
    """

    id: str = ""
    on: Names
    when: str = ""
    to: str = ""
    mark: Names = []
    unmark: Names = []
    set: dict[str, int] = {}
    add: dict[str, int] = {}
    start: Names = []
    stop: Names = []
    restart: Names = []
    emit: Names = []
    cue: Wording = {}
    voice: Wording = {}
    fault: Fault | None = None
    source: Names = []


class Step(Authored):
    """One step of a track.

    ``done`` is the step's own observation (in a spine it is what enters the next step from anywhere earlier);
    ``title`` is what the screen shows as "now"; ``cue`` is said on entering; ``voice`` is spoken by a unit that the
    laptop plays; ``look`` is where to look; ``within`` bounds the stay (it only makes the step late); ``armed`` lets
    Enter mean a shock; ``when`` says for whom the step applies; ``keep`` names timers that outlive the step; ``roles``
    are those who may hold it where several rescuers are there.
    """

    title: Wording = {}
    cue: Wording = {}
    late_cue: Wording = {}
    voice: Wording = {}
    look: Wording = {}
    done: Names = []
    severity: Severity = "major"
    required: bool = True
    when: str = ""
    roles: Names = []
    within: Duration | None = None
    armed: bool = False
    mark: Names = []
    unmark: Names = []
    start: Names = []
    stop: Names = []
    restart: Names = []
    keep: Names = []
    emit: Names = []
    source: Names = []
    go: list[Arrow] = []


class Track(Authored):
    """One of several sequences that run side by side. ``go`` is tried after the step's own arrows, from any step.

    ``start`` is the step it begins in. ``spine`` names steps in their order: what does one of them (``done``) leads
    there from anywhere earlier, so that a key that was forgotten stops nothing. ``either_order`` names neighbours of
    the spine that may come in any order.
    """

    title: Wording = {}
    start: str
    spine: list[str] = []
    either_order: list[list[str]] = []
    go: list[Arrow] = []
    step: dict[str, Step]

    @property
    def in_order(self) -> list[str]:
        """The steps in the order of the file, but each of the spine before what follows it there: what a local file
        adds stands last in the file, and its place on the way is the spine's to say."""
        order = list(self.step)
        for earlier, later in reversed(list(pairwise(self.spine))):
            if order.index(earlier) > order.index(later):
                order.remove(earlier)
                order.insert(order.index(later), earlier)
        return order


class Forbidden(Authored):
    """An answer to an inject that makes a finding."""

    on: Names
    fault: Fault


class Inject(Authored):
    """An event that the instructor throws in, with the obligation that it opens.

    ``emit`` is observed at once when it is thrown (``["unit_arrived"]``); ``allowed`` answers close it; ``forbidden``
    ones are faults; after ``within`` it is late. Without ``allowed`` and ``forbidden`` there is no obligation.
    ``cause`` is what a gap inside it is called; ``play`` tells the instructor what to act; ``owner`` says whose the
    time is that it takes while it stands open, up to ``within``: loose pads or an empty battery are the kit's. It can
    be thrown ``when`` a guard holds, so many ``times`` in a drill, by its ``digit`` where the scenario gives it no
    other.
    """

    title: Wording
    play: Wording = {}
    cause: Line = ""
    emit: Names = []
    allowed: Names = []
    forbidden: list[Forbidden] = []
    within: Duration | None = None
    owner: Literal["learner", "team", "kit"] = "learner"
    late: Fault | None = None
    times: int = Field(default=1, ge=1, le=20)
    digit: int | None = Field(default=None, ge=1, le=6)
    when: str = ""
    source: Names = []


class OwnObservation(Authored):
    """An observation of the protocol's own, beside the shared vocabulary. ``label`` is what the screen calls it,
    ``verb`` the same as an order; ``key`` gives it a key; ``timed`` where the moment itself is measured."""

    label: Wording
    verb: Wording = {}
    key: str | None = None
    by: Literal["learner", "unit", "helper", "instructor"] = "learner"
    timed: bool = False


class Waive(Authored):
    """A finding of the checker that the author accepts, by its ``code`` and the place (``where``) that it names, with
    the reason."""

    code: str
    where: Line = ""
    reason: Line


class Relax(Authored):
    """A rule of the base that a local file relaxes, with the reason: dropped, or with the members in ``to`` instead.

    ``was`` is the base's rule as it stood; it is kept in the flattened file and never written by hand.
    """

    reason: Reason
    to: dict[str, Any] = {}
    was: dict[str, Any] = {}


class Pin(Authored):
    """Exactly which base, or which part, a local file takes: its id, its version and its canonical digest."""

    id: str
    version: Line
    digest: str = ""


class Protocol(Authored):
    """A whole protocol file: what is watched (``facts``, ``counters``, ``timers``, ``observations``), how the drill
    goes (``track``, ``inject``, ``terms`` as names for guards), what must hold (``rule``), what the debrief looks at
    (``targets``, ``finding``) and what a pass asks for (``pass``).

    ``id`` is folder and name of the file; ``guidance`` the body it follows, ``pads`` the pads file; ``role`` what the
    learner is told to be. ``keys`` gives observations other keys.

    ``made_from`` and ``relax`` stand in the flattened form of a local file only: what it was made from, nearest first
    (its base, its parts, then what the base was made from), and the rules of theirs that it relaxes.
    """

    format: Literal[1]
    id: str
    version: Line
    guidance: Line
    audience: Audience = "lay"
    title: Wording
    about: Wording = {}
    role: Wording = {}
    pads: str = ""
    approval: Approval = Approval()
    sources: dict[str, Source] = {}
    facts: dict[str, Fact] = {}
    counters: dict[str, Counter] = {}
    terms: dict[str, str] = {}
    timers: dict[str, Timer] = {}
    targets: dict[str, Target] = {}
    observations: dict[str, OwnObservation] = {}
    keys: dict[str, str] = {}
    track: dict[str, Track]
    inject: dict[str, Inject] = {}
    rule: list[dict[str, Any]] = []
    finding: list[dict[str, Any]] = []
    pass_: dict[str, Any] = Field(default={}, alias="pass")
    waive: list[Waive] = []
    made_from: list[Pin] = []
    relax: dict[Literal["rule"], dict[str, Relax]] = {}

    @property
    def relaxed(self) -> dict[str, Relax]:
        """The rules of a base that this file relaxes, by the rule's id."""
        return self.relax.get("rule", {})


class After(Authored):
    """A throw that waits for an observation, then for a time."""

    on: str
    by: Duration


class Span(Authored):
    """A time drawn by the scenario's seed, both ends included."""

    from_: Duration = Field(alias="from")
    to: Duration


class Throw(Authored):
    """An inject of the scenario: on a digit, and thrown by itself ``at`` a time or ``after`` an observation."""

    name: str
    digit: int = Field(ge=1, le=6)
    at: Duration | Span | None = None
    after: After | None = None


class Scenario(Authored):
    """A scenario file: the story that is read out, the facts, the rhythm script and what happens when.

    ``suits`` are the protocols it is for (all, if left out); ``sensitive`` stories are told only to who asks for them;
    ``present`` and ``kit`` are what to lay ready; ``seed`` fixes what is drawn.
    """

    format: Literal[1]
    id: str
    title: Wording
    story: Wording
    setting: Wording = {}
    sensitive: bool = False
    suits: list[str] = []
    rescuers: int = Field(default=1, ge=1, le=6)
    present: list[Line] = []
    kit: list[Line] = []
    seed: int = 1
    facts: dict[str, bool | float | str | list[str]] = {}
    throw: list[Throw] = []


class PadsRule(Authored):
    """One line of a pads file: the first rule whose guard holds decides."""

    id: str
    when: str = ""
    size: Literal["adult", "paediatric"]
    placement: Literal["right-and-left", "front-and-back"]
    why: Wording
    source: Names


class Pads(Authored):
    """A pads file: which pads, and where, from age and weight, after one body."""

    format: Literal[1]
    id: str
    guidance: Line
    sources: dict[str, Source]
    facts: dict[str, Fact]
    terms: dict[str, str] = {}
    rule: list[PadsRule]
