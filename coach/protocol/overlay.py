"""Local files over a base: from the differences that an author wrote to the protocol that is in force.

A local file pins its base by id, version and digest, and says only what differs, each thing by id. Everything that is
wrong is reported at its line in the local file, also where it shows in a part of the base.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, NamedTuple

from coach.protocol import reading
from coach.protocol.checks import check_protocol
from coach.protocol.flat_text import Comment, flat_text
from coach.protocol.laying import Laying
from coach.protocol.library import NotFound, find_protocol
from coach.protocol.model import Overlay, Protocol
from coach.protocol.positions import Path, Positions
from coach.protocol.problems import FileProblems, Problem
from coach.protocol.report import Report
from coach.protocol.shape import fit
from coach.protocol.tree import Node, origin, plain, planted

MAX_CHAIN = 4
"""The most files that may stand over one another, the base included."""


class Effective(NamedTuple):
    """The protocol in force: as a model, as a tree with its origins, as TOML, and what its author should know."""

    protocol: Protocol
    root: Node
    text: str
    notices: tuple[Problem, ...]


def effective(text: str, name: str, folder: FilePath | None = None) -> Effective:
    """What a protocol file brings into force, whether it stands alone or over a base.

    ``folder`` is searched for bases before the person's own files and the shipped ones. The text of a file that stands
    alone is returned as it is. Raises FileProblems.
    """
    return _effective(text, name, folder, ())


def effective_text(text: str, name: str, folder: FilePath | None = None) -> str:
    """The whole protocol in force as TOML: the flattened text of a local file, any other file's own text."""
    return effective(text, name, folder).text if is_overlay(text, name) else text


def is_overlay(text: str, name: str = "text") -> bool:
    """Whether a text is a local file over a base. Raises FileProblems where it is no TOML."""
    return "extends" in text and "extends" in reading.parsed(text, name)[0]


def flattened(text: str, name: str, folder: FilePath | None = None, more: Comment = lambda path: ()) -> str:
    """The protocol in force as TOML written anew, with ``more`` comments under the headings of tables."""
    found = effective(text, name, folder)
    return flat_text(found.root, _head(found.protocol), more)


def _effective(text: str, name: str, folder: FilePath | None, seen: tuple[str, ...]) -> Effective:
    data, positions = reading.parsed(text, name)
    if "extends" in data:
        return _laid(text, data, positions, name, folder, seen)
    report = Report(name, positions)
    for key in ("change", "add", "remove", "insert"):
        if key in data:
            report.at_key((key,), f"`{key}` needs a base to act on", todo="add [extends] with id, version and digest")
            data.pop(key)
    protocol = fit(Protocol, data, report)
    if protocol is not None:
        check_protocol(protocol, report)
    if report.problems or protocol is None:
        raise reading.refusal(report)
    return Effective(protocol, planted(data, protocol.id), text, ())


def _laid(
    text: str, data: dict[str, Any], positions: Positions, name: str, folder: FilePath | None, seen: tuple[str, ...]
) -> Effective:
    report, notices = Report(name, positions), Report(name, positions)
    _no_foreign_words(data, report)
    known = {key: value for key, value in data.items() if key in Overlay.model_fields}
    overlay = fit(Overlay, known, report)
    if report.problems or overlay is None:
        raise reading.refusal(report)
    base = _base(overlay, report, name, folder, (*seen, overlay.id))
    root = base.root
    pins = [{"id": base.protocol.id, "version": base.protocol.version, "digest": reading.digest(base.text).canonical}]
    laying = Laying(root, overlay, known, report, notices)
    laying.lay()
    if report.problems:
        raise reading.refusal(report)
    made = [*pins, *(pin.model_dump() for pin in base.protocol.made_from)]
    root.value["made_from"] = planted(made, overlay.id, ("extends",))
    _in_order(root)
    whole = _WholeReport(name, _Whole("", root=root, own=positions, layer=overlay.id), removed=laying.removed)
    protocol = fit(Protocol, plain(root), whole)
    if protocol is not None:
        check_protocol(protocol, whole)
    if whole.problems or protocol is None:
        raise reading.refusal(whole)
    flat = flat_text(root, [*_head(protocol), *_gone(overlay, laying.removed)])
    if len(flat.encode()) > reading.MAX_BYTES:
        raise FileProblems([Problem(name, *positions.key(("extends",)), "flattened, the file is too large to be read")])
    told = [
        Problem(each.file, each.line, each.column, each.what, each.nearest, each.todo, "notice")
        for each in notices.problems
    ]
    told += [
        Problem(name, *positions.key(("relax", "rule", ident)), f"the rule `{ident}` is relaxed", level="notice")
        for ident in overlay.relax.get("rule", {})
    ]
    return Effective(protocol, root, flat, (*told,))


def _no_foreign_words(data: dict[str, Any], report: Report) -> None:
    """Whatever only a whole protocol says at its top is a difference here, and stands under its deed."""
    for key in data:
        if key not in Overlay.model_fields and key in {
            info.alias or each for each, info in Protocol.model_fields.items()
        }:
            todo = "write it under change, add, remove, insert or relax.rule"
            report.at_key((key,), f"`{key}` belongs to the base of this file", todo=todo)
        elif key not in Overlay.model_fields:
            report.at_key((key,), f"unknown key `{key}`", todo=f"a local file has {', '.join(Overlay.model_fields)}")


def _base(overlay: Overlay, report: Report, name: str, folder: FilePath | None, seen: tuple[str, ...]) -> Effective:
    """The base, found and read, and exactly the one that the pin names. Raises FileProblems with the pin's line."""
    pin, place = overlay.extends, ("extends", "id")
    found: Effective | None = None
    if pin.id in seen:
        report.at_value(
            place, f"`{pin.id}` stands over itself: {' over '.join((*seen, pin.id))}", todo="break the ring"
        )
    elif len(seen) >= MAX_CHAIN:
        report.at_value(place, f"more than {MAX_CHAIN} files stand over one another", todo="join some of them")
    else:
        try:
            entry = find_protocol(pin.id, folder)
            if pin.id.endswith(".toml"):
                raise NotFound("a base is named by its id, such as erc-2025/adult-one-rescuer")
            found = _effective(reading.read_text(entry.path), str(entry.path), folder, seen)
        except NotFound as error:
            report.at_value(place, str(error).rstrip("."), todo="name a protocol that is at hand")
        except FileProblems as error:
            what = f"the base cannot be used, it has {len(error.problems)} mistakes; the first: {error.problems[0]}"
            report.at_value(place, what.rstrip("."), todo=f"mend it first, kneeside read {entry.path} shows all")
    if found is not None:
        _pinned(overlay, found, report)
    if report.problems or found is None:
        raise reading.refusal(report)
    return found


def _pinned(overlay: Overlay, base: Effective, report: Report) -> None:
    pin, digest = overlay.extends, reading.digest(base.text).canonical
    if base.protocol.id != pin.id:
        what = f"the file found for `{pin.id}` calls itself `{base.protocol.id}`"
        report.at_value(("extends", "id"), what, base.protocol.id, "name the base by its own id")
    if base.protocol.version != pin.version:
        what = f"the base is version {base.protocol.version} now, this file was written over {pin.version}"
        todo = f"read what changed (kneeside compare), then write version and digest anew: {digest}"
        report.at_value(("extends", "version"), what, todo=todo)
    elif not pin.digest:
        report.at_key(("extends",), "the digest of the base is missing", todo=f'add digest = "{digest}"')
    elif pin.digest != digest:
        what = f"the base bears version {pin.version} still, but its content is not what this file was written over"
        todo = f"read what changed (kneeside compare), then write the digest anew: {digest}"
        report.at_value(("extends", "digest"), what, todo=todo)


def _in_order(root: Node) -> None:
    """The tables in the order of the model, so that a file is laid out as people know it."""
    known = [info.alias or name for name, info in Protocol.model_fields.items()]
    order = {key: number for number, key in enumerate(known)}
    root.value = dict(sorted(root.value.items(), key=lambda item: order.get(item[0], len(order))))


def _head(protocol: Protocol) -> list[str]:
    lines = [f"{protocol.id}, version {protocol.version}: the whole protocol in force."]
    lines += [f"made from {pin.id}, version {pin.version} ({pin.digest[:12]})" for pin in protocol.made_from]
    lines += [f"RELAXED RULE {ident}: {relax.reason}" for ident, relax in protocol.relaxed.items()]
    return lines


def _gone(overlay: Overlay, removed: Iterable[tuple[str, str, Path]]) -> list[str]:
    return [
        f"{overlay.id}: removed the {kind} {name}: {overlay.remove[int(path[1])].reason}"
        for kind, name, path in removed
    ]


# --- problems of the whole, at the local file's lines -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Whole(Positions):
    """Places in a local file of what stands in the flattened whole; what is the base's stands at ``extends``."""

    root: Node = field(default_factory=lambda: Node({}, "", ()))
    own: Positions = field(default_factory=lambda: Positions(""))
    layer: str = ""

    def _mine(self, path: Path) -> Path | None:
        layer, place = origin(self.root, path)
        return place if layer == self.layer else None

    def key(self, path: Path) -> tuple[int, int]:
        mine = self._mine(path)
        return self.own.key(("extends",) if mine is None else mine)

    def value(self, path: Path) -> tuple[int, int]:
        mine = self._mine(path)
        return self.own.key(("extends",)) if mine is None else self.own.value(mine)

    def inside(self, path: Path, offset: int) -> tuple[int, int]:
        mine = self._mine(path)
        return self.own.key(("extends",)) if mine is None else self.own.inside(mine, offset)


@dataclass(slots=True)
class _WholeReport(Report):
    """Problems of the flattened whole. One that shows in the base is the local file's doing: it is placed at the
    removal that took the missing thing away, else at ``extends``, and says where in the base it shows."""

    removed: list[tuple[str, str, Path]] = field(default_factory=list)

    def _add(self, path: Path, place: tuple[int, int], what: str, near: str | None, todo: str) -> None:
        whole = self.positions
        assert isinstance(whole, _Whole)
        layer, there = origin(whole.root, path)
        if layer != whole.layer:
            for _, name, removal in self.removed:
                if f"`{name}`" in what:
                    place = whole.own.key(removal)
            what = f"{what} (in {layer}, {'.'.join(str(part) for part in there) or 'its head'})"
        Report._add(self, path, place, what, near, todo)
