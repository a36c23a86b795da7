"""What a local file does to its base that judges less strictly: grades lowered, limits widened, steps let off."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from coach.protocol.positions import Path
from coach.units import MS_PER, exact, parse_quantity

_GRADES = {"minor": 0, "major": 1, "critical": 2, "as the step": 2}


def relaxation(at: Path, old: Any, new: Any, unit: str = "") -> str:
    """How a member of the base that becomes ``new`` is less strict than ``old`` (None: it was left out), "" for not.

    ``at`` is where the base has it, ``unit`` that of the table around it. What cannot be told is no relaxation; whether
    the value is legal at all is not asked here.
    """
    key = at[-1]
    if key == "severity":
        before = old if old is not None else "major" if _is_step(at) else "minor" if at[0] == "targets" else None
        grades = [_GRADES.get(value) if isinstance(value, str) else None for value in (before, new)]
        if grades[0] is not None and grades[1] is not None and grades[1] < grades[0]:
            return f"severity {new} instead of {before}"
    elif key == "required" and new is False and old is not False:
        return "required = false, and it was required"
    elif (key in ("from", "to") and at[0] == "targets") or key in ("within", "by", "over"):
        amounts = [_amount(value, unit) for value in (old, new)]
        if amounts[0] is not None and amounts[1] is not None and _wider(str(key), amounts[0], amounts[1]):
            return f"{key} {_told(new, unit)} instead of {_told(old, unit)}"
    return ""


def _is_step(at: Path) -> bool:
    return len(at) == 5 and at[0] == "track" and at[2] == "step"


def _wider(key: str, old: Fraction, new: Fraction) -> bool:
    return new < old if key == "from" else new > old


def _amount(value: Any, unit: str) -> Fraction | None:
    """A bound or a time as a number, times in ms; None where it is none."""
    try:
        if isinstance(value, str):
            number, written = parse_quantity(value)
            return number * MS_PER.get(written or unit, 1)
        return None if isinstance(value, bool) or value is None else exact(value) * MS_PER.get(unit, 1)
    except (ValueError, TypeError):
        return None


def _told(value: Any, unit: str) -> str:
    return value if isinstance(value, str) else f"{value} {unit}".strip()
