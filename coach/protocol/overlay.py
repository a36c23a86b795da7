"""Local files over a base: from the differences that an author wrote to the protocol that is in force.

A local file pins its base by id, version and digest, and says only what differs, each thing by id. Differences that
several files share stand in a part, a file of its own that is pinned alike and laid on before the file that names it.
Everything that is wrong is reported at its line in the local file, also where it shows in the base.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, Literal, NamedTuple

from coach.protocol import reading
from coach.protocol.checks import check_protocol
from coach.protocol.flat_text import Comment, flat_text
from coach.protocol.laying import Laying
from coach.protocol.library import NotFound, find_part, find_protocol
from coach.protocol.local_model import Overlay, Part
from coach.protocol.model import Pin, Protocol, Relax
from coach.protocol.positions import Path, Positions
from coach.protocol.problems import FileProblems, Problem
from coach.protocol.relaxing import relaxed_words, tightened
from coach.protocol.report import Report
from coach.protocol.shape import fit
from coach.protocol.tree import Node, copied, origin, plain, planted
from coach.text import one_line

MAX_CHAIN = 8
"""The most files that may stand over one another, the base included: the longest chain that ships has five."""


class _Under(NamedTuple):
    """A file that another one stands over: a base or a part, the path at which its id was found, and its text."""

    kind: Literal["base", "part"]
    id: str
    path: FilePath
    text: str


class Effective(NamedTuple):
    """The protocol in force: as a model, as a tree with its origins, as TOML, and what its author should know.

    ``relaxed`` says what it, or a part that it takes, judges less strictly than its base; ``under`` are the files that
    it stands over. What is read as a base only has no text."""

    protocol: Protocol
    root: Node
    text: str
    notices: tuple[Problem, ...]
    under: tuple[_Under, ...] = ()
    relaxed: tuple[Problem, ...] = ()

    @property
    def digest(self) -> str:
        """The canonical digest of its text, which a file that stands over it pins."""
        return reading.canonical(plain(self.root))


class Trial(NamedTuple):
    """A part's text that is taken instead of the part of that id that would be found, whatever a pin says of it. What
    is wrong, and what is told, is then that part's: at its own lines under ``name``."""

    id: str
    text: str
    name: str


class _PartFile(NamedTuple):
    """A part as read, with its own problems apart, and where the local file names it."""

    part: Part
    data: dict[str, Any]
    report: Report
    pin: Pin
    named: Path
    under: _Under


_BASES: dict[tuple[FilePath, FilePath | None], tuple[str, Effective]] = {}
"""Bases as they were last read, each with its text: the files that ship share one, and it is long."""


def effective(text: str, name: str, folder: FilePath | None = None, trial: Trial | None = None) -> Effective:
    """What a protocol file brings into force, whether it stands alone or over a base.

    ``folder`` is searched for bases before the person's own files and the shipped ones. The text of a file that stands
    alone is returned as it is. With ``trial`` a local file is read as it would be with that part. Raises FileProblems.
    """
    return _effective(text, name, folder, (), trial)


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


def _effective(
    text: str, name: str, folder: FilePath | None, seen: tuple[str, ...], trial: Trial | None = None
) -> Effective:
    data, positions = reading.parsed(text, name)
    if "extends" in data:
        return _laid(data, positions, name, folder, seen, trial)
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
    data: dict[str, Any],
    positions: Positions,
    name: str,
    folder: FilePath | None,
    seen: tuple[str, ...],
    trial: Trial | None,
) -> Effective:
    report, notices = Report(name, positions), Report(name, positions)
    _no_foreign_words(data, Overlay, "a local file", report)
    known = {key: value for key, value in data.items() if key in _words(Overlay)}
    overlay = fit(Overlay, known, report)
    if report.problems or overlay is None:
        raise reading.refusal(report)
    base = _base(overlay, report, name, folder, (*seen, overlay.id))
    parts = [_part(pin, ("with", index), report, folder, trial) for index, pin in enumerate(overlay.with_)]
    if report.problems:
        raise reading.refusal(report)
    own = Pin(id=base.protocol.id, version=base.protocol.version, digest=base.digest)
    root, removed, gone = base.root, [], []
    relaxed: list[Problem] = []
    tried: Laying | None = None
    for part in parts:
        if part is not None:
            laid = _lay_part(root, part, report, trial)
            lines = laid.removed
            if trial is not None and part.part.id == trial.id:
                tried = laid
            relaxed += [
                Problem(name, *positions.key(part.named), f"{what} (in {part.part.id})", level="notice")
                for _, what in laid.relaxed
            ]
            removed += [(kind, ident, part.named) for kind, ident, _ in lines]
            gone += _gone(part.part, lines)
    laying = Laying(root, overlay, known, report, notices)
    if not report.problems:
        laying.lay()
    if report.problems:
        raise reading.refusal(report)
    made = [own, *(part.pin for part in parts if part is not None), *base.protocol.made_from]
    root.value["made_from"] = planted([pin.model_dump() for pin in made], overlay.id, ("extends",))
    _in_order(root)
    places = {part.part.id: part.named for part in parts if part is not None}
    removed += laying.removed
    whole = _WholeReport(name, _Whole("", root=root, own=positions, layer=overlay.id, parts=places), removed=removed)
    if tried is not None:
        there = _Whole("", root=root, own=tried.report.positions, layer=tried.layer)
        whole = _WholeReport(tried.report.file, there, removed=tried.removed)
    protocol = fit(Protocol, plain(root), whole)
    if protocol is not None:
        check_protocol(protocol, whole)
    if whole.problems or protocol is None:
        raise reading.refusal(whole)
    # Nobody reads the text of a base that a local file stands over.
    flat = "" if seen else flat_text(root, [*_head(protocol), *gone, *_gone(overlay, laying.removed)])
    if len(flat.encode()) > reading.MAX_BYTES:
        raise FileProblems([Problem(name, *positions.key(("extends",)), "flattened, the file is too large to be read")])
    told = [
        Problem(each.file, each.line, each.column, each.what, each.nearest, each.todo, "notice")
        for each in notices.problems
    ]
    told += [
        Problem(
            name, *positions.key(("relax", "rule", ident)), _relaxed(ident, protocol.relaxed[ident]), level="notice"
        )
        for ident in overlay.relax.get("rule", {})
    ]
    relaxed += [Problem(name, *positions.key(here), what, level="notice") for here, what in laying.relaxed]
    if tried is not None:
        file, places_there = tried.report.file, tried.report.positions
        relaxed = [Problem(file, *places_there.key(here), what, level="notice") for here, what in tried.relaxed]
        told = []
    under = (*base.under, *(part.under for part in parts if part is not None))
    return Effective(protocol, root, flat, (*told,), under, (*relaxed,))


def _relaxed(ident: str, relax: Relax) -> str:
    how = "tightened" if tightened(relax) else "relaxed"
    return f"the rule `{ident}` is {how}: {one_line(relaxed_words(relax))}; reason: {one_line(relax.reason)}"


def _words(model: type[Part | Protocol]) -> list[str]:
    """The words that may stand at the top of such a file."""
    return [info.alias or name for name, info in model.model_fields.items()]


def _no_foreign_words(data: dict[str, Any], model: type[Part], what: str, report: Report) -> None:
    """Whatever only a whole protocol says at its top is a difference here, and stands under its deed."""
    for key in data:
        if key not in _words(model) and key in (*_words(Protocol), *_words(Overlay)):
            holder = "the base of this file" if model is Overlay else "the files that take this part"
            todo = "write it under change, add, remove, insert or relax.rule"
            report.at_key((key,), f"`{key}` belongs to {holder}", todo=todo)
        elif key not in _words(model):
            report.at_key((key,), f"unknown key `{key}`", todo=f"{what} has {', '.join(_words(model))}")
    rows = data.get("remove")
    for index, row in enumerate(rows if isinstance(rows, list) else ()):
        if isinstance(row, dict) and "rule" in row:
            ident = str(row["rule"])[:64]
            todo = f'write [relax.rule.{ident}] with reason = "…"; without `to` the rule is dropped'
            report.at_key(("remove", index, "rule"), f"the rule `{ident}` is not removed but relaxed", todo=todo)
            report.mended.add(("remove", index, "rule"))


def read_part(text: str, name: str) -> Part:
    """A part by itself: whether it has the form of one. Whether it fits shows in the files that take it.

    Raises FileProblems.
    """
    part, _, report = _part_form(text, name)
    if report.problems or part is None:
        raise reading.refusal(report)
    return part


def _part_form(text: str, name: str) -> tuple[Part | None, dict[str, Any], Report]:
    data, positions = reading.parsed(text, name)
    report = Report(name, positions)
    _no_foreign_words(data, Part, "a part", report)
    known = {key: value for key, value in data.items() if key in _words(Part)}
    part = fit(Part, known, report)
    if part is not None and not part.id.startswith("parts/"):
        report.at_value(("id",), f"the id of a part begins with parts/, this one is `{part.id[:64]}`")
    return part, known, report


def _part(pin: Pin, named: Path, report: Report, folder: FilePath | None, trial: Trial | None) -> _PartFile | None:
    """The part that a pin names, exactly that one; None where it cannot be used, and the pin's line says why."""
    if trial is not None and pin.id == trial.id:
        part, data, own = _part_form(trial.text, trial.name)
        if own.problems or part is None:
            raise reading.refusal(own)
        return _PartFile(part, data, own, pin, named, _Under("part", pin.id, FilePath(trial.name), trial.text))
    try:
        entry = find_part(pin.id, folder)
        text = reading.read_text(entry.path)
        part, data, own = _part_form(text, str(entry.path))
        if own.problems or part is None:
            raise reading.refusal(own)
    except NotFound as error:
        report.at_value((*named, "id"), str(error).rstrip("."), todo="name a part that is at hand")
        return None
    except FileProblems as error:
        report.at_value((*named, "id"), f"the part cannot be used: {error.problems[0]}".rstrip("."), todo="mend it")
        return None
    _pinned(pin, named, "part", part.id, part.version, reading.canonical(data), report)
    return _PartFile(part, data, own, pin, named, _Under("part", pin.id, entry.path, text))


def _lay_part(root: Node, file: _PartFile, report: Report, trial: Trial | None) -> Laying:
    """Lay a part on; where it does not fit, the line that names it says so, or its own where it is on trial."""
    laying = Laying(root, file.part, file.data, file.report, Report(file.report.file, file.report.positions))
    laying.lay()
    if trial is not None and file.part.id == trial.id and file.report.problems:
        raise reading.refusal(file.report)
    for problem in file.report.problems:
        report.at_value((*file.named, "id"), f"the part does not fit here: {problem}".rstrip("."))
    return laying


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
            text = reading.read_text(entry.path)
            found = _kept(entry.path, text, folder, seen)
            if found is None:
                found = _effective(text, str(entry.path), folder, seen)
                found = found._replace(under=(*found.under, _Under("base", pin.id, entry.path, text)))
                _BASES[entry.path, folder] = text, found._replace(root=copied(found.root))
        except NotFound as error:
            report.at_value(place, str(error).rstrip("."), todo="name a protocol that is at hand")
        except FileProblems as error:
            what = f"the base cannot be used, it has {len(error.problems)} mistakes; the first: {error.problems[0]}"
            report.at_value(place, what.rstrip("."), todo=f"mend it first, kneeside read {entry.path} shows all")
    if found is not None:
        protocol = found.protocol
        _pinned(pin, ("extends",), "base", protocol.id, protocol.version, found.digest, report)
    if report.problems or found is None:
        raise reading.refusal(report)
    return found


def _kept(path: FilePath, text: str, folder: FilePath | None, seen: tuple[str, ...]) -> Effective | None:
    """A base as it was read before, if it and every file under it are found as they were then, and if it may stand
    under the files of ``seen``."""
    read, found = _BASES.get((path, folder), ("", None))
    if found is None or read != text:
        return None
    bases = [one.id for one in found.under if one.kind == "base"]
    if len(seen) + len(bases) > MAX_CHAIN or set(bases) & set(seen):
        return None
    try:
        for one in found.under:
            entry = find_protocol(one.id, folder) if one.kind == "base" else find_part(one.id, folder)
            if entry.path != one.path or reading.read_text(entry.path) != one.text:
                return None
    except (NotFound, FileProblems):
        return None
    return found._replace(root=copied(found.root))


def _pinned(pin: Pin, named: Path, kind: str, ident: str, version: str, digest: str, report: Report) -> None:
    """Say so where the base or part that was found is not exactly the one that is pinned."""
    # only then: a file whose pin does not fit is not read, so nothing can compare it
    afterwards = f"then see what that changes against what was approved here: kneeside compare {report.file}"
    if ident != pin.id:
        what = f"the file found for `{pin.id}` calls itself `{ident}`"
        report.at_value((*named, "id"), what, ident, f"name the {kind} by its own id")
    if version != pin.version:
        what = f"the {kind} is version {version} now, this file was written over {pin.version}"
        todo = f"write version and digest anew: {digest}; {afterwards}"
        report.at_value((*named, "version"), what, todo=todo)
    elif not pin.digest:
        report.at_key(named, f"the digest of the {kind} is missing", todo=f'add digest = "{digest}"')
    elif pin.digest != digest:
        what = f"the {kind} bears version {pin.version} still, but its content is not what this file was written over"
        todo = f"write the digest anew: {digest}; {afterwards}"
        report.at_value((*named, "digest"), what, todo=todo)


def _in_order(root: Node) -> None:
    """The tables in the order of the model, so that a file is laid out as people know it."""
    known = [info.alias or name for name, info in Protocol.model_fields.items()]
    order = {key: number for number, key in enumerate(known)}
    root.value = dict(sorted(root.value.items(), key=lambda item: order.get(item[0], len(order))))


def _head(protocol: Protocol) -> list[str]:
    lines = [f"{protocol.id}, version {protocol.version}: the whole protocol in force."]
    lines += [f"made from {pin.id}, version {pin.version} ({pin.digest[:12]})" for pin in protocol.made_from]
    for ident, relax in protocol.relaxed.items():
        lines.append(f"{'TIGHTENED' if tightened(relax) else 'RELAXED'} RULE {ident}: {relax.reason}")
    return lines


def _gone(overlay: Part, removed: Iterable[tuple[str, str, Path]]) -> list[str]:
    return [
        f"{overlay.id}: removed the {kind} {name}: {overlay.remove[int(path[1])].reason}"
        for kind, name, path in removed
    ]


# --- problems of the whole, at the local file's lines -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Whole(Positions):
    """Places in a local file of what stands in the flattened whole: what is a part's stands where the part is named,
    what is the base's at ``extends``."""

    root: Node = field(default_factory=lambda: Node({}, "", ()))
    own: Positions = field(default_factory=lambda: Positions(""))
    layer: str = ""
    parts: dict[str, Path] = field(default_factory=dict)

    def _mine(self, path: Path) -> tuple[bool, Path]:
        """Whether the thing is this file's own, and its place in it, or else the place that brings it in."""
        layer, place = origin(self.root, path)
        return (True, place) if layer == self.layer else (False, self.parts.get(layer, ("extends",)))

    def key(self, path: Path) -> tuple[int, int]:
        return self.own.key(self._mine(path)[1])

    def value(self, path: Path) -> tuple[int, int]:
        mine, place = self._mine(path)
        return self.own.value(place) if mine else self.own.key(place)

    def inside(self, path: Path, offset: int) -> tuple[int, int]:
        mine, place = self._mine(path)
        return self.own.inside(place, offset) if mine else self.own.key(place)


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
