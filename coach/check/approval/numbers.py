"""Every number of a protocol file that says something of the trade, with where it comes from.

Numbers of the program's own bookkeeping are none of these: how far a counter counts, what an arrow adds to it, which
digit throws an inject.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from coach.protocol.expr import Compare, names, tests
from coach.protocol.guards import parse
from coach.protocol.model import Protocol
from coach.protocol.names import arrow_ids, arrows
from coach.text import one_line
from coach.units import duration_text

_LENGTH = re.compile(r"\d")


@dataclass(frozen=True, slots=True)
class Number:
    """One number of the file: what it is, its value in words, and where it comes from, with each source's grade."""

    what: str
    value: str
    sources: tuple[tuple[str, str], ...]


def numbers_of(protocol: Protocol) -> Iterator[Number]:
    """Every number of the file. One without a source is listed with none: the sheet hides nothing."""
    for what, value, cited in (*_told(protocol), *_guarded(protocol)):
        known = tuple((name, protocol.sources[name].grade) for name in cited if name in protocol.sources)
        yield Number(what, one_line(value), known)


Row = tuple[str, str, list[str]]
"""What a number is, its value in words, and the names of its sources."""


def _told(protocol: Protocol) -> Iterator[Row]:
    """Numbers that stand in the file as members of their own."""
    for name, target in protocol.targets.items():
        bounds = ("from", target.from_), ("aim at", target.value), ("to", target.to)
        value = ", ".join(f"{word} {_plain(bound)}" for word, bound in bounds if bound is not None)
        yield f"target {name}", f"{value} {target.unit}", target.source
    for name, timer in protocol.timers.items():
        parts = [
            f"after {duration_text(timer.after)}" if timer.after is not None else "",
            f"every {duration_text(timer.every)}" if timer.every is not None else "",
            f"{timer.most} times" if timer.most is not None else "",
        ]
        yield f"timer {name}", ", ".join(part for part in parts if part), timer.source
    for track in protocol.track.values():
        for name, step in track.step.items():
            if step.within is not None:
                yield f"step {name}: late after", duration_text(step.within), step.source
    for name, inject in protocol.inject.items():
        if inject.within is not None:
            yield f"inject {name}: late after", duration_text(inject.within), inject.source
        if inject.times > 1:
            yield f"inject {name}: thrown at most", f"{inject.times} times", inject.source
    for name, fact in protocol.facts.items():
        if fact.kind == "number":
            default = f", else {_plain(fact.default)}" if fact.default is not None else ""
            yield f"fact {name}", f"{_plain(fact.from_)} to {_plain(fact.to)} {fact.unit}{default}", fact.source
    for rule in protocol.rule:
        for where, number in _leaves({key: part for key, part in rule.items() if key not in ("id", "say", "source")}):
            yield f"rule {rule.get('id', '')}: {where}", number, _cited(rule)
    for finding in protocol.finding:
        for key in ("over", "under", "outside"):
            by = finding.get(key, {}).get("by") if isinstance(finding.get(key), dict) else None
            if by is not None:
                yield f"finding {finding.get('id', '')}: by", _plain(by), _cited(finding)
        if isinstance(finding.get("absent"), dict):
            yield f"finding {finding.get('id', '')}: after", str(finding["absent"].get("over", "")), _cited(finding)
    for key, value in protocol.pass_.items():
        if isinstance(value, int) and not isinstance(value, bool):
            yield f"pass: {key.replace('_', ' ')}", f"at most {value}", _cited(protocol.pass_)


def _leaves(table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Lengths of time and counts inside a rule, with the member that holds them; guards come elsewhere."""
    for key, value in table.items():
        if isinstance(value, Mapping):
            yield from _leaves(value)
        elif isinstance(value, int) and not isinstance(value, bool):
            yield key.replace("_", " "), str(value)
        elif isinstance(value, str) and _LENGTH.match(value):
            yield key.replace("_", " "), value


def _guarded(protocol: Protocol) -> Iterator[Row]:
    """Conditions that compare with a number, wherever they stand, then the named ones with the sources of what reads
    them."""
    reads: dict[str, list[str]] = {}
    placed = list(_guards(protocol))
    for what, guard, cited in placed:
        if _compares(guard):
            yield f"{what}: where", guard, cited
        for name in _terms(guard, protocol):
            reads[name] = list(dict.fromkeys((*reads.get(name, []), *cited)))
    for name, guard in protocol.terms.items():
        if _compares(guard):
            yield f"condition {name}", guard, reads.get(name, [])


def _guards(protocol: Protocol) -> Iterator[Row]:
    ids = arrow_ids(protocol)
    for place in arrows(protocol):
        arrow = place.arrow
        if arrow.when:
            step = protocol.track[place.track].step.get(place.step)
            own = [*arrow.source, *(arrow.fault.source if arrow.fault is not None else [])]
            yield f"arrow {ids[id(arrow)]}", arrow.when, own or ([] if step is None else step.source)
    for track in protocol.track.values():
        for name, step in track.step.items():
            if step.when:
                yield f"step {name}", step.when, step.source
    for name, inject in protocol.inject.items():
        if inject.when:
            yield f"inject {name}", inject.when, inject.source
    for rule in protocol.rule:
        for guard in _whens(rule):
            yield f"rule {rule.get('id', '')}", guard, _cited(rule)


def _whens(table: Mapping[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        if key == "when" and isinstance(value, str):
            yield value
        elif isinstance(value, Mapping):
            yield from _whens(value)


def _compares(guard: str) -> bool:
    return any(isinstance(test, Compare) for test in tests(parse(guard)))


def _terms(guard: str, protocol: Protocol) -> Iterator[str]:
    """The named conditions that a guard reads, also through others."""
    waiting, met = [guard], set[str]()
    while waiting:
        for name in sorted(names(parse(waiting.pop())) & protocol.terms.keys() - met):
            met.add(name)
            waiting.append(protocol.terms[name])
            yield name


def _cited(table: Mapping[str, Any]) -> list[str]:
    cited = table.get("source", [])
    return [cited] if isinstance(cited, str) else [str(each) for each in cited]


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
