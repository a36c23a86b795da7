"""The debrief: everything the page says, worked out once; the forms only lay it out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple
from typing import Protocol as Shape

from coach.debrief.approvals import SIGNED
from coach.debrief.trace import Line, Trace
from coach.debrief.wording import WORDS, approval, known, words
from coach.engine.machine import SEMANTICS
from coach.log.happened import Happened
from coach.measure.criteria import CRITERIA, Criterion
from coach.measure.report import SIGMA_MS, Judgement, Measures, conclude, measure
from coach.measure.tape import tape
from coach.protocol.model import Protocol
from coach.protocol.relaxing import Turn, plainly, tightened, turns
from coach.text import one_line
from coach.units import quantity_text
from coach.wording import DRAFTS, spoken

if TYPE_CHECKING:
    from coach.debrief.signoff import Verdict

RECONSTRUCTED = 3
"""With more critical events than this added later, a drill reads "reconstructed"."""


_AT_GO = re.compile(r"\d{8}-\d{6}-")
"""How a drill's id begins."""


class PadsLike(Shape):
    """A decision about pads."""

    @property
    def size(self) -> str | None: ...
    @property
    def placement(self) -> str | None: ...
    @property
    def rule(self) -> str: ...
    @property
    def why(self) -> str: ...


@dataclass(frozen=True, slots=True)
class TurnedRule:
    """A rule of a base that the protocol relaxed, or tightened: member by member, none where it was dropped."""

    rule: str
    tightened: bool
    turns: tuple[Turn, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Of:
    """Which protocol a drill ran, how far that was approved, the rules of a base that it relaxed or tightened, and the
    reason that was typed where it was used for a test without a sound approval."""

    id: str
    version: str
    guidance: str
    approval: str
    digest: str
    title: str
    turned: tuple[TurnedRule, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Looked:
    """How often a target was looked at, and how often with a concern. By eye, so never a measure."""

    target: str
    looked: int
    concern: int


@dataclass(frozen=True, slots=True)
class Adjusted:
    """What was changed by hand: lines voided, moved and added later, presses dropped as bounces or as a held key."""

    voided: tuple[int, ...]
    nudged: tuple[int, ...]
    added_later: tuple[int, ...]
    dropped: int


@dataclass(frozen=True, slots=True)
class Debrief:
    """One drill's page. Texts of others are laid on one line each and cleaned; times are ms of ``e``."""

    drill: str
    of: Of
    scenario: str
    learner: str
    assessor: str
    role: str
    mode: str
    attempt: int
    counting: str
    unit: str
    metronome: bool
    measures: Measures
    judgement: Judgement
    pads: PadsLike | None
    happened: Happened
    looks: tuple[Looked, ...]
    adjusted: Adjusted
    interrupted_at: int | None
    tape: str
    cautions: tuple[str, ...]
    language: str
    own: Mapping[str, str]
    """What the learner said, as typed: ``plus``, ``change``, ``again``, ``take``."""
    trace: Mapping[int, Line]
    """The lines that figures rest on, by their numbers."""
    program: str
    wall: str
    """When go was, by the header's wall clock (UTC, ISO 8601)."""
    verdict: Verdict | None = None
    """What the protocol's rule for a pass says; ``None`` where nobody asked."""
    published: tuple[Criterion, ...] = ()
    """Published rules on this drill, as far as keys can show them; they count where the protocol's rule names them."""
    flipped: tuple[str, ...] = ()
    """Critical verdicts that hang on a mark moved or renamed by hand: each as it stands, and as it was pressed."""

    @property
    def name(self) -> str:
        """What the drill is called outside the instructor's hands: its id without the day and hour of its go."""
        return _AT_GO.sub("", self.drill) or self.drill

    @property
    def critical_added(self) -> int:
        """How many critical events were added after the drill."""
        return _critical_added(self.happened, self.measures)

    @property
    def beats(self) -> bool:
        """Whether each compression was tapped: beat-level numbers exist only then."""
        return self.measures.floor.beats


class _Cell(NamedTuple):
    """An event that stands, as the tape reads it."""

    e: int
    event: str
    outcome: str


def build(
    happened: Happened,
    protocol: Protocol,
    header: Mapping[str, Any],
    pads: PadsLike | None,
    language: str = "en",
    lines: Iterable[Mapping[str, Any]] = (),
    own: Mapping[str, str] | None = None,
) -> Debrief:
    """The debrief of a drill from what happened, its protocol, the header of its log and the pads decision.

    ``lines`` are those after the header, so that what was voided can be told too; ``own`` is what the learner said.
    """
    found = measure(happened, protocol, header, language)
    judgement = conclude(found, happened, protocol, header, language)
    of = _of(protocol, header, language)
    return Debrief(
        drill=_text(header, "drill"),
        of=of,
        scenario=_scenario(header, language),
        learner=_text(header, "learner"),
        assessor=_text(header, "assessor"),
        role=_text(header, "role"),
        mode=_text(header, "mode"),
        attempt=int(header.get("attempt") or 1),
        counting=found.floor.counting,
        unit=_text(header, "unit"),
        metronome=bool(header.get("metronome")),
        measures=found,
        judgement=judgement,
        pads=pads,
        happened=happened,
        looks=_looks(happened),
        adjusted=Adjusted(happened.voided, happened.nudged, happened.added_later, happened.dropped),
        interrupted_at=happened.end_e if happened.ended == "interrupted" else None,
        tape=tape(
            [_Cell._make((event.e, event.name, "taken")) for event in found.floor.events],
            happened.end_e,
            found.floor.counting,
            [one.e for one in happened.breaks],
        ),
        cautions=(
            *_cautions(happened, found, of, bool(header.get("metronome")), pads is not None, language),
            *_engine(header, language),
        ),
        language=language,
        own={name: one_line(text) for name, text in (own or {}).items()},
        trace=Trace(happened, language, lines, _titles(protocol, language), _setup(protocol, header, language)),
        program=_text(header, "program"),
        wall=_text(header, "wall"),
        published=tuple(rule(found, float(header.get("sigma_ms") or SIGMA_MS)) for rule in CRITERIA.values()),
    )


def _text(table: Mapping[str, Any], name: str) -> str:
    value = table.get(name)
    return "" if value is None else one_line(str(value))


def _of(protocol: Protocol, header: Mapping[str, Any], language: str) -> Of:
    logged: Mapping[str, Any] = header.get("protocol") or {}
    title = protocol.title.get(language) or protocol.title.get("en") or protocol.id
    return Of(
        _text(logged, "id") or protocol.id,
        _text(logged, "version") or protocol.version,
        _text(logged, "guidance") or protocol.guidance,
        _text(logged, "approval") or protocol.approval.status,
        _text(logged, "digest"),
        one_line(title),
        tuple(
            TurnedRule(one_line(ident), tightened(relax), turns(relax) if relax.to else (), one_line(relax.reason))
            for ident, relax in protocol.relaxed.items()
        ),
        _text(header, "reason"),
    )


def _titles(protocol: Protocol, language: str) -> dict[str, str]:
    """What a protocol calls its injects and its own observations."""
    named = {f"inject:{name}": inject.title for name, inject in protocol.inject.items()}
    named |= {name: own.label for name, own in protocol.observations.items()}
    return {name: title.get(language) or title.get("en") or "" for name, title in named.items()}


def _setup(protocol: Protocol, header: Mapping[str, Any], language: str) -> str:
    """The facts of the casualty that the drill was set up with, as its log holds them; the name of its scenario."""
    facts: Mapping[str, Any] = (header.get("plan") or {}).get("facts") or {}
    told = [_scenario(header, language)]
    for name, value in facts.items():
        fact = protocol.facts.get(name)
        if fact is None or fact.kind == "script" or value is None or value is False:
            continue
        title = fact.title.get(language) or fact.title.get("en") or name.replace("_", " ")
        if value is True:
            told.append(title)
        elif fact.kind == "number" and isinstance(value, int):
            told.append(f"{title} {quantity_text(value, fact.unit)}")
        else:
            told.append(f"{title} {known(language, 'value', str(value))}")
    return ", ".join(part for part in told if part)


def _scenario(header: Mapping[str, Any], language: str) -> str:
    scenario = header.get("scenario") or {}
    title = scenario.get("title") or scenario.get("id") or ""
    if isinstance(title, Mapping):
        title = title.get(language) or title.get("en") or ""
    return one_line(str(title))


def _looks(happened: Happened) -> tuple[Looked, ...]:
    targets = dict.fromkeys(look.target for look in happened.looks)
    return tuple(
        Looked(
            one_line(target),
            sum(look.target == target for look in happened.looks),
            sum(look.target == target and look.concern for look in happened.looks),
        )
        for target in targets
    )


def _engine(header: Mapping[str, Any], language: str) -> Iterator[str]:
    then = header.get("engine", SEMANTICS)
    if then != SEMANTICS:
        yield words(language, "care:engine", then=then, now=SEMANTICS)


def _cautions(happened: Happened, found: Measures, of: Of, metronome: bool, pads: bool, language: str) -> Iterator[str]:
    """What must stand beside the figures: always the first ones, the rest where they apply."""
    say = partial(words, language)
    if spoken(language) in DRAFTS:
        yield say("care:draft")
    yield say("care:training")
    yield say("care:local")
    stands = of.approval.split(", ")[0]
    if f"care:approval {stands}" in WORDS:
        yield say(f"care:approval {stands}")
    elif stands not in SIGNED:
        yield say("care:approval", approval=approval(language, of.approval))
    yield from (_turned(one, language) for one in of.turned)
    if of.reason:
        yield say("care:reason", reason=of.reason)
    yield say("care:guidance", guidance=of.guidance)
    yield say("care:keys")
    yield say("care:nothing-more")
    yield say("care:hygiene")
    if pads:
        yield say("care:pads")
    floor = found.floor
    if floor.counting in ("marks", "probe") and found.windows:
        yield say(f"care:{floor.counting}")
    if metronome:
        yield say("care:metronome")
    if floor.away:
        lost = sum(until - since for since, until in floor.away) / 1000
        yield say("care:away", seconds=f"{lost:.0f}")
    if any(one.kind == "hole" for one in happened.breaks):
        yield say("care:hole")
    if happened.shortened:
        yield say("care:shortened")
    if happened.ended in ("safety", "interrupted"):
        yield say(f"care:{happened.ended}")
    if _critical_added(happened, found) > RECONSTRUCTED:
        yield say("care:reconstructed")


def _turned(one: TurnedRule, language: str) -> str:
    say = partial(words, language)
    told = [
        say(
            f"turn:{kind if f'turn:{kind}' in WORDS else 'other'}",
            member=one_line(turn.member),
            now=one_line(plainly(turn.now)) if turn.now is not None else say("turn:none"),
            was=one_line(plainly(turn.was)) if turn.was is not None else say("turn:none"),
        )
        for turn in one.turns
        for kind in (turn.member.rpartition(".")[2],)
    ]
    how = "tightened" if one.tightened else "relaxed"
    return say(f"care:{how}", rule=one.rule, turns="; ".join(told) or say("turn:dropped"), reason=one.reason)


def _critical_added(happened: Happened, found: Measures) -> int:
    critical = {seq for step in found.steps if step.severity == "critical" for seq in step.events}
    critical |= {shock.seq for shock in found.shocks}
    return len(critical & set(happened.added_later))
