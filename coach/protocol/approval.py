"""How far a protocol is approved today: nothing is taken for approved because it could be read.

What an approver signs is the whole protocol in force (of a local file: flattened) with the dates and the role that
stand beside the signature. Its digest covers exactly that: change a word, a number or a date afterwards, and the
approval no longer fits.
"""

from __future__ import annotations

import hashlib
import json
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from coach.protocol.model import Approval, Protocol
from coach.protocol.reading import digest
from coach.protocol.relaxing import relaxed_rules, tightened_rules

SIGNED_FIELDS = ("author", "approver", "approved_on", "effective", "review_due")
"""What is signed together with the content. The status moves on afterwards (in force, superseded) and is not."""


class ApprovalState(NamedTuple):
    """``word`` for a band or a record, ``why`` as a sentence; ``sound`` only where a test needs no typed reason:
    signed by another than its author, unchanged since, in force and not due for review."""

    word: str
    sound: bool
    why: str


@lru_cache(maxsize=64)
def _canonical(text: str) -> str:
    return digest(text).canonical


def content_digest(text: str) -> str:
    """The sha256 (hex) of the content alone, whatever its approval. Raises FileProblems where the text is no TOML."""
    return _canonical(text)


def approval_digest(text: str, approval: Approval) -> str:
    """The sha256 (hex) of exactly what is approved: the content of ``text``, a whole protocol in force, and the signed
    fields of ``approval``. Raises FileProblems where the text is no TOML."""
    signed = {field: getattr(approval, field) for field in SIGNED_FIELDS}
    exact = json.dumps({"content": _canonical(text), **signed}, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(exact.encode("utf-8")).hexdigest()


def approval_state(protocol: Protocol, text: str, today: date) -> ApprovalState:
    """How the approval of a protocol stands on a day; ``text`` is the whole protocol in force, as a log holds it.

    A rule of a base that is relaxed, or tightened, is said beside whatever else there is to say.
    """
    word, sound, why = _state(protocol.approval, text, today)
    for how, idents in (("relaxed", relaxed_rules(protocol)), ("tightened", tightened_rules(protocol))):
        if idents:
            rules = f"1 rule {how}" if len(idents) == 1 else f"{len(idents)} rules {how}"
            word, why = f"{word}, {rules}", f"{why}; {rules}: {', '.join(idents)}"
    return ApprovalState(word, sound, why)


def _state(approval: Approval, text: str, today: date) -> ApprovalState:
    status = approval.status
    if status == "draft":
        return ApprovalState("draft", False, "draft: nobody has approved it")
    if status == "checked":
        return ApprovalState("checked", False, "checked, not approved yet")
    if status in ("superseded", "withdrawn"):
        return ApprovalState(status, False, f"{status}{f': {approval.reason}' if approval.reason else ''}")
    if not (approval.approver and approval.approved_on and approval.digest):
        return ApprovalState("not signed", False, "says approved, but bears no signature: approver, date and digest")
    signature = f"{approval.approver} approved it on {approval.approved_on}"
    if approval.digest != approval_digest(text, approval):
        return ApprovalState("changed since approved", False, f"changed since {signature}")
    if approval.approver.strip().casefold() == approval.author.strip().casefold():
        return ApprovalState("approver is author", False, f"approved by its own author, {approval.author}")
    if approval.effective and last_day(approval.effective) < first_day(approval.approved_on):
        why = f"in force from {approval.effective}, before {signature}"
        return ApprovalState("effective before approval", False, why)
    if today < first_day(approval.approved_on):
        return ApprovalState("approved later than today", False, f"{signature}, which lies ahead: is the clock right?")
    if approval.effective and today < first_day(approval.effective):
        why = f"approved by {approval.approver}, not in force before {approval.effective}"
        return ApprovalState("not in force yet", False, why)
    if approval.review_due and today > last_day(approval.review_due):
        return ApprovalState("review date passed", False, f"expired: its review was due {approval.review_due}")
    review = f", review due {approval.review_due}" if approval.review_due else ""
    return ApprovalState(
        "in force", True, f"in force, approved by {approval.approver} on {approval.approved_on}{review}"
    )


def first_day(day: str) -> date:
    """The day, or the first of the month, that an approval writes."""
    return date.fromisoformat(day if len(day) == len("2026-01-31") else f"{day}-01")


def last_day(day: str) -> date:
    """The day, or the last of the month, that an approval writes."""
    first = first_day(day)
    if len(day) == len("2026-01-31"):
        return first
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
