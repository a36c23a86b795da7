"""Sign-off: pass, not yet, or stopped for safety, by the protocol's ``[pass]`` and fairness to the learner.

What is missing is confirmed before it counts. Faults of team and kit fail nobody; pins, impressions and what an eye
judged of depth never enter. Steps that the drill had no call for (no shock advised) are not asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

from coach.debrief.page import RECONSTRUCTED, Debrief
from coach.debrief.wording import known
from coach.debrief.wording import words as words_of_page
from coach.measure.criteria import CRITERIA
from coach.measure.findings import Finding, Sentence, words
from coach.measure.floor import lead_in_of
from coach.measure.owners import Owners, owners_of
from coach.measure.report import SIGMA_MS
from coach.measure.steps import StepDone
from coach.measure.targets import title_of
from coach.protocol.model import Protocol, Severity

Result = Literal["pass", "not-yet", "safety"]

IN_WORDS: dict[Result, str] = {"pass": "pass", "not-yet": "not yet", "safety": "stopped for safety"}


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the rule says of a drill. ``result`` is ``None`` while something must come first: ``confirm`` are findings
    that the assessor answers first, ``again`` parts that are repeated at no cost since nobody looked, ``reason`` why a
    typed reason is needed, ``never`` why this drill signs nobody off. ``not_yet`` names what is not there yet,
    ``rests`` the lines that each of those rests on, and ``says`` is what a pass may claim."""

    result: Result | None
    not_yet: tuple[str, ...] = ()
    confirm: tuple[Finding, ...] = ()
    again: tuple[str, ...] = ()
    reason: tuple[str, ...] = ()
    never: str = ""
    says: str = ""
    rests: tuple[tuple[int, ...], ...] = ()


def verdict_of(page: Debrief, protocol: Protocol, header: Mapping[str, Any], reason: str = "") -> Verdict:
    """The verdict on a drill, with a typed ``reason`` where there is one."""
    say = partial(words_of_page, page.language)
    if page.happened.ended == "safety":
        return Verdict("safety", says=say("sign:safety-says"))
    if page.happened.ended == "interrupted":
        return Verdict(None, never=say("sign:never-interrupted"))
    if page.mode == "teach":
        return Verdict(None, never=say("sign:never-teach"))
    if lead_in_of(page.happened):
        return Verdict(None, never=say("sign:never-part"))
    rule = protocol.pass_
    if not rule:
        return Verdict(None, never=say("sign:never-rule"))
    owners = owners_of(protocol, header)
    own = [one for one in page.judgement.findings if one.owner == "learner"]
    counted = [one for one in own if _counts(one.severity, rule)]
    steps = _own_steps(page, protocol, owners)
    if not steps:
        return Verdict(None, never=say("sign:never-own"))
    confirm = tuple(one for one in counted if one.to_confirm)
    again = _not_looked(page, steps, rule)
    not_yet = [*_steps_not_there(steps, own, page.language), *_faults(counted, rule, reason), *_targets(page, rule)]
    not_yet += _criteria(page, rule, float(header.get("sigma_ms") or SIGMA_MS))
    if _unit_expected(protocol) and page.measures.milestones.reached["first_analysis"] is None:
        not_yet.append(Sentence(say("sign:too-short")))
    reasons = () if reason.strip() else _reasons(page)
    result: Result | None = "not-yet" if not_yet else None if confirm or again or reasons else "pass"
    if confirm:
        result = None  # it may only settle what is missing; the learner hears nothing before that
    says = _says(rule.get("say"), page.language) if result == "pass" else ""
    said, rests = tuple(one.say for one in not_yet), tuple(one.events for one in not_yet)
    return Verdict(result, said, confirm, again, reasons, says=says, rests=rests)


def _unit_expected(protocol: Protocol) -> bool:
    """Whether the protocol leads to a step in which a shock can be given."""
    return any(step.armed for track in protocol.track.values() for step in track.step.values())


def _says(say: object, language: str) -> str:
    """What a pass may claim, in the file's words or else in ours."""
    if isinstance(say, Mapping):
        return words({str(one): str(text) for one, text in say.items()}, language, "")
    return str(say) if say else words_of_page(language, "sign:says")


_ALLOWED: dict[Severity, str] = {"critical": "critical_faults", "major": "major_faults", "minor": "minor_faults"}


def _counts(severity: Severity, rule: Mapping[str, Any]) -> bool:
    """Whether findings of this severity count: critical ones always, the others where the rule bounds them."""
    return severity == "critical" or _ALLOWED[severity] in rule


def _own_steps(page: Debrief, protocol: Protocol, owners: Owners) -> list[StepDone]:
    """The critical steps that were the learner's and that this drill called for."""
    found = []
    for step in page.measures.steps:
        track = protocol.track[step.track]
        asked = step.status != "not applicable" and not (step.status == "not reached" and step.id not in track.spine)
        required = track.step[step.id].required
        if (
            step.severity == "critical"
            and asked
            and required
            and owners.of_role(track.step[step.id].roles) == "learner"
        ):
            found.append(step)
    return found


def _steps_not_there(steps: list[StepDone], own: list[Finding], language: str) -> list[Sentence]:
    """Critical steps that are not independent. One out of order counts as done unless the file calls that critical;
    one omitted waits for its own confirmation."""
    waiting = {one.step for one in own if one.to_confirm}
    grave = {one.step for one in own if one.severity == "critical" and one.step and not one.to_confirm}
    missing = []
    for step in steps:
        if step.status in ("prompted", "cued", "not reached"):
            missing.append(Sentence(f"{step.title}: {words_of_page(language, f'status:{step.status}')}", step.events))
        elif step.status == "omitted" and step.id not in waiting:
            missing.append(Sentence(f"{step.title}: {words_of_page(language, 'sign:did-not-happen')}"))
        elif step.status == "out of order" and step.id in grave:
            missing.append(Sentence(f"{step.title}: {words_of_page(language, 'status:out of order')}", step.events))
    return missing


def _not_looked(page: Debrief, steps: list[StepDone], rule: Mapping[str, Any]) -> tuple[str, ...]:
    """Parts to be repeated at no cost: critical steps and counted faults that the assessor was not looking at."""
    parts = [step.title for step in steps if step.status == "not observed"]
    named = {step.id for step in steps}
    for one in page.judgement.settled:
        counts = one.owner == "learner" and _counts(one.severity, rule)
        if one.answer == "not-looking" and counts and one.step not in named:
            parts.append(one.say)
    return tuple(dict.fromkeys(parts))


def _faults(counted: list[Finding], rule: Mapping[str, Any], reason: str) -> list[Sentence]:
    """Confirmed faults past what the rule allows. A typed reason stands for one missing mark that is not critical."""
    said: list[Sentence] = []
    for severity, key in _ALLOWED.items():
        if severity != "critical" and key not in rule:
            continue
        # Critical steps left out are named as steps.
        graded = [one for one in counted if one.severity == severity and not one.to_confirm]
        graded = [one for one in graded if not (severity == "critical" and one.step)]
        if severity != "critical" and reason.strip():
            excused = next((one for one in graded if one.rests_on == "missing"), None)
            graded = [one for one in graded if one is not excused]
        if len(graded) > int(rule.get(key, 0)):
            said += [Sentence(one.say, one.events) for one in graded]
    return said


def _targets(page: Debrief, rule: Mapping[str, Any]) -> list[Sentence]:
    """Targets that the rule names and that are past their limit by more than their uncertainty."""
    named = {str(name).replace("-", "_") for name in rule.get("targets", [])}
    past: dict[str, list[int]] = {}
    for one in page.judgement.judged:
        if one.target in named and one.verdict in ("over", "under"):
            past.setdefault(one.target, []).extend(one.reading.events)
    return [
        Sentence(words_of_page(page.language, "sign:past", target=title_of(name, page.language)), tuple(past[name]))
        for name in sorted(past)
    ]


def _criteria(page: Debrief, rule: Mapping[str, Any], sigma_ms: float) -> list[Sentence]:
    """Published rules that the file names and that this drill does not meet, or cannot tell."""
    named = [str(name) for name in rule.get("criteria", [])]
    told = [CRITERIA[name](page.measures, sigma_ms) for name in named if name in CRITERIA]
    say = partial(words_of_page, page.language)
    unknown = [say("sign:no-rule", name=name) for name in named if name not in CRITERIA]
    said = [
        say(
            f"sign:{'untold' if one.met is None else 'not-met'}", name=one.id, part=known(page.language, "rule", one.id)
        )
        for one in told
        if not one.met
    ]
    return [Sentence(one) for one in (*said, *unknown)]


def _reasons(page: Debrief) -> tuple[str, ...]:
    """Why a pass needs a typed reason: a verdict that hangs on a mark moved afterwards, or a reconstructed drill."""
    said = list(page.flipped)
    if page.critical_added > RECONSTRUCTED:
        said.append(words_of_page(page.language, "care:reconstructed"))
    return tuple(said)
