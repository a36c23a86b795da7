"""What a run is judged by, compared: targets, the rule for a pass, and findings of the checker that are waived.

None of it changes a run. What asks for less than before stands with the rules that are relaxed.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from coach.protocol.model import Fault, Inject, Protocol, Target
from coach.units import parse_duration, parse_quantity

GRAVE = ("minor", "major", "critical")
"""Severities, from the lightest."""

FAULTS = {"critical_faults": 0, "major_faults": None, "minor_faults": None}
"""How many faults a pass allows where the file does not say; None: they are not counted."""


def widened(one: Target, two: Target | None) -> set[str]:
    """The members by which a target lets more by than it did: a bound further out or gone, a lighter severity;
    ``gone`` where it is not there any more."""
    if two is None:
        return {"gone"}
    found = {"severity"} if _lighter(one.severity, two.severity) else set()
    for name, was, now, sign in (("from", one.from_, two.from_, -1), ("to", one.to, two.to, 1)):
        before, after = _bound(was, one.unit), _bound(now, two.unit)
        out = before and after and before[1] == after[1] and sign * (after[0] - before[0]) > 0
        if out or (was is not None and now is None):
            found.add(name)
    return found


def _lighter(was: object, now: object) -> bool:
    """Whether one severity is below another; no where either is none."""
    return was in GRAVE and now in GRAVE and GRAVE.index(str(now)) < GRAVE.index(str(was))


def _bound(value: float | str | None, unit: str) -> tuple[Fraction, str] | None:
    """A bound with its unit; None where it is none, or cannot be read as one."""
    if value is None:
        return None
    try:
        number, own = parse_quantity(value if isinstance(value, str) else str(value))
    except ValueError:
        return None
    return number, own or unit


def asks_less(key: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    """Whether a member of the rule for a pass, which differs, asks for less than before."""
    was, now = old.get(key), new.get(key)
    if not old or not new:
        return False  # a file without such a rule signs nobody off
    if key in FAULTS:
        before, after = old.get(key, FAULTS[key]), new.get(key, FAULTS[key])
        counted = [one for one in (before, after) if isinstance(one, int)]
        return after is None if len(counted) < 2 else bool(after > before)
    if key in ("targets", "criteria"):
        return bool(_names(was) - _names(now))
    return was is not None  # a word that stood for what is asked, and no longer stands


def finds_less(old: Mapping[str, Any], new: Mapping[str, Any] | None) -> bool:
    """Whether a finding that differs is gone, lighter, or comes later than it did."""
    if new is None:
        return True
    kinds = [key for key, value in old.items() if isinstance(value, Mapping) and isinstance(new.get(key), Mapping)]
    tables = [(old, new), *((old[key], new[key]) for key in kinds if key not in ("say", "again"))]
    for was, now in tables:
        if _lighter(was.get("severity"), now.get("severity")):
            return True
        first, then = (_ms(one.get("over")) for one in (was, now))
        if first is not None and then is not None and then > first:
            return True
    return False


def _ms(value: Any) -> int | None:
    try:
        return parse_duration(value)
    except ValueError:
        return None


def lighter_fault(old: Fault | None, new: Fault | None) -> bool:
    """Whether a fault is not noted any more, or graded lower."""
    return old is not None and (new is None or _lighter(old.severity, new.severity))


def unjudged(old: Inject, new: Inject) -> set[str]:
    """The members of an inject under which a fault is not noted any more."""
    found = {"late"} if old.late is not None and new.late is None else set()
    gone = {one.fault.id for one in old.forbidden} - {one.fault.id for one in new.forbidden}
    return found | {"forbidden"} if gone else found


def _names(value: Any) -> set[str]:
    return {str(one) for one in value} if isinstance(value, list) else {str(value)} if value else set()


def waivers(protocol: Protocol) -> dict[str, str]:
    """The reason of each waiver, by its code and the place that it names."""
    return {f"{one.code} at {one.where}" if one.where else one.code: one.reason for one in protocol.waive}
