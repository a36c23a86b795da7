"""The ways to sign a drill, and what each rests on: order and timing, and never what somebody saw by eye."""

from __future__ import annotations

from coach.debrief.page import Debrief
from screens.desk import Result

DONE = "independent"


def basis(page: Debrief) -> tuple[str, ...]:
    """What a signature rests on, in a few lines."""
    critical = [step for step in page.measures.steps if step.severity == "critical" and step.status != "not applicable"]
    done = sum(step.status == DONE for step in critical)
    faults = [one for one in page.judgement.findings if one.severity == "critical" and not one.to_confirm]
    own = sum(one.owner == "learner" for one in faults)
    lines = [f"{done} of {len(critical)} critical steps seen unaided"]
    others = [f"{step.title}: {step.status}" for step in critical if step.status != DONE]
    lines += others
    lines.append(f"{own} critical fault{'' if own == 1 else 's'} of the learner's confirmed")
    if len(faults) > own:
        lines.append(f"{len(faults) - own} of the team's or the kit's, which fail nobody")
    waiting = sum(one.to_confirm for one in page.judgement.findings)
    if waiting:
        lines.append(f"{waiting} to be confirmed first")
    return tuple(lines)


def results(page: Debrief) -> tuple[Result, ...]:
    """Pass, not yet, stopped for safety; with the reason where one cannot be signed. The rule is the coach's."""
    verdict = page.verdict
    stopped = page.happened.ended == "safety"
    never = "" if verdict is None else verdict.never
    return (
        Result("pass", "pass", _no_pass(page)),
        Result("not-yet", "not yet", "stopped for safety: this drill is never scored" if stopped else never),
        Result("safety", "stopped for safety", "" if stopped else "it was not stopped for safety"),
    )


def _no_pass(page: Debrief) -> str:
    """Why a pass cannot be signed; "" where it can."""
    verdict = page.verdict
    if page.happened.ended == "safety":
        return "the drill did not run to its end"
    if verdict is None or verdict.result == "pass":
        return ""
    if verdict.never:
        return verdict.never
    if verdict.confirm:
        return "something critical is to be confirmed first"
    if verdict.not_yet:
        return "; ".join(verdict.not_yet)
    if verdict.again:
        return f"nobody looked, so it is repeated at no cost: {'; '.join(verdict.again)}"
    return f"a reason is needed: {'; '.join(verdict.reason)}"
