"""A protocol as a picture: one flat diagram for each track, in the order of the file.

This is the drawing's model, and the drawing as text for a terminal; Mermaid, DOT and SVG are made from the same model.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from coach.engine.build import arrows_from
from coach.observations import OBSERVATIONS, label
from coach.protocol.model import Arrow, Protocol, Timer, Track
from coach.protocol.names import arrow_ids
from coach.text import one_line
from coach.units import duration_text

WIDTH = 80
"""Columns of the picture in a terminal."""

ANY = "*"
"""The node that stands for every step of a track: arrows of the track's own list begin there."""

Noted = list[tuple[str, str]]
"""Places of findings with their codes."""

Kind = Literal["plain", "timer", "fault"]


@dataclass(frozen=True, slots=True)
class Node:
    """One step. ``end`` is true where no arrow leads out of it, of its own, lent by the spine or of its track."""

    id: str
    title: str
    start: bool = False
    end: bool = False
    armed: bool = False
    spine: bool = False
    limit: str = ""
    found: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Edge:
    """One arrow of the file. ``stays`` where it leads nowhere else; ``found`` are the codes of findings on it."""

    id: str
    source: str
    target: str
    on: tuple[str, ...]
    when: str
    kind: Kind
    stays: bool
    fault: str = ""
    clock: str = ""
    found: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What stands beside the arrow, on one line."""
        said = self.clock if self.kind == "timer" else " / ".join(self.on)
        when = f" [{self.when}]" if self.when else ""
        fault = f" !! {self.fault}" if self.fault else ""
        return one_line(f"{said}{when}{fault}{''.join(f' <{code}>' for code in self.found)}")


@dataclass(frozen=True, slots=True)
class Diagram:
    """One track: its steps and arrows in file order. ``number`` of ``count`` is its place among the tracks."""

    track: str
    title: str
    number: int
    count: int
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]


def diagrams(protocol: Protocol, findings: Iterable[Mapping[str, Any]] = ()) -> tuple[Diagram, ...]:
    """The diagrams of a protocol. ``findings`` are tables with ``code`` and ``about``, a dotted place such as
    ``track.rescuer.step.begin`` (an arrow by its id behind ``go.``), as ``check --json`` gives them."""
    noted = [
        (about, one_line(code))
        for about, code in ((finding.get("about"), finding.get("code")) for finding in findings)
        if isinstance(about, str) and isinstance(code, str)
    ]
    ids = arrow_ids(protocol)
    count = len(protocol.track)
    return tuple(
        _diagram(protocol, name, track, number, count, ids, noted)
        for number, (name, track) in enumerate(protocol.track.items(), start=1)
    )


def _diagram(
    protocol: Protocol,
    name: str,
    track: Track,
    number: int,
    count: int,
    ids: Mapping[int, str],
    noted: Noted,
) -> Diagram:
    nodes = [
        Node(
            step_name,
            one_line(step.title.get("en") or next(iter(step.title.values()), "")),
            start=step_name == track.start,
            end=not any(arrow.to and arrow.to != step_name for arrow, _ in arrows_from(track, step_name)),
            armed=step.armed,
            spine=step_name in track.spine,
            limit=duration_text(step.within) if step.within is not None else "",
            found=_at(noted, f"track.{name}.step.{step_name}", but="go."),
        )
        for step_name, step in track.step.items()
    ]
    edges: list[Edge] = []
    for step_name, step in track.step.items():
        edges += [
            _edge(protocol, arrow, step_name, f"track.{name}.step.{step_name}.go", ids, noted) for arrow in step.go
        ]
    edges += [_edge(protocol, arrow, ANY, f"track.{name}.go", ids, noted) for arrow in track.go]
    title = one_line(track.title.get("en") or next(iter(track.title.values()), ""))
    return Diagram(name, title, number, count, tuple(nodes), tuple(edges))


def _edge(
    protocol: Protocol,
    arrow: Arrow,
    source: str,
    place: str,
    ids: Mapping[int, str],
    noted: Noted,
) -> Edge:
    ident = ids[id(arrow)]
    timers = [event.removeprefix("timer:") for event in arrow.on if event.startswith("timer:")]
    return Edge(
        ident,
        source,
        arrow.to or source,
        tuple(label(event) if event in OBSERVATIONS else event for event in arrow.on),
        one_line(arrow.when),
        "fault" if arrow.fault is not None else "timer" if timers else "plain",
        not arrow.to,
        f"{arrow.fault.id} ({arrow.fault.severity})" if arrow.fault is not None else "",
        " / ".join(f"◷ {name} {_clock(protocol.timers[name])}" for name in timers if name in protocol.timers),
        _at(noted, f"{place}.{ident}"),
    )


def _at(noted: Noted, place: str, but: str = "-") -> tuple[str, ...]:
    """The codes of findings on a thing or on a member of it, except on members that begin with ``but``."""
    inside = f"{place}."
    return tuple(
        dict.fromkeys(
            code
            for about, code in noted
            if about == place or (about.startswith(inside) and not about.removeprefix(inside).startswith(but))
        )
    )


def _clock(timer: Timer) -> str:
    first = duration_text(timer.after) if timer.after is not None else ""
    every = f"every {duration_text(timer.every)}" if timer.every is not None else ""
    most = f"{timer.most}×" if timer.most is not None else ""
    return ", ".join(part for part in (first, every, most) if part)


# --- in a terminal ----------------------------------------------------------------------------------------------------

_LINES: dict[Kind, tuple[str, str]] = {"plain": ("─", "─▶"), "timer": ("╌", "╌▶"), "fault": ("═", "═▶")}


def as_text(found: Iterable[Diagram], width: int = WIDTH) -> str:
    """The picture for a terminal of ``width`` columns: each step with its arrows under it."""
    out: list[str] = []
    for diagram in found:
        name = f" {diagram.track}{f' · {diagram.title}' if diagram.title else ''} "
        place = f" {diagram.number} of {diagram.count} "
        name = _cut(name, width - len(place) - 4)
        out += ["", f"══{name}{'═' * (width - len(name) - len(place) - 4)}{place}══"]
        for node in diagram.nodes:
            out += _step_lines(node, width)
            out += _arrow_lines([edge for edge in diagram.edges if edge.source == node.id], width)
        anywhere = [edge for edge in diagram.edges if edge.source == ANY]
        if anywhere:
            out += ["", "∗ from any step"]
            out += _arrow_lines(anywhere, width)
    legend = "● start  ○ step  ◎ end  ─ arrow  ╌ timer ◷  ═ fault  ↺ stays  ↯ a shock can be given  <…> finding"
    return "\n".join([*out[1:], "", *textwrap.wrap(legend, width)])


def _step_lines(node: Node, width: int) -> list[str]:
    sign = "●" if node.start else "◎" if node.end else "○"
    marks = [
        "end" if node.end else "",
        "↯" if node.armed else "",
        f"late after {node.limit}" if node.limit else "",
        *(f"<{code}>" for code in node.found),
    ]
    tail = "  ".join(mark for mark in marks if mark)
    head = f"{sign} {node.id}{f' · {node.title}' if node.title else ''}"
    if len(head) + 2 + len(tail) <= width:
        return ["", f"{head}{' ' * (width - len(head) - len(tail))}{tail}".rstrip()]
    return ["", _cut(head, width), *(f"│   {line}" for line in _wrapped(tail, width - 4))]


def _arrow_lines(edges: list[Edge], width: int) -> list[str]:
    out: list[str] = []
    for place, edge in enumerate(edges):
        line, head = _LINES[edge.kind]
        last = place == len(edges) - 1
        target = f" {head} {edge.target}" if not edge.stays else " ↺"
        first, bar = ("└" if last else "├") + line + " ", (" " if last else "│") + "    "
        whole = first + edge.label + target
        if len(whole) <= width:
            out.append(whole)
            continue
        lines = _wrapped(edge.label, width - len(bar))
        out.append(first + lines[0])
        out += [bar + more for more in lines[1:]]
        if len(out[-1]) + len(target) <= width:
            out[-1] += target
        else:
            out.append(_cut(bar + target.lstrip(), width))
    return out


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"
