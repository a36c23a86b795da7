"""Which arrow of one version is which of another, and what they do differently."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from coach.check.compare.guards import Meaning, Room, both_hold, compare_guards
from coach.observations import label
from coach.protocol.model import Arrow, Authored, Protocol
from coach.protocol.names import arrow_ids

Place = tuple[str, str]
"""Track and step; the step is "" for a track's own arrows."""


class Pair(NamedTuple):
    """An arrow of the old version and what became of it; one of the two is None where it came or went."""

    place: Place
    old: Arrow | None
    new: Arrow | None


def lists_of(protocol: Protocol) -> dict[Place, list[Arrow]]:
    """Every list of arrows, by where it stands."""
    found: dict[Place, list[Arrow]] = {}
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            found[track_name, step_name] = step.go
        found[track_name, ""] = track.go
    return found


def pairs(old: Protocol, new: Protocol, renamed: dict[str, str]) -> list[Pair]:
    """The arrows of both versions, matched within each step: by id, then by what they wait for and where they lead.

    ``renamed`` gives the new name of each step that was renamed.
    """
    before, after = lists_of(old), lists_of(new)
    found: list[Pair] = []
    seen: set[Place] = set()
    for (track, step), arrows in before.items():
        place = (track, renamed.get(step, step))
        seen.add(place)
        found += _matched(place, arrows, after.get(place, []), renamed)
    for place, arrows in after.items():
        if place not in seen:
            found += [Pair(place, None, arrow) for arrow in arrows]
    return found


def _matched(place: Place, before: list[Arrow], after: list[Arrow], renamed: dict[str, str]) -> Iterator[Pair]:
    left, right = list(before), list(after)
    found: dict[int, Arrow] = {}
    same: tuple[Callable[[Arrow, Arrow], bool], ...] = (
        lambda a, b: bool(a.id) and a.id == b.id,
        lambda a, b: _on(a) == _on(b) and a.when == b.when and renamed.get(a.to, a.to) == b.to,
        lambda a, b: _on(a) == _on(b) and renamed.get(a.to, a.to) == b.to,
        lambda a, b: _on(a) == _on(b) and a.when == b.when,
        lambda a, b: _on(a) == _on(b),
        lambda a, b: bool(_on(a) & _on(b)) and renamed.get(a.to, a.to) == b.to,
    )
    for number, alike in enumerate(same):
        for arrow in list(left):
            for other in right:
                # an id of one's own means just that arrow: it is matched by nothing else
                if alike(arrow, other) and (number == 0 or not (arrow.id and other.id)):
                    found[id(arrow)] = other
                    left.remove(arrow)
                    right.remove(other)
                    break
    for arrow in before:
        yield Pair(place, arrow, found.get(id(arrow)))
    for arrow in right:
        yield Pair(place, None, arrow)


def _on(arrow: Arrow) -> frozenset[str]:
    return frozenset(arrow.on)


def arrow_names(old: Protocol, new: Protocol, matched: list[Pair]) -> dict[str, str]:
    """The old id of each arrow of the new version, by its new id; an arrow that came has none."""
    before, after = arrow_ids(old), arrow_ids(new)
    return {
        after[id(pair.new)]: before[id(pair.old)] for pair in matched if pair.old is not None and pair.new is not None
    }


def named(pair: Pair) -> str:
    """An arrow as people call it: its step, what it waits for, and its id if it has one."""
    arrow = pair.new if pair.new is not None else pair.old
    assert arrow is not None
    track, step = pair.place
    events = " / ".join(label(event) for event in arrow.on)
    own = f" ({arrow.id})" if arrow.id else ""
    return f"{track}, {step or 'any step'}: on {events}{own}"


def differences(
    pair: Pair, old: Room, new: Room, renamed: dict[str, str], asked: bool = True
) -> Iterator[tuple[str, bool]]:
    """What a matched pair does differently, in words, each with whether the meaning is sure to differ; what their
    guards ask only where ``asked``."""
    one, two = pair.old, pair.new
    assert one is not None and two is not None
    gone, come = _on(one) - _on(two), _on(two) - _on(one)
    if gone or come:
        yield f"waits for {_names(sorted(two.on))} instead of {_names(sorted(one.on))}", True
    meaning = compare_guards(old, one.when, new, two.when) if asked else Meaning("same")
    if meaning.kind == "differ":
        was, now = ("taken", "not taken") if meaning.left else ("not taken", "taken")
        asks = f"asks `{two.when or 'nothing'}` instead of `{one.when or 'nothing'}`"
        yield f"{asks}: with {meaning.case} it was {was}, now {now}", True
    elif meaning.kind == "not decided":
        yield f"asks `{two.when}` instead of `{one.when}`: too many cases to compare, not decided", True
    if renamed.get(one.to, one.to) != two.to:
        yield f"leads {_to(two)} instead of {_to(one)}", True
    for field, words in _FIELDS.items():
        was, now = getattr(one, field), getattr(two, field)
        if (sorted(was) != sorted(now)) if isinstance(was, list) else was != now:
            yield f"{words} {_names(now)} instead of {_names(was)}", True
    if (one.fault is None) != (two.fault is None):
        yield "is a fault now" if two.fault is not None else "is no fault any more", True
    elif one.fault is not None and two.fault is not None:
        if one.fault.id != two.fault.id:
            yield f"makes the fault {two.fault.id} instead of {one.fault.id}", True
        if one.fault.severity != two.fault.severity:
            yield f"its fault is {two.fault.severity} instead of {one.fault.severity}", True
        yield from _rest("its fault's ", one.fault, two.fault, {"id", "severity", "say", "again", "source"})
    for said in ("cue", "voice"):
        if bool(getattr(one, said)) != bool(getattr(two, said)):
            yield f"has {'a' if getattr(two, said) else 'no'} {said} now", True
    yield from _rest("", one, two, {*_FIELDS, "id", "on", "when", "to", "fault", "cue", "voice", "source"})


def _rest(whose: str, one: Authored, two: Authored, told: set[str]) -> Iterator[tuple[str, bool]]:
    """The members that are not told of apart, as they stand."""
    was, now = one.model_dump(by_alias=True), two.model_dump(by_alias=True)
    for key in was:
        if key not in told and was[key] != now[key]:
            yield f"{whose}{key} {_names(now[key])} instead of {_names(was[key])}", True


_FIELDS = {
    "mark": "marks",
    "unmark": "unmarks",
    "set": "sets",
    "add": "adds",
    "start": "starts",
    "stop": "stops",
    "restart": "restarts",
    "emit": "emits",
}


def _to(arrow: Arrow) -> str:
    return f"to {arrow.to}" if arrow.to else "nowhere (stays)"


def _names(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} {number}" for name, number in value.items()) or "nothing"
    return (", ".join(str(each) for each in value) if isinstance(value, list) else str(value)) or "nothing"


def reordered(matched: list[Pair], new: Protocol, room: Room) -> Iterator[tuple[Pair, Pair]]:
    """Arrows of one list whose order changed and means something, the one that is tried first now in front: they can
    wait for one event with both guards true."""
    order = {id(arrow): number for arrows in lists_of(new).values() for number, arrow in enumerate(arrows)}
    by_place: dict[Place, list[tuple[Pair, Arrow]]] = {}
    for pair in matched:
        if pair.old is not None and pair.new is not None:
            by_place.setdefault(pair.place, []).append((pair, pair.new))
    for group in by_place.values():
        for number, (first, one) in enumerate(group):
            for second, two in group[number + 1 :]:
                swapped = order[id(one)] > order[id(two)] and _on(one) & _on(two)
                if swapped and both_hold(room, one.when, two.when) is not False:
                    yield second, first
