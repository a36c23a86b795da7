"""The finding rules of a protocol: what its ``[[finding]]`` tables ask of steps and targets.

Forms: ``omitted`` and ``out_of_order`` (with a ``severity``, or "as the step"), ``over``, ``under`` and ``outside`` a
``target`` (with an ``owner`` whose part counts, and ``by`` how much an aim may be missed). A file without any such
table is judged by all of its targets and steps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from coach.protocol.model import Protocol, Severity

Kind = Literal["omitted", "out_of_order", "over", "under", "outside"]
KINDS: tuple[Kind, ...] = ("omitted", "out_of_order", "over", "under", "outside")
AS_THE_STEP = "as the step"
MILDER: dict[Severity, Severity] = {"critical": "major", "major": "minor", "minor": "minor"}
_GRADES: dict[str, Severity] = {"critical": "critical", "major": "major", "minor": "minor"}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. ``severity`` is ``None`` where it is the step's own (for order: one grade milder than the step)."""

    id: str
    kind: Kind
    severity: Severity | None
    say: Mapping[str, str]
    source: tuple[str, ...]
    target: str = ""
    owner: str = ""
    by: float | None = None


def rules_of(protocol: Protocol) -> tuple[Rule, ...]:
    """The finding rules of a protocol; those of another form are not for this room and are left alone."""
    if not protocol.finding:
        return _by_targets(protocol)
    found: list[Rule] = []
    for table in protocol.finding:
        kind = next((kind for kind in KINDS if isinstance(table.get(kind), Mapping)), None)
        if kind is None:
            continue
        asked: Mapping[str, Any] = table[kind]
        by = asked.get("by")
        grade = str(asked.get("severity") or table.get("severity") or AS_THE_STEP)
        severity = _GRADES.get(grade)
        if severity is None and kind in ("over", "under", "outside"):
            severity = "minor"
        found.append(
            Rule(
                str(table.get("id", kind)),
                kind,
                severity,
                _wording(table.get("say", "")),
                _names(table.get("source", [])),
                str(asked.get("target", "")),
                str(asked.get("owner", "")),
                float(by) if isinstance(by, int | float) else None,
            )
        )
    return tuple(found)


def _wording(say: object) -> Mapping[str, str]:
    return {str(key): str(value) for key, value in say.items()} if isinstance(say, Mapping) else {"en": str(say)}


def _names(names: object) -> tuple[str, ...]:
    return (names,) if isinstance(names, str) else tuple(map(str, names)) if isinstance(names, list | tuple) else ()


def _by_targets(protocol: Protocol) -> tuple[Rule, ...]:
    rules = [
        Rule("omitted", "omitted", None, {"en": "Not marked, and a later step was."}, ()),
        Rule("out-of-order", "out_of_order", None, {"en": "Marked out of order."}, ()),
    ]
    for name, target in protocol.targets.items():
        if target.from_ is None and target.to is None:
            continue
        kind: Kind = "over" if target.from_ is None else "under" if target.to is None else "outside"
        say = {"en": f"{name.replace('_', ' ').replace('-', ' ').capitalize()} past its limit."}
        rules.append(Rule(f"{name.replace('_', '-')}-{kind}", kind, target.severity, say, tuple(target.source), name))
    return tuple(rules)
