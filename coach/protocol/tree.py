"""The tables of a file with where each value came from: what an overlay is laid upon."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from coach.protocol.positions import Path


@dataclass(slots=True, eq=False)
class Node:
    """One value: a dict or a list of nodes, or a plain value (text, number, a list of names).

    ``layer`` is the id of the file that it stands in, ``path`` where there; ``note`` says what that file did to it.
    """

    value: Any
    layer: str
    path: Path
    note: str = ""

    @property
    def is_table(self) -> bool:
        """Whether this is a table, whose values are nodes."""
        return isinstance(self.value, dict)

    @property
    def is_rows(self) -> bool:
        """Whether this is a list of tables, each a node."""
        return isinstance(self.value, list) and bool(self.value) and isinstance(self.value[0], Node)


def planted(data: Any, layer: str, path: Path = (), note: str = "") -> Node:
    """A value of a file as nodes. A list is split into nodes where it holds tables only."""
    if isinstance(data, dict):
        return Node({key: planted(item, layer, (*path, key)) for key, item in data.items()}, layer, path, note)
    if isinstance(data, list) and data and all(isinstance(item, dict) for item in data):
        return Node([planted(item, layer, (*path, index)) for index, item in enumerate(data)], layer, path, note)
    return Node(data, layer, path, note)


def copied(node: Node) -> Node:
    """The same tree anew, for something to be laid upon while this one stays as it is."""
    value = node.value
    if isinstance(value, dict):
        value = {key: copied(item) for key, item in value.items()}
    elif isinstance(value, list):
        value = [copied(item) if isinstance(item, Node) else item for item in value]
    return Node(value, node.layer, node.path, node.note)


def plain(node: Node) -> Any:
    """The value without its origins."""
    if node.is_table:
        return {key: plain(item) for key, item in node.value.items()}
    return [plain(item) for item in node.value] if node.is_rows else node.value


def at(root: Node, path: Path) -> Node | None:
    """What stands at ``path`` in the whole, None for nothing and for what is inside a plain value."""
    node: Node | None = root
    for part in path:
        node = _inside(node, part) if node is not None else None
    return node


def origin(root: Node, path: Path) -> tuple[str, Path]:
    """The file, and the place in it, of what stands at ``path`` in the whole."""
    node = root
    for number, part in enumerate(path):
        inside = _inside(node, part)
        if inside is None:
            return node.layer, (*node.path, *path[number:])
        node = inside
    return node.layer, node.path


def _inside(node: Node, part: str | int) -> Node | None:
    if node.is_table:
        found = node.value.get(part)
    elif node.is_rows and isinstance(part, int) and part < len(node.value):
        found = node.value[part]
    else:
        return None
    return found if isinstance(found, Node) else None


@dataclass(frozen=True, slots=True)
class ArrowAt:
    """An arrow in the tree: the list that holds it and its place there, its id, and whether that id is its alone.

    ``step`` is "" for an arrow of a track's own list.
    """

    rows: list[Node]
    place: int
    track: str
    step: str
    id: str
    own_id: bool

    @property
    def node(self) -> Node:
        """The arrow's table."""
        return self.rows[self.place]

    def word(self, key: str) -> str:
        """A member of the arrow that is text, "" for none."""
        found = self.node.value.get(key)
        return found.value if found is not None and isinstance(found.value, str) else ""

    @property
    def on(self) -> list[str]:
        """The events that the arrow waits for."""
        found = self.node.value.get("on")
        value = found.value if found is not None else []
        return [value] if isinstance(value, str) else [event for event in value if isinstance(event, str)]


def arrows_in(root: Node) -> Iterator[ArrowAt]:
    """Every arrow, in the order of :func:`coach.protocol.names.arrows`; an arrow without an id bears ``step.on``."""
    tracks = root.value.get("track")
    if tracks is None or not tracks.is_table:
        return
    for track_name, track in tracks.value.items():
        if not track.is_table:
            continue
        steps = track.value.get("step")
        holders = [(name, step) for name, step in steps.value.items()] if steps is not None and steps.is_table else []
        for step_name, holder in [*holders, ("", track)]:
            go = holder.value.get("go") if holder.is_table else None
            if go is None or not go.is_rows:
                continue
            for place in range(len(go.value)):
                arrow = ArrowAt(go.value, place, track_name, step_name, "", False)
                ident = arrow.word("id")
                first = arrow.on[0] if arrow.on else "never"
                yield ArrowAt(
                    go.value, place, track_name, step_name, ident or f"{step_name or track_name}.{first}", bool(ident)
                )
