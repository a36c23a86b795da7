"""What a local file does to a rule of its base: relaxes it, drops it, or makes it tighter, and from what to what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from coach.protocol.model import Protocol, Relax
from coach.units import parse_duration

SMALLER, GREATER = frozenset({"at_most", "within", "count.at_most"}), frozenset({"count.at_least"})
"""The bounds of a rule that ask for more the smaller, or the greater, they are."""

ABSENT = frozenset({"count.at_most", "count.at_least"})
"""Bounds that need not be there: without one there is no bound. Any other that comes makes another sentence."""

WORDS = frozenset({"say", "source"})
"""What a rule says of itself: it is judged the same without."""


class Turn(NamedTuple):
    """One member of a rule that is another now, those of a count one by one; None where there is none."""

    member: str
    was: Any
    now: Any


def turns(relax: Relax) -> tuple[Turn, ...]:
    """Which members of the rule are other than the base's; none where the rule is dropped, or stays as it was."""
    return tuple(_turns(relax.was, relax.was | relax.to))


def _turns(was: Mapping[str, Any], now: Mapping[str, Any], inside: str = "") -> Iterator[Turn]:
    for member in dict.fromkeys((*was, *now)):
        one, two = was.get(member), now.get(member)
        if member == "count" and isinstance(one, Mapping) and isinstance(two, Mapping):
            yield from _turns(one, two, f"{member}.")
        elif one != two:
            yield Turn(f"{inside}{member}", one, two)


def tightened(relax: Relax) -> bool:
    """Whether every run that keeps the rule as it reads now keeps the base's too: the sentence is the same but for
    bounds, and each of those asks for more. What is not plainly so counts as relaxed."""
    changed = [turn for turn in turns(relax) if turn.member not in WORDS]
    return bool(changed) and all(map(_tighter, changed))


def _tighter(turn: Turn) -> bool:
    was, now = _amount(turn.was), _amount(turn.now)
    if turn.was is None:
        return turn.member in ABSENT and now is not None
    if was is None or now is None:
        return False
    return now < was if turn.member in SMALLER else turn.member in GREATER and now > was


def _amount(value: Any) -> int | None:
    """Milliseconds, or a count."""
    if isinstance(value, str):
        try:
            return parse_duration(value)
        except ValueError:
            return None
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def relaxed_rules(protocol: Protocol) -> list[str]:
    """The rules of a base that ask for less here, or for something else."""
    return [ident for ident, relax in protocol.relaxed.items() if not tightened(relax)]


def tightened_rules(protocol: Protocol) -> list[str]:
    """The rules of a base that ask for more here."""
    return [ident for ident, relax in protocol.relaxed.items() if tightened(relax)]


def relaxed_words(relax: Relax) -> str:
    """From what to what, on one line: ``at most 45 s, was 31 s``."""
    if not relax.to:
        return "dropped"
    told = [
        f"{turn.member.rpartition('.')[2].replace('_', ' ')} {plainly(turn.now)}, was {plainly(turn.was)}"
        for turn in turns(relax)
    ]
    return "; ".join(told) or "as it was"


def plainly(value: Any) -> str:
    """A value of a file as a line for people."""
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return f"{{ {members(value)} }}"
    if isinstance(value, list):
        return f"[{', '.join(plainly(each) for each in value)}]"
    if isinstance(value, float):
        return f"{value:g}"
    return str(value).lower() if isinstance(value, bool) else str(value)


def members(table: Mapping[str, Any]) -> str:
    """A table's members, each with its value."""
    return ", ".join(f"{key} = {plainly(value)}" for key, value in table.items())
