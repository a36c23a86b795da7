"""Putting an approval into a file: the fewest characters changed, every comment kept, and nothing else touched."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

import tomli_w

from coach.protocol import reading
from coach.protocol.approval import approval_digest, approval_state, content_digest, first_day, last_day
from coach.protocol.model import Act, Approval, Protocol, Status
from coach.protocol.overlay import effective
from coach.protocol.positions import string_end
from coach.protocol.wordings import translation_problems
from coach.text import clean

_HEADER = re.compile(r"\[[ \t]*$")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_DAY_OR_MONTH = re.compile(r"\d{4}-\d{2}(-\d{2})?", re.ASCII)


class NotApproved(ValueError):
    """An approval that is refused, with every reason for it."""

    def __init__(self, reasons: list[str]) -> None:
        self.reasons = reasons
        super().__init__("; ".join(reasons))


def objections(
    protocol: Protocol, *, role: str, reason: str, effective: str, review_due: str, today: date
) -> list[str]:
    """Why this protocol may not be approved so today, as far as the file itself tells; the checker judges apart."""
    found: list[str] = []
    author = protocol.approval.author
    if protocol.approval.status in ("superseded", "withdrawn"):
        found.append(f"the file is {protocol.approval.status}: approve a new version of it instead")
    if not role.strip():
        found.append("nobody signs: name the approver's role")
    elif not author.strip():
        found.append("the file does not say who wrote it: add author under [approval]")
    elif role.strip().casefold() == author.strip().casefold():
        found.append(f"the author, {author}, cannot be the approver too")
    if not reason.strip():
        found.append("no reason is given")
    for name, day in (("effective", effective), ("review due", review_due)):
        try:
            if not _DAY_OR_MONTH.fullmatch(day):
                raise ValueError(day)
            first_day(day)
        except ValueError:
            given = f"not {clean(day)[:40]!r}" if day else "and is not given"
            found.append(f"{name} is a day, written 2026-01-31, {given}")
            return found
    if last_day(effective) < today:
        found.append(f"it would be in force from {effective}, before it is approved ({today})")
    if last_day(review_due) <= max(today, first_day(effective)):
        found.append(f"its review would be due {review_due}, before it is ever in force")
    found += [f"translation: {problem}" for problem in translation_problems(protocol)]
    return found


def approve(
    text: str,
    name: str,
    folder: Path | None,
    *,
    role: str,
    reason: str,
    effective_from: str,
    review_due: str,
    today: date,
) -> str:
    """The text of a protocol file with the approval written into it. Raises NotApproved or FileProblems."""
    whole = effective(text, name, folder)
    refused = objections(
        whole.protocol, role=role, reason=reason, effective=effective_from, review_due=review_due, today=today
    )
    refused += signed_otherwise(whole.protocol.version, whole.text, whole.protocol.approval.history)
    if refused:
        raise NotApproved(refused)
    fields = {
        "status": "approved",
        "approver": clean(role).strip(),
        "approved_on": today.isoformat(),
        "effective": effective_from,
        "review_due": review_due,
        "reason": clean(reason).strip(),
    }
    signed = Approval.model_validate({"author": whole.protocol.approval.author, **fields})
    fields["digest"] = approval_digest(whole.text, signed)
    act = Act(
        status="approved",
        by=fields["approver"],
        on=fields["approved_on"],
        version=whole.protocol.version,
        effective=effective_from,
        review_due=review_due,
        reason=fields["reason"],
        digest=fields["digest"],
        content=content_digest(whole.text),
    )
    return _written(text, name, folder, fields, _acts(whole.protocol, act))


def signed_otherwise(version: str, text: str, acts: Iterable[Act]) -> list[str]:
    """Why a version cannot be signed: other content was, under the same name. Records that name only a version must
    not mean two things."""
    content = content_digest(text)
    for act in acts:
        if act.status == "approved" and act.version == version and act.content and act.content != content:
            said = f"version {version} was signed on {act.on} by {act.by} with other content"
            return [f"{said}: give the file a new version, and approve that"]
    return []


def _acts(protocol: Protocol, act: Act) -> list[Act]:
    """What is new in the history: the act, and before it a signature from before there was a history."""
    now = protocol.approval
    if now.history and now.history[-1] == act:
        return []
    again = act.status == "approved" and now.digest == act.digest
    if now.history or not (now.approver and now.digest) or again:
        return [act]
    days = {"effective": now.effective, "review_due": now.review_due}
    first = Act(status="approved", by=now.approver, on=now.approved_on, reason=now.reason, digest=now.digest, **days)
    return [first, act]


def move_on(
    text: str, name: str, folder: Path | None, *, status: Status, reason: str, today: date, role: str = ""
) -> str:
    """The text of a protocol file with another status: ``in-force`` for what is soundly approved, ``superseded`` and
    ``withdrawn`` for anything, with a reason and the ``role`` that does it; ``checked`` for whatever the caller has
    checked and nobody has signed as it stands. What was withdrawn stays so. Raises NotApproved or FileProblems."""
    whole = effective(text, name, folder)
    fields = {"status": str(status)}
    now = whole.protocol.approval
    if now.status == "withdrawn" and status != "withdrawn":
        raise NotApproved(["the file is withdrawn: make a new version of it instead"])
    if status == "checked" and now.status == "superseded":
        raise NotApproved(["the file is superseded: make a new version of it instead"])
    if status == "checked" and now.digest and now.digest == approval_digest(whole.text, now):
        raise NotApproved([f"the file is {now.status} and unchanged since: it is more than checked"])
    if status == "in-force":
        stands = approval_state(whole.protocol, whole.text, today)
        if not stands.sound:
            raise NotApproved([stands.why])
    elif status in ("superseded", "withdrawn"):
        missing = ["no reason is given"] if not reason.strip() else []
        missing += ["nobody does it: name the role that decides (--role)"] if not role.strip() else []
        if missing:
            raise NotApproved(missing)
    if reason.strip():
        fields["reason"] = clean(reason).strip()
    act = Act(
        status=status,
        by=clean(role).strip(),
        on=today.isoformat(),
        version=whole.protocol.version,
        reason=clean(reason).strip(),
        digest=now.digest,
    )
    return _written(text, name, folder, fields, _acts(whole.protocol, act))


def _written(text: str, name: str, folder: Path | None, fields: Mapping[str, str], acts: Sequence[Act]) -> str:
    """The text with the fields in its table ``[approval]``; read again, to be sure that nothing else has changed."""
    was = effective(text, name, folder).protocol.approval.history
    changed = with_approval(text, name, fields, acts)
    before, after = (reading.parsed(each, name)[0] for each in (text, changed))
    table = after.pop("approval")
    before.pop("approval", None)
    kept = effective(changed, name, folder).protocol.approval
    if (
        before != after
        or any(getattr(kept, key) != value for key, value in fields.items())
        or kept.history != [*was, *acts]
    ):
        raise AssertionError(f"approving would have changed more than the approval: {table}")
    return changed


def with_approval(text: str, name: str, fields: Mapping[str, str], acts: Sequence[Act] = ()) -> str:
    """The text with these members in its table ``[approval]``, and these acts at the end of its history; all else as it
    stood, comments included.

    Raises NotApproved where the approval stands in another form than as a table under its own heading.
    """
    data, positions = reading.parsed(text, name)
    end = "\r\n" if "\r\n" in text else "\n"
    lines = {key: f"{key} = {_toml(value)}" for key, value in fields.items()}
    told = "".join(f"{end}{line}" if line.startswith("[[") else line for act in acts for line in _act_lines(act, end))
    if "approval" not in data:
        return f"{text.rstrip()}{end}{end}[approval]{end}{end.join(lines.values())}{end}{told}"
    at = positions.keys[("approval",)]
    if not _HEADER.search(text[text.rfind("\n", 0, at) + 1 : at]):
        raise NotApproved(["the approval stands on a line of its own making: write it as a table headed [approval]"])
    edits: list[tuple[int, int, str]] = []
    last = foot = at
    for path, place in positions.values.items():
        if path[:2] == ("approval", "history"):
            if len(path) == 4:
                foot = max(foot, _value_end(text, place))
        elif path[:1] == ("approval",) and len(path) == 2:
            last = max(last, _value_end(text, place))
            if path[1] in lines:
                edits.append((place, _value_end(text, place), _toml(fields[str(path[1])])))
    new = [line for key, line in lines.items() if ("approval", key) not in positions.values]
    fresh = "".join(f"{line}{end}" for line in new)
    if told and foot <= last:  # both come below one line: one edit, so that their order is kept
        fresh, told = fresh + told, ""
    edits += [_below(text, place, put, end) for place, put in ((last, fresh), (foot, told)) if put]
    for start, stop, put in sorted(edits, reverse=True):
        text = text[:start] + put + text[stop:]
    return text


def _below(text: str, last: int, put: str, end: str) -> tuple[int, int, str]:
    """An edit that puts whole lines below the line on which ``last`` lies."""
    foot = text.find("\n", last)
    return (len(text), len(text), end + put) if foot < 0 else (foot + 1, foot + 1, put)


def _act_lines(act: Act, end: str) -> list[str]:
    members = act.model_dump(exclude_defaults=True)
    return [f"[[approval.history]]{end}", *(f"{key} = {_toml(str(value))}{end}" for key, value in members.items())]


def _value_end(text: str, start: int) -> int:
    if text[start] in "\"'":
        return string_end(text, start)
    match = re.compile(r"[^\s#]+").match(text, start)
    return match.end() if match else start


def _toml(value: str) -> str:
    if _DAY.fullmatch(value):
        return value
    return tomli_w.dumps({"x": value}).removeprefix("x = ").removesuffix("\n")
