"""What is settled before go: the facts, the rhythm script, what is thrown when. Draws are made here, once, by seed.

A plan is written whole into a log's header, so that a replay never draws again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from coach.engine.machine import Machine
from coach.engine.state import FactValue, State
from coach.protocol.model import Fact, Protocol, Scenario, Span
from coach.units import held

COUNTINGS = ("each", "probe", "marks", "counter")
UNITS = ("floor", "laptop")


class PlanProblem(ValueError):
    """A scenario that does not fit the protocol; the message says what, where and what to do."""


@dataclass(frozen=True, slots=True)
class PlannedThrow:
    """An inject that throws itself: ``at`` ms since go, or ``by`` ms after ``after_on`` is observed."""

    name: str
    digit: int
    at: int | None = None
    after_on: str = ""
    by: int | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """The resolved plan of one drill. ``facts`` has every fact of the protocol and the built-in ones, held as guards
    read them; ``digits`` says which inject each digit throws; ``script`` names the rhythm script's fact."""

    facts: dict[str, FactValue]
    throws: tuple[PlannedThrow, ...]
    digits: dict[int, str]
    seed: int
    unit: str
    counting: str
    script: str = ""
    script_counter: str = ""

    def rhythm(self, machine: Machine, state: State) -> str:
        """The script's word for this analysis: the first before any, the last once past the end; "" with no script."""
        words = self.facts.get(self.script)
        if not isinstance(words, tuple) or not words:
            return ""
        done = state.counters[machine.layout.counters[self.script_counter]] if self.script_counter else 1
        return words[min(max(done, 1), len(words)) - 1]

    def as_json(self) -> dict[str, Any]:
        """The plan as a log's header holds it."""
        return {
            "facts": {name: list(value) if isinstance(value, tuple) else value for name, value in self.facts.items()},
            "throws": [
                {"name": one.name, "digit": one.digit, "at": one.at, "after": one.after_on, "by": one.by}
                for one in self.throws
            ],
            "digits": {str(digit): name for digit, name in self.digits.items()},
            "seed": self.seed,
            "unit": self.unit,
            "counting": self.counting,
            "script": self.script,
            "script_counter": self.script_counter,
        }

    @classmethod
    def from_json(cls, table: Mapping[str, Any]) -> Plan:
        """The plan of a log's header; KeyError, TypeError or ValueError where it is none."""
        return cls(
            facts={name: tuple(value) if isinstance(value, list) else value for name, value in table["facts"].items()},
            throws=tuple(
                PlannedThrow(one["name"], one["digit"], one["at"], one["after"], one["by"]) for one in table["throws"]
            ),
            digits={int(digit): name for digit, name in table["digits"].items()},
            seed=table["seed"],
            unit=table["unit"],
            counting=table["counting"],
            script=table["script"],
            script_counter=table["script_counter"],
        )


def draw(seed: int, purpose: str, number: int, low: int, high: int) -> int:
    """A whole number from ``low`` to ``high``, both included, fixed by the seed, what it is for and its number."""
    drawn = int.from_bytes(sha256(f"{seed}:{purpose}:{number}".encode()).digest()[:8], "big")
    return low + drawn % (high - low + 1)


def fact_value(name: str, fact: Fact, raw: Any) -> FactValue:
    """One fact as guards read it, from what a file gives. Raises :class:`PlanProblem`."""
    if raw is None or raw == "unknown":
        if fact.may_be_unknown:
            return None
        raise PlanProblem(f"{name} is not given, and the protocol does not let it be unknown: give it a value")
    if fact.kind == "flag":
        if not isinstance(raw, bool):
            raise PlanProblem(f"{name} is true or false, not {raw!r}")
        return raw
    if fact.kind == "choice":
        if raw not in fact.of:
            raise PlanProblem(f"{name} is one of {', '.join(fact.of)}, not {raw!r}")
        return str(raw)
    if fact.kind == "script":
        words = [raw] if isinstance(raw, str) else raw
        if not isinstance(words, list) or not words or any(word not in fact.of for word in words):
            raise PlanProblem(f"{name} is a list of {', '.join(fact.of)}, not {raw!r}")
        return tuple(words)
    if isinstance(raw, bool) or not isinstance(raw, (int, float, str)):
        raise PlanProblem(f"{name} is a number, not {raw!r}")
    try:
        value = held(raw, fact.unit)
        low = held(fact.from_, fact.unit) if fact.from_ is not None else value
        high = held(fact.to, fact.unit) if fact.to is not None else value
    except ValueError as error:
        raise PlanProblem(f"{name}: {error}") from error
    if not low <= value <= high:
        raise PlanProblem(f"{name} = {raw} lies outside {fact.from_} to {fact.to} {fact.unit}".rstrip())
    return value


def resolve(
    protocol: Protocol,
    scenario: Scenario | None = None,
    *,
    unit: str = "floor",
    counting: str = "each",
    seed: int | None = None,
) -> Plan:
    """Settle everything before go. Without a scenario each fact takes the file's default and the digits throw the
    file's default injects. Raises :class:`PlanProblem` where scenario and protocol do not fit."""
    if unit not in UNITS:
        raise PlanProblem(f"the unit is one of {', '.join(UNITS)}, not {unit!r}")
    if counting not in COUNTINGS:
        raise PlanProblem(f"counting is one of {', '.join(COUNTINGS)}, not {counting!r}")
    given = scenario.facts if scenario is not None else {}
    facts: dict[str, FactValue] = {}
    for name, fact in protocol.facts.items():
        facts[name] = fact_value(name, fact, given.get(name, fact.default))
    facts["unit"], facts["counting"] = unit, counting
    number = scenario.seed if seed is None and scenario is not None else (seed or 0)
    digits = {inject.digit: name for name, inject in protocol.inject.items() if inject.digit is not None}
    throws: list[PlannedThrow] = []
    if scenario is not None:
        if scenario.throw:
            digits = {}
        for place, throw in enumerate(scenario.throw):
            if throw.name not in protocol.inject:
                known = ", ".join(protocol.inject) or "none"
                raise PlanProblem(
                    f"scenario {scenario.id} throws {throw.name!r}, unknown to {protocol.id}, which knows: {known}"
                )
            if throw.digit in digits:
                raise PlanProblem(f"scenario {scenario.id} puts two injects on the digit {throw.digit}")
            digits[throw.digit] = throw.name
            at = throw.at
            if isinstance(at, Span):
                at = draw(number, "throw", place, at.from_, at.to)
            throws.append(
                PlannedThrow(
                    throw.name,
                    throw.digit,
                    at,
                    throw.after.on if throw.after is not None else "",
                    throw.after.by if throw.after is not None else None,
                )
            )
    script = next((name for name, fact in protocol.facts.items() if fact.kind == "script"), "")
    return Plan(
        facts=facts,
        throws=tuple(throws),
        digits=dict(sorted(digits.items())),
        seed=number,
        unit=unit,
        counting=counting,
        script=script,
        script_counter=protocol.facts[script].counter if script else "",
    )
