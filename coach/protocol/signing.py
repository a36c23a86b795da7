"""Putting an approval into a file: the fewest characters changed, every comment kept, and nothing else touched."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import tomli_w

from coach.protocol import reading
from coach.protocol.approval import approval_digest, approval_state, first_day, last_day
from coach.protocol.model import Approval, Protocol
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
    return _written(text, name, folder, fields)


def move_on(text: str, name: str, folder: Path | None, *, status: str, reason: str, today: date) -> str:
    """The text of a protocol file with another status: ``in-force`` for what is soundly approved, ``superseded`` and
    ``withdrawn`` for anything, with a reason; ``checked`` for whatever the caller has checked and nobody has signed as
    it stands. What was withdrawn stays so. Raises NotApproved or FileProblems."""
    whole = effective(text, name, folder)
    fields = {"status": status}
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
    elif status in ("superseded", "withdrawn") and not reason.strip():
        raise NotApproved(["no reason is given"])
    if reason.strip():
        fields["reason"] = clean(reason).strip()
    return _written(text, name, folder, fields)


def _written(text: str, name: str, folder: Path | None, fields: Mapping[str, str]) -> str:
    """The text with the fields in its table ``[approval]``; read again, to be sure that nothing else has changed."""
    changed = with_approval(text, name, fields)
    before, after = (reading.parsed(each, name)[0] for each in (text, changed))
    table = after.pop("approval")
    before.pop("approval", None)
    kept = effective(changed, name, folder).protocol.approval
    if before != after or any(getattr(kept, key) != value for key, value in fields.items()):
        raise AssertionError(f"approving would have changed more than the approval: {table}")
    return changed


def with_approval(text: str, name: str, fields: Mapping[str, str]) -> str:
    """The text with these members in its table ``[approval]``, all else as it stood, comments included.

    Raises NotApproved where the approval stands in another form than as a table under its own heading.
    """
    data, positions = reading.parsed(text, name)
    end = "\r\n" if "\r\n" in text else "\n"
    lines = {key: f"{key} = {_toml(value)}" for key, value in fields.items()}
    if "approval" not in data:
        return f"{text.rstrip()}{end}{end}[approval]{end}{end.join(lines.values())}{end}"
    at = positions.keys[("approval",)]
    if not _HEADER.search(text[text.rfind("\n", 0, at) + 1 : at]):
        raise NotApproved(["the approval stands on a line of its own making: write it as a table headed [approval]"])
    edits: list[tuple[int, int, str]] = []
    last = at
    for path, place in positions.values.items():
        if path[:1] == ("approval",) and len(path) == 2:
            last = max(last, _value_end(text, place))
            if path[1] in lines:
                edits.append((place, _value_end(text, place), _toml(fields[str(path[1])])))
    new = [line for key, line in lines.items() if ("approval", key) not in positions.values]
    if new:
        foot = text.find("\n", last)
        place = len(text) if foot < 0 else foot + 1
        begin = end if foot < 0 else ""
        edits.append((place, place, begin + "".join(f"{line}{end}" for line in new)))
    for start, stop, put in sorted(edits, reverse=True):
        text = text[:start] + put + text[stop:]
    return text


def _value_end(text: str, start: int) -> int:
    if text[start] in "\"'":
        return string_end(text, start)
    match = re.compile(r"[^\s#]+").match(text, start)
    return match.end() if match else start


def _toml(value: str) -> str:
    if _DAY.fullmatch(value):
        return value
    return tomli_w.dumps({"x": value}).removeprefix("x = ").removesuffix("\n")
