"""Findings: what a protocol's own faults, steps and targets say about a drill, and the one thing to take from it.

Nothing here knows a rule by name: faults come from the file's arrows and injects, steps and targets from its tables.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from coach import wording
from coach.log.happened import Happened, Look
from coach.measure.owners import Owner, Owners
from coach.measure.rules import MILDER, Rule
from coach.measure.steps import StepDone
from coach.measure.targets import Judged, amount, bounds_text, judge, title_of
from coach.measure.wording import WORDS, known
from coach.protocol.model import Protocol, Severity, Wording
from coach.protocol.names import arrows
from coach.text import one_line

if TYPE_CHECKING:
    from coach.measure.report import Measures

Rests = Literal["", "missing", "mark"]
"""What a finding to be confirmed rests on: a mark that is missing, or one that was pressed."""
Answer = Literal["saw", "did-not-happen", "not-looking"]
"""What the assessor says of it: I saw it, it did not happen, I was not looking."""
ANSWERS: tuple[Answer, ...] = get_args(Answer)


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: ``say`` is what was seen, ``again`` what to do instead. ``events`` are the lines it rests on;
    ``to_confirm`` where it rests on a mark that is missing or on a single press (``rests_on``): it counts only once the
    assessor says that it happened so; ``ask`` is what to ask them, ``answer`` what they said. ``safety`` marks those
    about touching and shocks, ``hands_off`` the ms of the rescuer's own time past its limit; ``owner`` is whose it
    is."""

    rule: str
    severity: Severity
    at: int | None
    events: tuple[int, ...]
    say: str
    source: str
    to_confirm: bool = False
    ask: str = ""
    safety: bool = False
    step: str = ""
    hands_off: float = 0.0
    rate: bool = False
    rests_on: Rests = ""
    owner: Owner = "learner"
    answer: Answer | None = None
    again: str = ""

    @property
    def id(self) -> str:
        """Its name in a log: the rule with the step, or with the first line that it rests on."""
        about = self.step or (str(self.events[0]) if self.events else "")
        return f"{self.rule}:{about}" if about else self.rule

    def stands(self, answer: Answer) -> bool:
        """Whether it stands after an answer about the thing that it rests on; "not looking" settles nothing but that
        the part is repeated at no cost."""
        return answer == ("did-not-happen" if self.rests_on == "missing" else "saw")


@dataclass(frozen=True, slots=True)
class OneThing:
    """The one thing to do again, or (``finding`` is ``None``) the strength to keep: ``again`` is what to do, where the
    file says that, and ``say`` what was seen."""

    finding: str | None
    say: str
    to_confirm: bool = False
    again: str = ""


def as_thing(one: Finding) -> OneThing:
    """A finding as the one thing."""
    return OneThing(one.rule, one.say, one.to_confirm, one.again)


def words(table: Mapping[str, str], language: str, otherwise: str) -> str:
    """A wording in ``language``, else in English, else in whatever it has."""
    return table.get(language) or table.get("en") or next(iter(table.values()), otherwise)


def titles(protocol: Protocol, names: Sequence[str]) -> str:
    """The titles of sources by their names."""
    return "; ".join(protocol.sources[name].title if name in protocol.sources else name for name in names)


def _leading_cue(protocol: Protocol, step: StepDone) -> Wording:
    """The cue of the first arrow that leads to a step and has one: where the step itself says nothing, it does."""
    cues = (one.arrow.cue for one in arrows(protocol) if one.track == step.track and one.arrow.to == step.id)
    return next((cue for cue in cues if cue), {})


def step_findings(
    steps: Sequence[StepDone], rules: Sequence[Rule], protocol: Protocol, language: str, owners: Owners
) -> list[Finding]:
    """Steps left out, to be confirmed since they rest on a mark that is missing, and steps out of order."""
    found: list[Finding] = []
    said = partial(wording.say, WORDS, language)
    named = {step.id: step.title for step in steps}
    for rule in rules:
        if rule.kind not in ("omitted", "out_of_order"):
            continue
        for step in steps:
            if step.status not in ("omitted", "out of order") and not step.answer:
                continue
            say = f"{step.title}: {words(rule.say, language, rule.id)}"
            asked = protocol.track[step.track].step[step.id]
            again = words(rule.again or asked.cue or _leading_cue(protocol, step) or asked.late_cue, language, "")
            owner = owners.of_role(protocol.track[step.track].step[step.id].roles)
            source = titles(protocol, protocol.track[step.track].step[step.id].source or rule.source)
            if rule.kind == "omitted" and (step.status == "omitted" or step.answer):
                found.append(
                    Finding(
                        rule.id,
                        rule.severity or step.severity,
                        None,
                        (),
                        say,
                        source,
                        to_confirm=True,
                        ask=said("ask:missing"),
                        step=step.id,
                        rests_on="missing",
                        owner=owner,
                        again=again,
                    )
                )
            elif rule.kind == "out_of_order" and step.status == "out of order":
                beside = f" ({named[step.after]})" if step.after in named else ""
                severity = rule.severity or MILDER[step.severity]
                found.append(
                    Finding(
                        rule.id,
                        severity,
                        step.at,
                        step.events,
                        say + beside,
                        source,
                        step=step.id,
                        owner=owner,
                        again=again,
                    )
                )
    return found


def target_findings(
    found: Measures, rules: Sequence[Rule], protocol: Protocol, language: str, owners: Owners
) -> list[Finding]:
    """One finding for each rule that a target broke, resting on all readings past it; its time is the worst one's."""
    findings: list[Finding] = []
    for rule in rules:
        target = protocol.targets.get(rule.target)
        if target is None:
            continue
        sides = ("over", "under") if rule.kind == "outside" else (rule.kind,)
        broken = [one for one in judge(found, rule.target, target, rule.owner, rule.by) if one.verdict in sides]
        if not broken:
            continue
        worst = max(broken, key=lambda one: one.excess)
        many = f" ×{len(broken)}" if len(broken) > 1 else ""
        limit = bounds_text(worst.low, worst.high, worst.quantity)
        if worst.reading.note not in ("", "unknown"):
            limit += f"; {', '.join(known(language, 'cause', cause) for cause in worst.reading.note.split(', '))}"
        if worst.reading.whole is not None and worst.reading.whole - worst.reading.value >= A_SECOND:
            whole = amount(worst.reading.whole, worst.quantity)
            limit += f"; {wording.say(WORDS, language, 'in-all', whole=whole)}"
        findings.append(
            Finding(
                rule.id,
                rule.severity or "minor",
                worst.reading.at,
                tuple(dict.fromkeys(seq for one in broken for seq in one.reading.events)),
                f"{words(rule.say, language, rule.id)} {amount(worst.reading.value, worst.quantity)} ({limit}){many}",
                titles(protocol, rule.source),
                to_confirm=worst.reading.open,
                ask=wording.say(WORDS, language, "ask:to-the-end") if worst.reading.open else "",
                hands_off=worst.excess if worst.reading.own is not None else 0.0,
                rate=worst.quantity == "rate",
                rests_on="mark" if worst.reading.open else "",
                owner=owners.of_role(rule.roles),
                again=words(rule.again, language, ""),
            )
        )
    return findings


A_SECOND = 1_000
"""What is printed in whole seconds differs by this much, in ms."""

GRADE = {"critical": 0, "major": 1, "minor": 2}


def in_order(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Gravest first, then by time."""
    return tuple(sorted(findings, key=lambda one: (GRADE[one.severity], one.at is None, one.at or 0, one.rule)))


def concerns(looks: Sequence[Look]) -> Counter[str]:
    """How many looks at each target found a concern."""
    return Counter(one_line(look.target) for look in looks if look.concern)


def one_thing(
    findings: Sequence[Finding],
    steps: Sequence[StepDone],
    looks: Sequence[Look],
    strength: str,
    language: str = "en",
) -> OneThing:
    """The first that applies: safety of people; a critical fault, or a critical step left out or (where the file calls
    that more than minor) out of order; the largest own hands-off time past its limit; a rate outside by more than its
    ±; an impression in two or more looks; any other major finding; else a strength to keep. Ties go to the gravest,
    then the longest, then the earliest."""
    critical = {step.id for step in steps if step.severity == "critical"}
    levels = (
        [one for one in findings if one.safety],
        [one for one in findings if one.severity == "critical" or (one.step in critical and one.severity != "minor")],
        sorted((one for one in findings if one.hands_off > 0), key=lambda one: -one.hands_off),
        [one for one in findings if one.rate],
    )
    for level in levels:
        if level:
            return as_thing(level[0])
    for target, seen in concerns(looks).most_common(1):
        if seen >= 2:
            looked = sum(one_line(look.target) == target for look in looks)
            name = known(language, "look", target)
            return OneThing(
                f"look-{target}", wording.say(WORDS, language, "by-eye", seen=seen, looked=looked, target=name)
            )
    rest = [one for one in findings if one.severity != "minor"]
    return as_thing(rest[0]) if rest else OneThing(None, strength)


STRENGTHS = (
    "start_after_recognition",
    "first_compression",
    "hands_off",
    "post_shock",
    "pre_shock",
    "breath_gap",
    "compression_rate",
)
"""Targets in the order in which one met throughout is named as the strength to keep: what matters most first."""


class Sentence(NamedTuple):
    """Something said of a drill, and the lines of its log that it rests on."""

    say: str
    events: tuple[int, ...] = ()


def strength_of(found: Measures, judged: Sequence[Judged], happened: Happened, language: str = "en") -> Sentence:
    """One thing that went well, always: a pin of the instructor's that was named, a target met throughout, the clear
    call, all critical steps; at the least, that they started or took part. It claims no more than a key saw."""
    say = partial(wording.say, WORDS, language)
    for pin in happened.pins:
        if pin.which == "good" and pin.label:
            return Sentence(say("noticed", label=known(language, "label", one_line(pin.label))), (pin.seq,))
    met: dict[str, list[Judged]] = {}
    for one in judged:
        met.setdefault(one.target, []).append(one)
    for name in (*STRENGTHS, *(other for other in met if other not in STRENGTHS)):
        group = met.get(name, [])
        if group and all(one.verdict == "inside" for one in group):
            worst = max(group, key=lambda one: one.reading.value)
            said = say(
                "met-at-most" if len(group) > 1 else "met",
                target=title_of(name, language),
                value=amount(worst.reading.value, worst.quantity),
                bounds=bounds_text(worst.low, worst.high, worst.quantity),
            )
            return Sentence(said, tuple(dict.fromkeys(seq for one in group for seq in one.reading.events)))
    if found.shocks and all(shock.clear_before is not None for shock in found.shocks):
        clears = {shock.at - (shock.clear_before or 0) for shock in found.shocks}
        calls = [event.seq for event in found.floor.all_of(["clear_called"]) if event.e in clears]
        return Sentence(say("clear-always"), (*calls, *(shock.seq for shock in found.shocks)))
    critical = [step for step in found.steps if step.severity == "critical" and step.status != "not applicable"]
    if critical and all(step.status in ("independent", "cued", "prompted") for step in critical):
        return Sentence(say("all-critical"), tuple(seq for step in critical for seq in step.events))
    if found.runs:
        return Sentence(say("hands-went-on"), found.runs[0].seqs[:1])
    return Sentence(say("took-part"))
