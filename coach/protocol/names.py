"""Names in a protocol: which forms are legal, what is built in, what a file declares, and ids for arrows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from coach.observations import DERIVED_EVENTS, OBSERVATIONS
from coach.protocol.model import Arrow, Fact, Protocol

NAME = re.compile(r"[a-z][a-z0-9_]{0,63}", re.ASCII)
"""Facts, counters, marks, terms, timers, tracks, steps, arrows, events: what guards and logs spell out."""

DASHED = re.compile(r"[a-z][a-z0-9_-]{0,63}", re.ASCII)
"""Injects, sources, targets, rules, findings and faults may have hyphens."""

PROTOCOL_ID = re.compile(r"[a-z][a-z0-9-]{0,63}/[a-z][a-z0-9-]{0,63}", re.ASCII)
"""``<guidance folder>/<name>``."""

BUILT_IN_FACTS: dict[str, Fact] = {
    "unit": Fact(kind="choice", of=["floor", "laptop"], default="floor"),
    "counting": Fact(kind="choice", of=["each", "probe", "marks", "counter"], default="each"),
}
"""Facts that every protocol has without declaring them."""

HANDS_TRACK = "hands"
HANDS_STEPS = ("hands_off_chest", "hands_on_chest")
"""The built-in track that turns pushes into runs."""

RESCUER_ROLES = ("lead", "second", "breaths", "unit", "caller")
"""Roles that several rescuers can have: what a briefing offers, and what `roles` of a step or a fault may name."""

PREFIXED_EVENTS = ("timer", "inject", "closed")
"""Kinds of event written ``kind:NAME``."""


def guidance_folder(guidance: str) -> str:
    """The folder that the name of a guidance gives: "ERC 2025" is ``erc-2025``."""
    return re.sub(r"[^a-z0-9]+", "-", guidance.casefold()).strip("-")


class PlacedArrow(NamedTuple):
    """An arrow and where its file has it. ``step`` is "" for an arrow of the track's own ``go`` list."""

    track: str
    step: str
    place: int
    arrow: Arrow

    @property
    def path(self) -> tuple[str | int, ...]:
        """The path of keys that leads to the arrow in its file."""
        inside = ("step", self.step) if self.step else ()
        return ("track", self.track, *inside, "go", self.place)


def arrows(protocol: Protocol) -> Iterator[PlacedArrow]:
    """Every authored arrow in file order: the steps of each track, then the track's own."""
    for track_name, track in protocol.track.items():
        for step_name, step in track.step.items():
            for index, arrow in enumerate(step.go):
                yield PlacedArrow(track_name, step_name, index, arrow)
        for index, arrow in enumerate(track.go):
            yield PlacedArrow(track_name, "", index, arrow)


def arrow_ids(protocol: Protocol) -> dict[int, str]:
    """The id of every authored arrow, by ``id(arrow)``: its own, or one made from where it stands.

    A made id is ``<step>.<on>`` (``<track>.<on>`` for an arrow of a track's own list) with its first observation; where
    that is taken, ``~2``, ``~3`` and so on follow in file order. The same file always gives the same ids, and no name
    that an author may write holds a full stop, so that a made id never meets an authored one.
    """
    made: dict[int, str] = {}
    used: set[str] = set()
    for place in arrows(protocol):
        if place.arrow.id:
            made[id(place.arrow)] = place.arrow.id
            continue
        stem = f"{place.step or place.track}.{place.arrow.on[0] if place.arrow.on else 'never'}"
        name, count = stem, 1
        while name in used:
            count += 1
            name = f"{stem}~{count}"
        used.add(name)
        made[id(place.arrow)] = name
    return made


def marks_set(protocol: Protocol) -> set[str]:
    """Every mark that the protocol can set, ``late.STEP`` of bounded steps included."""
    found: set[str] = set()
    for place in arrows(protocol):
        found.update(place.arrow.mark)
    for track in protocol.track.values():
        for name, step in track.step.items():
            found.update(step.mark)
            if step.within is not None:
                found.add(f"late.{name}")
    return found


def fault_ids(protocol: Protocol) -> set[str]:
    """Every fault that an arrow or an inject of the protocol can note."""
    found = {place.arrow.fault.id for place in arrows(protocol) if place.arrow.fault is not None}
    for inject in protocol.inject.values():
        found.update(forbidden.fault.id for forbidden in inject.forbidden)
        if inject.late is not None:
            found.add(inject.late.id)
    return found


def emitted(protocol: Protocol) -> set[str]:
    """Every event that the protocol emits of itself."""
    found: set[str] = set()
    for place in arrows(protocol):
        found.update(place.arrow.emit)
    for track in protocol.track.values():
        for step in track.step.values():
            found.update(step.emit)
    for inject in protocol.inject.values():
        found.update(inject.emit)
    return found


def plain_events(protocol: Protocol) -> set[str]:
    """Every event without a prefix that an arrow of the protocol may wait for."""
    return {*OBSERVATIONS, *DERIVED_EVENTS, *protocol.observations, *emitted(protocol)}
