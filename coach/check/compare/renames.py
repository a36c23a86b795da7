"""Timers and marks that go by another name in the other version: so that a rule which names them is not called relaxed.

A name counts as another's only where everything that mentions the one is, with the other put in its place, everything
that mentions the other: nothing is guessed from how names look.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from coach.protocol.model import Protocol
from coach.protocol.names import marks_set

RUNS = frozenset({"track", "inject", "terms", "timers"})
"""The tables in which timers and marks are set, asked and told of; rules are what is compared by the names."""


def renames(old: Protocol, new: Protocol) -> dict[str, str]:
    """Names of the old version with what they are called in the new one."""
    tables = [each.model_dump(by_alias=True, exclude_defaults=True, include=set(RUNS)) for each in (old, new)]
    found: dict[str, str] = {}
    for was, now in ((set(old.timers), set(new.timers)), (set(marks_set(old)), set(marks_set(new)))):
        come = {name: Counter(_places(tables[1], name)) for name in sorted(now - was)}
        for name in sorted(was - now):
            fits = [
                other
                for other, places in come.items()
                if other not in found.values() and Counter(_places(tables[0], name, other)) == places
            ]
            if len(fits) == 1:
                found[name] = fits[0]
    return found


def called_anew(value: Any, names: Mapping[str, str]) -> Any:
    """A value of a file with the names put in."""
    if isinstance(value, str):
        for name, other in names.items():
            value = _word(name).sub(other, value)
        return value
    if isinstance(value, Mapping):
        return {called_anew(key, names): called_anew(part, names) for key, part in value.items()}
    return [called_anew(part, names) for part in value] if isinstance(value, list) else value


def _word(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-]){re.escape(name)}(?![\w-])")


def _places(value: Any, name: str, other: str = "", path: str = "") -> Iterator[str]:
    """Each innermost table that mentions a name, as text with where it stands, ``other`` put in its place."""
    if isinstance(value, list):
        for part in value:
            yield from _places(part, name, other, path)
    elif isinstance(value, Mapping):
        if any(_mentions(part, name) or key == name for key, part in value.items()):
            shown = {key: part for key, part in value.items() if key == name or not isinstance(part, Mapping)}
            if path in ("/timers", "/terms"):  # a table of named things: only the one that matters
                shown = {key: part for key, part in shown.items() if key == name or _mentions(part, name)}
            yield f"{path} {json.dumps(called_anew(shown, {name: other or name}), sort_keys=True, default=str)}"
        for key, part in value.items():
            yield from _places(part, name, other, f"{path}/{other if other and key == name else key}")


def _mentions(part: Any, name: str) -> bool:
    """Whether a plain value, or a list of such, has the name in it."""
    if isinstance(part, list):
        return any(isinstance(one, str) and _mentions(one, name) for one in part)
    return isinstance(part, str) and bool(_word(name).search(part))
