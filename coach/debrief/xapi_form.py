"""The debrief as xAPI statements (IEEE 9274.1.1, version 2.0): what a learning record store is told of one drill.

Ids come from the drill, so that sending twice tells nothing twice. People are accounts with their ids, never names or
addresses. What waits for the assessor's word is told as waiting, never as a fault; depth is not told at all. Times are
durations since go: the hour of the day stays with the instructor. A statement's ``timestamp`` is optional, and whoever
stores one without it puts the moment of storing there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from coach.debrief.json_form import a_minute, cleaned, share
from coach.debrief.page import Debrief
from coach.measure.steps import StepDone
from coach.wording import spoken

HOME = "https://kneeside.invalid"
"""Where our names are from: ``.invalid`` is nobody's and never will be (RFC 2606)."""
VERBS = {
    "completed": ("http://adlnet.gov/expapi/verbs/completed", "completed", "completó"),
    "suspended": ("http://adlnet.gov/expapi/verbs/suspended", "suspended", "interrumpió"),
    "passed": ("http://adlnet.gov/expapi/verbs/passed", "passed", "aprobó"),
    "not-yet": (f"{HOME}/verbs/not-yet", "is not there yet in", "aún no domina"),
    "performed": (f"{HOME}/verbs/performed", "performed", "hizo"),
    "left-open": (f"{HOME}/verbs/left-open", "left open", "dejó abierto"),
}
"""Verbs: the open standard's own where it has one, else ours."""
TYPES = {"drill": "http://adlnet.gov/expapi/activities/simulation", "step": f"{HOME}/activities/step"}
VERSION = "2.0.0"
DONE = frozenset({"independent", "prompted", "cued", "out of order"})
"""Statuses of a step that was seen."""


def as_xapi(page: Debrief) -> str:
    """The statements as a JSON array, as they are sent in one request, with a newline at the end."""
    return json.dumps(cleaned(statements(page)), ensure_ascii=False, indent=2) + "\n"


def statements(page: Debrief) -> list[dict[str, Any]]:
    """One statement about the drill, one about its sign-off if it was signed (a safety stop never scores), then one
    about each step that applied and was reached."""
    signed = _signed(page)
    return [
        _drill(page),
        *([signed] if signed else []),
        *(_step(page, step) for step in page.measures.steps if step.status in (*DONE, "omitted")),
    ]


def registration(page: Debrief) -> UUID:
    """The drill's own id as a UUID."""
    return uuid5(NAMESPACE_URL, f"{HOME}/drills/{page.drill}")


def duration(ms: int) -> str:
    """ISO 8601, in seconds to 0.01: ``PT162.4S``."""
    return f"PT{ms / 1000:.2f}".rstrip("0").rstrip(".") + "S"


def _said(page: Debrief, text: str) -> dict[str, str]:
    """A language map of one entry: the text in the language of the page."""
    return {spoken(page.language): text}


def _account(kind: str, name: str) -> dict[str, Any]:
    return {"objectType": "Agent", "account": {"homePage": f"{HOME}/{kind}", "name": name}}


def _actor(page: Debrief) -> dict[str, Any]:
    """The learner by id; where none was given, somebody of this drill."""
    if page.learner and page.learner != "none":
        return _account("learner", page.learner)
    return _account("unnamed-learner", str(registration(page)))


def _verb(name: str) -> dict[str, Any]:
    ident, english, spanish = VERBS[name]
    return {"id": ident, "display": {"en": english, "es": spanish}}


def _protocol(page: Debrief) -> str:
    """The protocol's IRI: only the signs that an id has, whatever a log says."""
    kept = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_/.") else "-" for sign in page.of.id)
    return f"{HOME}/protocols/{kept.strip('/') or 'unnamed'}"


def _activity(ident: str, kind: str, name: str, page: Debrief, about: str = "") -> dict[str, Any]:
    definition: dict[str, Any] = {"type": TYPES[kind], "name": _said(page, name)}
    if about:
        definition["description"] = _said(page, about)
    return {"objectType": "Activity", "id": ident, "definition": definition}


def _whole(page: Debrief) -> dict[str, Any]:
    about = f"{page.of.id} {page.of.version}, after {page.of.guidance}, not endorsed; {page.of.approval}"
    return _activity(_protocol(page), "drill", page.of.title or page.of.id or "drill", page, about)


def _context(page: Debrief, parent: bool) -> dict[str, Any]:
    context: dict[str, Any] = {
        "registration": str(registration(page)),
        "platform": f"kneeside {page.program}".strip(),
        "language": spoken(page.language),
        "extensions": _extensions(
            {
                "mode": page.mode,
                "counting": page.counting,
                "unit": page.unit,
                "attempt": page.attempt,
                "role": page.role,
                "scenario": page.scenario,
                "protocol-digest": page.of.digest,
                "approval": page.of.approval,
                "reason": page.of.reason,
            }
        ),
    }
    if page.of.version:
        context["revision"] = page.of.version
    if page.assessor and page.assessor != "none":
        context["instructor"] = _account("assessor", page.assessor)
    if parent:
        context["contextActivities"] = {"parent": [_whole(page)]}
    return context


def _extensions(values: Mapping[str, Any]) -> dict[str, Any]:
    """Extensions by IRI; what is not known is left out."""
    return {f"{HOME}/extensions/{name}": value for name, value in values.items() if value not in (None, "")}


def _statement(page: Debrief, name: str, **parts: Any) -> dict[str, Any]:
    return {"id": str(uuid5(registration(page), name)), "actor": _actor(page), **parts, "version": VERSION}


def _drill(page: Debrief) -> dict[str, Any]:
    found, happened = page.measures, page.happened
    longest = max((gap.length for gap in found.gaps if gap.counted), default=None)
    milestones = {name: duration(e) for name, e in found.milestones.reached.items() if e is not None}
    result = {
        "completion": happened.ended == "ended",
        "duration": duration(happened.end_e),
        "extensions": _extensions(
            {
                "ended": happened.ended,
                "milestones": milestones or None,
                "hands-on-share": share(found.hands_on.share),
                "hands-on-ceiling": share(found.hands_on.ceiling),
                "rate": None if found.rate is None else a_minute(found.rate.median),
                "rate-plus-minus": None if found.rate is None else a_minute(found.rate.plus_minus),
                "longest-gap": None if longest is None else duration(longest),
                "findings": [
                    {
                        "rule": one.rule,
                        "severity": one.severity,
                        "to-confirm": one.to_confirm,
                        "lines": list(one.events),
                    }
                    for one in page.judgement.findings
                ],
                "not-measured": ["depth", "release", "breath volume"],
            }
        ),
    }
    verb = "completed" if happened.ended == "ended" else "suspended"
    return _statement(
        page,
        "drill",
        verb=_verb(verb),
        object=_whole(page),
        result=result,
        context=_context(page, parent=False),
    )


def _signed(page: Debrief) -> dict[str, Any] | None:
    signed = page.happened.signed
    if signed is None or signed.result not in ("pass", "not-yet"):
        return None
    passed = signed.result == "pass"
    says = page.verdict.says if page.verdict is not None else ""
    return _statement(
        page,
        f"signoff/{signed.seq}",
        verb=_verb("passed" if passed else "not-yet"),
        object=_whole(page),
        result={
            "completion": True,
            "success": passed,
            "extensions": _extensions(
                {"says": says or None, "reason-given": True if signed.reason else None, "lines": [signed.seq]}
            ),
        },
        context=_context(page, parent=False),
    )


def _step(page: Debrief, step: StepDone) -> dict[str, Any]:
    """A step: success where it was done unaided in its order. One left out waits for the assessor, so it is told
    without a success."""
    seen = step.status in DONE
    result: dict[str, Any] = {
        "completion": seen,
        "extensions": _extensions(
            {
                "status": step.status,
                "severity": step.severity,
                "to-confirm": None if seen else True,
                "at": None if step.at is None else duration(step.at),
                "lines": list(step.events) or None,
            }
        ),
    }
    if seen:
        result["success"] = step.status == "independent"
    kept = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "-" for sign in step.id)
    return _statement(
        page,
        f"step/{step.track}/{step.id}",
        verb=_verb("performed" if seen else "left-open"),
        object=_activity(f"{_protocol(page)}#{kept}", "step", step.title or step.id, page),
        result=result,
        context=_context(page, parent=True),
    )
