"""How an approval stands on a day."""

from __future__ import annotations

from datetime import date

import pytest

from coach.protocol.approval import first_day, last_day, standing
from coach.protocol.model import Approval

SIGNED = {
    "status": "in-force",
    "author": "desk",
    "approver": "medical director",
    "approved_on": "2026-01-02",
    "digest": "d1",
    "effective": "2026-02-01",
    "review_due": "2027-01-31",
}


@pytest.mark.parametrize(
    ("changes", "today", "sound", "words"),
    [
        ({}, "2026-02-01", True, "in force, approved by medical director on 2026-01-02, review due 2027-01-31"),
        ({}, "2027-01-31", True, "in force"),
        ({}, "2027-02-01", False, "expired: its review was due 2027-01-31"),
        ({}, "2026-01-31", False, "not in force before 2026-02-01"),
        ({"review_due": "2027-02"}, "2027-02-28", True, "in force"),
        ({"review_due": "2027-02"}, "2027-03-01", False, "expired"),
        ({"effective": "2026-02"}, "2026-01-31", False, "not in force"),
        ({"status": "approved"}, "2026-06-01", True, "in force"),
        ({"digest": "d0"}, "2026-06-01", False, "changed since medical director approved it on 2026-01-02"),
        ({"digest": ""}, "2026-06-01", False, "bears no signature"),
        ({"approver": ""}, "2026-06-01", False, "bears no signature"),
        ({"approved_on": ""}, "2026-06-01", False, "bears no signature"),
        ({"status": "draft"}, "2026-06-01", False, "draft: nobody has approved it"),
        ({"status": "checked"}, "2026-06-01", False, "checked, not approved yet"),
        ({"status": "withdrawn", "reason": "a wrong limit"}, "2026-06-01", False, "withdrawn: a wrong limit"),
        ({"status": "superseded"}, "2026-06-01", False, "superseded"),
    ],
)
def test_standing(changes: dict[str, str], today: str, sound: bool, words: str) -> None:
    found = standing(Approval(**{**SIGNED, **changes}), "d1", date.fromisoformat(today))  # type: ignore[arg-type]
    assert found.sound is sound
    assert words in found.words


def test_a_month_runs_from_its_first_day_to_its_last() -> None:
    assert (first_day("2024-02"), last_day("2024-02")) == (date(2024, 2, 1), date(2024, 2, 29))
    assert last_day("2026-12") == date(2026, 12, 31)
    assert last_day("2026-12-05") == date(2026, 12, 5)
