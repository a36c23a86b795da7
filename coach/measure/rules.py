"""The finding rules of a protocol: what its ``[[finding]]`` tables ask of steps and targets.

Forms: ``omitted`` and ``out_of_order`` (with a ``severity``, or "as the step"); ``late`` (``steps`` that stayed undone
past their own ``within``); ``over``, ``under`` and ``outside`` a ``target`` (with an ``owner`` whose part counts, and
``by`` how much an aim may be missed); ``hands_on_over`` (``what``: the shock or the analysis that hands stayed on for);
``earlier`` (``this`` was seen before ``than``), ``missing_before`` (``than`` was seen and ``this`` not before it) and
``absent`` (``this`` was not seen while hands worked on the chest for longer than ``over``).
Any of them may have ``again``, what to do instead, ``when``, a guard on the facts of the casualty, and ``roles``, whose
it is where several rescuers are there. A file without any such table is judged by all of its targets and steps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from coach import wording
from coach.measure.targets import title_of
from coach.measure.wording import WORDS
from coach.protocol.model import Protocol, Severity
from coach.units import parse_duration

Kind = Literal[
    "omitted",
    "out_of_order",
    "late",
    "over",
    "under",
    "outside",
    "hands_on_over",
    "earlier",
    "missing_before",
    "absent",
]
KINDS: tuple[Kind, ...] = get_args(Kind)
AS_THE_STEP = "as the step"
MILDER: dict[Severity, Severity] = {"critical": "major", "major": "minor", "minor": "minor"}
_GRADES: dict[str, Severity] = {"critical": "critical", "major": "major", "minor": "minor"}


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. ``severity`` is ``None`` where it is the step's own (for order and lateness: one grade milder);
    ``again`` is what to do instead, where the file says that; ``worked_over`` is in ms."""

    id: str
    kind: Kind
    severity: Severity | None
    say: Mapping[str, str]
    source: tuple[str, ...]
    target: str = ""
    owner: str = ""
    by: float | None = None
    steps: tuple[str, ...] = ()
    what: str = ""
    this: tuple[str, ...] = ()
    than: tuple[str, ...] = ()
    worked_over: int = 0
    when: str = ""
    roles: tuple[str, ...] = ()
    again: Mapping[str, str] = field(default_factory=dict)


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
        if severity is None and kind not in ("omitted", "out_of_order", "late"):
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
                _names(asked.get("steps", [])),
                str(asked.get("what", "")),
                _names(asked.get("this", [])),
                _names(asked.get("than", [])),
                _ms(asked.get("over")),
                str(table.get("when", "")),
                _names(table.get("roles", [])),
                _wording(table.get("again", {})),
            )
        )
    return tuple(found)


def _ms(value: object) -> int:
    """A time written as "60 s", in ms; 0 for what is none, which the check of the file names."""
    try:
        return parse_duration(value)
    except ValueError:
        return 0


def _wording(say: object) -> Mapping[str, str]:
    return {str(key): str(value) for key, value in say.items()} if isinstance(say, Mapping) else {"en": str(say)}


def _names(names: object) -> tuple[str, ...]:
    return (names,) if isinstance(names, str) else tuple(map(str, names)) if isinstance(names, list | tuple) else ()


def _ours(ident: str) -> dict[str, str]:
    """A sentence of ours in every language."""
    return {language: wording.say(WORDS, language, ident) for language in wording.LANGUAGES}


def _by_targets(protocol: Protocol) -> tuple[Rule, ...]:
    rules = [
        Rule("omitted", "omitted", None, _ours("rule-omitted"), ()),
        Rule("out-of-order", "out_of_order", None, _ours("rule-out-of-order"), ()),
    ]
    for name, target in protocol.targets.items():
        if target.from_ is None and target.to is None:
            continue
        kind: Kind = "over" if target.from_ is None else "under" if target.to is None else "outside"
        say = {one: wording.say(WORDS, one, "rule-past", target=title_of(name, one)) for one in wording.LANGUAGES}
        rules.append(Rule(f"{name.replace('_', '-')}-{kind}", kind, target.severity, say, tuple(target.source), name))
    return tuple(rules)
