"""Quantities with their units, exact: nothing here is a float once it has been read.

Durations are whole milliseconds; weights are grams and ages are thousandths of a month, as whole numbers where a
protocol holds them and as fractions where a person may give any decimal (55 lb is 24 947.580 35 g).
"""

from __future__ import annotations

import re
from fractions import Fraction

MS_PER = {"ms": 1, "s": 1_000, "min": 60_000}
"""Milliseconds in each unit of time that a file may use."""

GRAMS_PER = {"g": Fraction(1), "kg": Fraction(1_000), "lb": Fraction(45_359_237, 100_000)}
"""Grams in each unit of weight. The pound is 0.453 592 37 kg by definition (international pound of 1959)."""

MONTH_PARTS_PER = {"month": Fraction(1_000), "year": Fraction(12_000)}
"""Thousandths of a month in each unit of age; a year is twelve months."""

CM_PER = {"mm": Fraction(1, 10), "cm": Fraction(1), "in": Fraction(254, 100)}
"""Centimetres in each unit of length. The inch is 2.54 cm by definition."""

_SPELLINGS = {
    **{name: name for name in (*MS_PER, *GRAMS_PER, *MONTH_PARTS_PER, *CM_PER, "/min", "%")},
    "years": "year",
    "months": "month",
    "lbs": "lb",
}
_QUANTITY = re.compile(r"\s*([0-9]{1,12}(?:\.[0-9]{1,9})?)\s*([a-zA-Z/%]*)\s*", re.ASCII)
_LONGEST_MS = 24 * 60 * 60_000


def parse_quantity(text: str) -> tuple[Fraction, str]:
    """A number and its unit from text such as ``"24.9 kg"``; the unit is "" where none is written.

    Raises ValueError for anything else: a sign, an exponent, a second number, an unknown unit.
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError('a quantity is a number and a unit, such as "10 s" or "25 kg"')
    number, unit = match.groups()
    if unit and unit not in _SPELLINGS:
        known = ", ".join(dict.fromkeys(_SPELLINGS.values()))
        raise ValueError(f"unknown unit {unit!r}; units are {known}")
    return Fraction(number), _SPELLINGS.get(unit, "")


def parse_duration(value: object) -> int:
    """Milliseconds from ``"500 ms"``, ``"10 s"``, ``"1.5 s"`` or ``"2 min"``.

    Raises ValueError where the unit is missing or is none of time, where the duration is zero, over a day, or no
    whole number of milliseconds.
    """
    if isinstance(value, bool) or not isinstance(value, (str, int, float)):
        raise ValueError('a duration is text with a unit, such as "10 s"')
    if not isinstance(value, str):
        raise ValueError(f'the unit is missing: write "{value} s", "{value} min" or "{value} ms"')
    number, unit = parse_quantity(value)
    if not unit:
        given = value.strip()
        raise ValueError(f'the unit is missing: write "{given} s", "{given} min" or "{given} ms"')
    if unit not in MS_PER:
        raise ValueError(f"{unit!r} is no unit of time; use ms, s or min")
    ms = number * MS_PER[unit]
    if ms == 0:
        raise ValueError("a duration of zero is not allowed")
    if ms.denominator != 1:
        raise ValueError("a duration is a whole number of milliseconds")
    if ms > _LONGEST_MS:
        raise ValueError("a duration of more than a day is not allowed")
    return int(ms)


def duration_text(ms: int) -> str:
    """The duration as a file writes it, in the largest unit that keeps it whole: ``"2 min"``, ``"90 s"``."""
    for unit in ("min", "s"):
        if ms % MS_PER[unit] == 0:
            return f"{ms // MS_PER[unit]} {unit}"
    return f"{ms} ms"


def clock(ms: int) -> str:
    """A time as people read it, ``m:ss`` with the second begun: 0:00, 1:59, 12:05. Negative times bear a minus sign."""
    seconds = abs(ms) // 1_000
    return f"{'-' if ms < 0 else ''}{seconds // 60}:{seconds % 60:02d}"


def exact(value: int | float | str | Fraction) -> Fraction:
    """The number as it is written: 7.9 is 79/10, not the nearest binary fraction. Raises ValueError for no number."""
    if isinstance(value, float):
        value = repr(value)
    try:
        return Fraction(value)
    except (ValueError, OverflowError, ZeroDivisionError):
        raise ValueError(f"{value!r} is not a number") from None


def _in_parts(value: int | float | str, unit: str, table: dict[str, Fraction], what: str, units: str) -> Fraction:
    if isinstance(value, bool):
        raise ValueError(f"{what} is a number with a unit")
    if isinstance(value, str):
        number, written = parse_quantity(value)
        unit = written or unit
    else:
        number = exact(value)
    if number < 0:
        raise ValueError(f"{what} is never below zero")
    if unit not in table:
        raise ValueError(f"{what} needs one of the units {units}")
    return number * table[unit]


def grams(value: int | float | str, unit: str = "") -> Fraction:
    """The weight in grams, exact. ``unit`` (g, kg, lb) serves where the value bears none; without any, ValueError."""
    return _in_parts(value, unit, GRAMS_PER, "a weight", "kg, lb or g")


def month_parts(value: int | float | str, unit: str = "") -> Fraction:
    """The age in thousandths of a month, exact. ``unit`` (year, month) serves where the value bears none."""
    return _in_parts(value, unit, MONTH_PARTS_PER, "an age", "years or months")


def centimetres(value: int | float | str, unit: str = "") -> Fraction:
    """The length in centimetres, exact. ``unit`` (cm, mm, in) serves where the value bears none."""
    return _in_parts(value, unit, CM_PER, "a length", "cm, mm or in")


def held(value: int | float | str, unit: str) -> int:
    """A number fact as the engine holds it, from what a file gives, in the fact's own ``unit``.

    kg: whole grams; year and month: whole thousandths of a month; person and "": a whole number. Text may bear a unit
    of its own of the same kind (``"6 months"``, ``"55 lb"``). What is finer than one part is cut down to it, so that
    ``<`` and ``>=`` against a whole constant decide as the exact value would. Raises ValueError for what is no such
    number, and for a fraction of a person.
    """
    if unit == "kg":
        return int(grams(value, unit))
    if unit in MONTH_PARTS_PER:
        return int(month_parts(value, unit))
    if isinstance(value, bool):
        raise ValueError("a number is needed here")
    number = exact(value)
    if number.denominator != 1:
        raise ValueError("a whole number is needed here")
    return int(number)


def quantity_text(value: int | Fraction, unit: str) -> str:
    """A held number fact as people read it: ``"24.9 kg"``, ``"6 months"``, ``"8 years"``, ``"2"``; to 3 decimals."""
    if unit == "kg":
        return f"{_decimal(Fraction(value) / 1_000)} kg"
    if unit in MONTH_PARTS_PER:
        months = Fraction(value) / 1_000
        if months < 24 and months % 12:
            return f"{_decimal(months)} month{'' if months == 1 else 's'}"
        years = months / 12
        return f"{_decimal(years)} year{'' if years == 1 else 's'}"
    return _decimal(Fraction(value))


def _decimal(number: Fraction) -> str:
    """The number with up to three decimals, rounded half up, without trailing zeros."""
    thousandths = int(number * 1_000 + Fraction(1, 2))
    whole, rest = divmod(thousandths, 1_000)
    return f"{whole}.{rest:03d}".rstrip("0").rstrip(".") if rest else str(whole)
