"""Making mutants: a protocol's whole text with one thing in it changed, every such change once, in a fixed order.

Structural ones take an arrow out, lead it elsewhere, try it in another order, turn, drop or weaken a guard, take out a
mark, a count, a timer's start or stop, an emitted event, an armed step or a fault, or lower a severity. Shifts of
numbers (``number``) halve and double times and bounds.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import tomli_w

Raw = dict[str, Any]
Path = tuple[str | int, ...]

LOWER = {"critical": "major", "major": "minor"}

LISTS = ("mark", "unmark", "start", "stop", "restart", "emit")
"""Members of arrows and steps of which one word is taken out at a time."""


class Mutant(NamedTuple):
    """``kind`` is what was done, ``where`` to what, both in words; ``do`` does it to a protocol's tables; ``number``
    where it only shifts a number."""

    kind: str
    where: str
    do: Callable[[Raw], None]
    number: bool = False

    def __str__(self) -> str:
        return f"{self.kind}: {self.where}"


def mutants(text: str) -> list[Mutant]:
    """Every mutant of a protocol's whole (flattened) text."""
    return list(_changes(tomllib.loads(text)))


def changed(text: str, mutant: Mutant) -> str:
    """The whole text with a mutant's change in it."""
    raw = tomllib.loads(text)
    mutant.do(raw)
    return tomli_w.dumps(raw)


def _at(raw: Any, path: Path) -> Any:
    for part in path:
        raw = raw[part]
    return raw


def _put(path: Path, value: Any) -> Callable[[Raw], None]:
    def do(raw: Raw) -> None:
        _at(raw, path[:-1])[path[-1]] = value

    return do


def _gone(path: Path) -> Callable[[Raw], None]:
    def do(raw: Raw) -> None:
        del _at(raw, path[:-1])[path[-1]]

    return do


def _listed(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else list(value)


def _changes(raw: Raw) -> Iterator[Mutant]:
    for path, where, siblings in _arrow_places(raw):
        yield from _of_arrow(raw, path, where, siblings)
    for track_name, track in raw["track"].items():
        for step_name, step in track["step"].items():
            where = f"step {track_name}.{step_name}"
            path: Path = ("track", track_name, "step", step_name)
            yield from _of_lists(step, path, where)
            if step.get("armed"):
                yield Mutant("armed removed", where, _gone((*path, "armed")))
            if step.get("severity") in LOWER:
                yield Mutant("severity lowered", where, _put((*path, "severity"), LOWER[step["severity"]]))
            if "within" in step:
                yield from _of_number((*path, "within"), step["within"], where)
    for name, term in raw.get("terms", {}).items():
        for kind, weaker in _guards_from(term):
            if weaker:
                yield Mutant(kind, f"term {name}", _put(("terms", name), weaker))
    for name, inject in raw.get("inject", {}).items():
        yield from _of_inject(inject, ("inject", name), f"inject {name}")
    for name, timer in raw.get("timers", {}).items():
        for key in ("after", "every", "most"):
            if key in timer:
                yield from _of_number(("timers", name, key), timer[key], f"timer {name}")
    for name, target in raw.get("targets", {}).items():
        for key in ("from", "to", "value"):
            if key in target:
                yield from _of_number(("targets", name, key), target[key], f"target {name}")


# --- arrows -----------------------------------------------------------------------------------------------------------


def _arrow_places(raw: Raw) -> Iterator[tuple[Path, str, list[Raw]]]:
    for track_name, track in raw["track"].items():
        for place, arrow in enumerate(track.get("go", [])):
            yield ("track", track_name, "go", place), _arrow_name(track_name, "", place, arrow), track["go"]
        for step_name, step in track["step"].items():
            for place, arrow in enumerate(step.get("go", [])):
                path: Path = ("track", track_name, "step", step_name, "go", place)
                yield path, _arrow_name(track_name, step_name, place, arrow), step["go"]


def _arrow_name(track: str, step: str, place: int, arrow: Raw) -> str:
    at = f"{track}.{step}" if step else track
    return f"{at} arrow {place + 1} on {'/'.join(_listed(arrow['on']))}"


def _of_arrow(raw: Raw, path: Path, where: str, siblings: list[Raw]) -> Iterator[Mutant]:
    arrow, place = _at(raw, path), path[-1]
    assert isinstance(place, int)
    yield Mutant("arrow removed", where, _gone(path))
    events = _listed(arrow["on"])
    if len(events) > 1:
        for event in events:
            left = [one for one in events if one != event]
            yield Mutant(f"arrow deaf to {event}", where, _put((*path, "on"), left))
    if "to" in arrow:
        steps = list(raw["track"][str(path[1])]["step"])
        at = steps.index(arrow["to"])
        for other in dict.fromkeys((steps[at - 1], steps[(at + 1) % len(steps)])):
            if other != arrow["to"]:
                yield Mutant(f"arrow led to {other}", where, _put((*path, "to"), other))
        yield Mutant("arrow stays", where, _gone((*path, "to")))
    if place + 1 < len(siblings) and set(events) & set(_listed(siblings[place + 1]["on"])):

        def swapped(made: Raw) -> None:
            row = _at(made, path[:-1])
            row[place], row[place + 1] = row[place + 1], row[place]

        yield Mutant("arrow tried after the next", where, swapped)
    if "when" in arrow:
        for kind, other in _guards_from(arrow["when"]):
            yield Mutant(kind, where, _put((*path, "when"), other) if other else _gone((*path, "when")))
    yield from _of_lists(arrow, path, where)
    for key in ("set", "add"):
        for name in arrow.get(key, {}):
            yield Mutant(f"{key} {name} removed", where, _gone((*path, key, name)))
    if "fault" in arrow:
        yield Mutant("fault removed", where, _gone((*path, "fault")))
        if arrow["fault"]["severity"] in LOWER:
            lower = LOWER[arrow["fault"]["severity"]]
            yield Mutant("severity lowered", where, _put((*path, "fault", "severity"), lower))


def _of_lists(table: Raw, path: Path, where: str) -> Iterator[Mutant]:
    for key in LISTS:
        words = _listed(table.get(key, []))
        for word in words:
            left = [one for one in words if one != word]
            change = _put((*path, key), left) if left else _gone((*path, key))
            yield Mutant(f"{key} {word} removed", where, change)


# --- guards -----------------------------------------------------------------------------------------------------------


def _guards_from(text: str) -> Iterator[tuple[str, str]]:
    """Other guards in place of one: turned round, dropped (""), without one of its parts."""
    yield "guard negated", f"not ({text})"
    yield "guard dropped", ""
    for weaker in _without_a_part(text):
        yield f"guard weakened to {weaker}", weaker


def _without_a_part(text: str) -> Iterator[str]:
    """A guard without one of the parts that its `and`, its `or` or a bracket in it joins."""
    for word in (" or ", " and "):
        parts = _split(text, word)
        if len(parts) > 1:
            for place in range(len(parts)):
                yield word.join(parts[:place] + parts[place + 1 :])
            for place, part in enumerate(parts):
                for weaker in _without_a_part(part):
                    yield word.join([*parts[:place], weaker, *parts[place + 1 :]])
            return
    head = "not " if text.startswith("not ") else ""
    rest = text.removeprefix(head)
    if rest.startswith("(") and rest.endswith(")"):
        for weaker in _without_a_part(rest[1:-1]):
            yield f"{head}({weaker})"


def _split(text: str, word: str) -> list[str]:
    """The parts of a guard's text between a word that stands in no bracket."""
    parts = [""]
    for piece in text.split(word):
        if parts[-1].count("(") == parts[-1].count(")") and parts != [""]:
            parts.append(piece)
        else:
            parts[-1] = f"{parts[-1]}{word}{piece}" if parts[-1] else piece
    return parts


# --- injects and numbers ----------------------------------------------------------------------------------------------


def _of_inject(inject: Raw, path: Path, where: str) -> Iterator[Mutant]:
    if "when" in inject:
        for kind, other in _guards_from(inject["when"]):
            yield Mutant(kind, where, _put((*path, "when"), other) if other else _gone((*path, "when")))
    for key in ("emit", "allowed"):
        words = _listed(inject.get(key, []))
        for word in words:
            left = [one for one in words if one != word]
            change = _put((*path, key), left) if left else _gone((*path, key))
            yield Mutant(f"{key} {word} removed", where, change)
    for place, forbidden in enumerate(inject.get("forbidden", [])):
        named = f"{where}, forbidden {'/'.join(_listed(forbidden['on']))}"
        yield Mutant("fault removed", named, _gone((*path, "forbidden", place)))
        if forbidden["fault"]["severity"] in LOWER:
            lower = LOWER[forbidden["fault"]["severity"]]
            yield Mutant("severity lowered", named, _put((*path, "forbidden", place, "fault", "severity"), lower))
    if "late" in inject:
        yield Mutant("fault removed", f"{where}, late", _gone((*path, "late")))
        if inject["late"]["severity"] in LOWER:
            lower = LOWER[inject["late"]["severity"]]
            yield Mutant("severity lowered", f"{where}, late", _put((*path, "late", "severity"), lower))
    if "within" in inject:
        yield from _of_number((*path, "within"), inject["within"], where)


def _of_number(path: Path, value: Any, where: str) -> Iterator[Mutant]:
    """Half and double of a number or of a time with its unit."""
    text = str(value)
    digits, _, unit = text.partition(" ")
    for word, factor in (("doubled", 2), ("halved", 0.5)):
        number = float(digits) * factor
        if isinstance(value, int) and number < 1:
            continue
        new: Any = f"{number:g} {unit}" if isinstance(value, str) else type(value)(number)
        yield Mutant(f"{path[-1]} {word}", where, _put(path, new), True)
