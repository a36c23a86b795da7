"""How far a protocol is approved today, in words: nothing is taken for approved because it could be read."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from coach.protocol.model import Approval


class Standing(NamedTuple):
    """``words`` for people; ``sound`` only where a test needs no typed reason: signed, unchanged, in force, not due."""

    words: str
    sound: bool


def standing(approval: Approval, digest: str, today: date) -> Standing:
    """How an approval stands on a day, for a file whose canonical digest is ``digest``."""
    status = approval.status
    if status in ("draft", "checked"):
        return Standing("draft: nobody has approved it" if status == "draft" else "checked, not approved yet", False)
    if status in ("superseded", "withdrawn"):
        return Standing(f"{status}{f': {approval.reason}' if approval.reason else ''}", False)
    if not (approval.approver and approval.approved_on and approval.digest):
        return Standing("says approved, but bears no signature: approver, date and digest", False)
    if approval.digest != digest:
        return Standing(f"changed since {approval.approver} approved it on {approval.approved_on}", False)
    if approval.effective and today < first_day(approval.effective):
        return Standing(f"approved by {approval.approver}, not in force before {approval.effective}", False)
    if approval.review_due and today > last_day(approval.review_due):
        return Standing(f"expired: its review was due {approval.review_due}", False)
    review = f", review due {approval.review_due}" if approval.review_due else ""
    return Standing(f"in force, approved by {approval.approver} on {approval.approved_on}{review}", True)


def first_day(day: str) -> date:
    """The day, or the first of the month, that an approval writes."""
    return date.fromisoformat(day if len(day) == len("2026-01-31") else f"{day}-01")


def last_day(day: str) -> date:
    """The day, or the last of the month, that an approval writes."""
    first = first_day(day)
    if len(day) == len("2026-01-31"):
        return first
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)
